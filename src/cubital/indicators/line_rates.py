"""
Rates, ratios and times in a report, with what changed and how sure that is.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from cubital.indicators.ask import Quantiles, Sum
from cubital.indicators.control import RATE, chart
from cubital.indicators.intervals import Interval, attempts_interval, newcombe, ratio_interval
from cubital.indicators.lines import LESS, MORE, Setting, direction, signal_words
from cubital.indicators.report_values import Described, RateLine, SiteValue, TimeLine
from cubital.indicators.say import number, some


def rate_line(
    what: Described,
    series: Sequence[tuple[int, int, int]],
    now: Sum | None,
    before: Sum | None,
    sites: Mapping[str, Sum],
    setting: Setting,
) -> RateLine:
    """The line of attempts per success: a u′ chart, and an interval by that of its inverse."""
    here, there = _interval(now, setting), _interval(before, setting)
    drawn = chart(series, RATE, setting.policy, setting.recent)
    marks, told = setting.told(drawn)
    changed = None
    if now and before and min(now.bottom, before.bottom) >= setting.few:
        # successes per attempt are a share; attempts per success go the other way
        gap = newcombe(now.bottom, now.top, before.bottom, before.top, setting.z)
        changed = {MORE: LESS, LESS: MORE}.get(direction(gap) or "")
    sentences = [_rate_figure(what, now, here, setting), *_rate_change(before, there, changed)]
    sentences += [signal_words(one) for one in told]
    if drawn.why and now and now.bottom:
        sentences.append(f"Chart: {drawn.why}")
    return RateLine(
        what=what,
        top=now.top if now else 0,
        bottom=now.bottom if now else 0,
        value=value_of(now),
        interval=here,
        before=value_of(before),
        changed=changed,
        chart=drawn,
        marks=marks,
        signals=told,
        sites=_site_values(sites, setting, _interval),
        sentences=tuple(sentences),
    )


def ratio_line(
    what: Described,
    now: Sum | None,
    before: Sum | None,
    sites: Mapping[str, Sum],
    setting: Setting,
) -> RateLine:
    """The line of blood drawn against blood needed."""
    here, there = _ratio(now, setting), _ratio(before, setting)
    changed = None
    if here and there and now and before and min(now.rows, before.rows) >= setting.few:
        changed = _apart(here, there)
    if now is None or now.bottom == 0:
        figure = f"Nothing to count: no {what.denominator} on record this month."
    else:
        figure = (
            f"{number(round(now.top / 1000))} mL drawn, {number(round(now.bottom / 1000, 1))} mL"
            f" needed in {some(now.rows, 'draw')}: {number(now.top / now.bottom)} times"
            f"{_span(here, setting)}."
        )
    return RateLine(
        what=what,
        top=now.top if now else 0,
        bottom=now.bottom if now else 0,
        value=value_of(now),
        interval=here,
        before=value_of(before),
        changed=changed,
        chart=None,
        marks=frozenset(),
        signals=(),
        sites=_site_values(sites, setting, _ratio),
        sentences=(figure, *_rate_change(before, there, changed)),
    )


def value_of(each: Sum | None) -> float | None:
    """Top over bottom, None where there is nothing below."""
    return each.top / each.bottom if each is not None and each.bottom else None


def _interval(each: Sum | None, setting: Setting) -> Interval | None:
    return attempts_interval(each.top, each.bottom, setting.z) if each else None


def _ratio(each: Sum | None, setting: Setting) -> Interval | None:
    if each is None:
        return None
    return ratio_interval(each.top, each.bottom, each.rows, each.squares, setting.z)


def _site_values(
    sites: Mapping[str, Sum],
    setting: Setting,
    how: Callable[[Sum | None, Setting], Interval | None],
) -> tuple[SiteValue, ...]:
    found = []
    for code, name in setting.names.items():
        each = sites.get(code)
        top, bottom = (each.top, each.bottom) if each else (0, 0)
        found.append(SiteValue(code, name, top, bottom, value_of(each), how(each, setting)))
    return tuple(found)


def _span(interval: Interval | None, setting: Setting) -> str:
    if interval is None:
        return ""
    return f" ({setting.confidence} {number(interval.low)} to {number(interval.high)})"


def _rate_figure(
    what: Described, now: Sum | None, interval: Interval | None, setting: Setting
) -> str:
    if now is None or now.rows == 0:
        return "Nothing to count: no needle is on record this month."
    used = f"{some(now.top, 'needle')} for {some(now.bottom, 'draw')} with blood"
    if now.bottom == 0:
        return f"{used}: no rate."
    return f"{used}: {number(now.top / now.bottom)} a draw{_span(interval, setting)}."


def _rate_change(
    before: Sum | None, interval: Interval | None, changed: str | None
) -> tuple[str, ...]:
    was = value_of(before)
    if was is None:
        return ("The month before has nothing to compare with.",)
    sure = "a change that chance alone would seldom make" if changed else "no more than chance"
    if interval is None:
        return (f"The month before: {number(was)}.",)
    return (f"The month before: {number(was)}; {sure}.",)


def _apart(here: Interval, there: Interval) -> str | None:
    """More or less where two intervals have nothing in common."""
    if here.low > there.high:
        return MORE
    return LESS if here.high < there.low else None


# ------------------------------------------------------------------ times


def time_line(
    what: Described,
    series: Sequence[tuple[int, Quantiles]],
    now: Quantiles,
    before: Quantiles,
    sites: Mapping[str, Quantiles],
    setting: Setting,
) -> TimeLine:
    """The line of a time."""
    changed = None
    here, there = _median(now), _median(before)
    if here and there and min(now.count, before.count) >= setting.few:
        changed = _apart(here, there)
    return TimeLine(
        what=what,
        now=now,
        before=before,
        changed=changed,
        series=tuple(series),
        sites=tuple(
            (code, name, sites[code]) for code, name in setting.names.items() if code in sites
        ),
        sentences=tuple(_time_words(what, now, before, changed, setting)),
    )


def _median(each: Quantiles) -> Interval | None:
    if each.low is None or each.high is None:
        return None
    return Interval(each.low, each.high)


def _time_words(
    what: Described, now: Quantiles, before: Quantiles, changed: str | None, setting: Setting
) -> list[str]:
    if now.median is None or now.p90 is None:
        found = ["No such time is on record this month."]
    else:
        span = _median(now)
        sure = f" ({setting.confidence} {number(span.low)} to {number(span.high)})" if span else ""
        found = [
            (
                f"Median {now.median:,} {what.unit}{sure}, nine of ten within {now.p90:,}"
                f" {what.unit}; {some(now.count, 'time')}."
            )
        ]
        if before.median is not None:
            also = "the intervals have nothing in common" if changed else "no more than chance"
            found.append(f"The month before: median {before.median:,} {what.unit}; {also}.")
    if now.backwards:
        found.append(
            f"{some(now.backwards, 'time')} run backwards: a clock was wrong or set back. They are"
            " left out here and counted everywhere else."
        )
    if now.too_long:
        found.append(
            f"{some(now.too_long, 'time')} longer than"
            f" {setting.catalogue.number('indicator_longest_h'):,} h: taken for typing errors and"
            " left out here."
        )
    return found
