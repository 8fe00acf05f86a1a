"""
Shares in a report: each with its interval, what changed, and the sentences that say so.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from cubital.catalogue import Catalogue
from cubital.catalogue.model_quality import RunRule
from cubital.indicators.control import SHARE, Chart, Policy, chart
from cubital.indicators.funnel import BEYOND, FEW, INSIDE, OUTER, Funnel, FunnelPolicy, funnel
from cubital.indicators.intervals import Interval, least_sigma, newcombe, sigma, wilson, z_of
from cubital.indicators.levels import beside
from cubital.indicators.report_values import Described, ShareLine, SiteShare
from cubital.indicators.runs import Signal, rules_of, signals
from cubital.indicators.say import joined, percent, percent_range, points, some

MORE, LESS = "more", "less"
Pairs = Mapping[str, tuple[int, int]]
"""Place -> bad and of."""


@dataclass(frozen=True, slots=True)
class Setting:
    """
    What every line needs.

    Args:
        names: of the places, by code, in the order in which they are shown.
        recent: periods of the month: judged by the limits of those before, and told.
    """

    catalogue: Catalogue
    z: float
    shift: float
    few: int
    confidence: str
    policy: Policy
    funnels: FunnelPolicy
    rules: tuple[RunRule, ...]
    names: Mapping[str, str]
    recent: frozenset[int]

    @classmethod
    def of(
        cls,
        catalogue: Catalogue,
        names: Mapping[str, str],
        recent: frozenset[int],
        choices: Mapping[str, str],
    ) -> Setting:
        """Look it up."""
        return cls(
            catalogue=catalogue,
            z=z_of(catalogue),
            shift=catalogue.decimal("indicator_sigma_shift"),
            few=catalogue.number("indicator_few"),
            confidence=f"{catalogue.decimal('indicator_confidence_percent'):g} % interval",
            policy=Policy.of(catalogue),
            funnels=FunnelPolicy.of(catalogue),
            rules=rules_of(catalogue, choices),
            names=names,
            recent=recent,
        )

    def told(self, drawn: Chart) -> tuple[frozenset[int], tuple[Signal, ...]]:
        """The periods of a chart at which a rule is met, and the signals of the month."""
        found = signals(drawn, self.rules)
        marks = frozenset(one.period for one in found)
        return marks, tuple(one for one in found if one.period in self.recent)


# ------------------------------------------------------------------ shares


def share_line(
    what: Described,
    series: Sequence[tuple[int, int, int]],
    now: tuple[int, int],
    before: tuple[int, int],
    sites: Pairs,
    setting: Setting,
) -> ShareLine:
    """The line of a share."""
    bad, of = now
    few = of < setting.few
    interval = wilson(bad, of, setting.z)
    share = bad / of if of else None
    difference = newcombe(bad, of, *before, setting.z)
    enough = not few and before[1] >= setting.few
    changed = direction(difference) if enough else None
    drawn = chart(series, SHARE, setting.policy, setting.recent)
    marks, told = setting.told(drawn)
    levels = beside(what.code, None if few else share, interval, setting.catalogue)
    value = None if few else sigma(bad, of, setting.shift)
    between = _between(sites, setting)
    line = ShareLine(
        what=what,
        bad=bad,
        of=of,
        share=share,
        interval=interval,
        few=few,
        sigma=value,
        sigma_words=_sigma_words(value, bad, of, setting, few=few),
        before=before,
        difference=difference,
        changed=changed,
        beside=levels,
        chart=drawn,
        marks=marks,
        signals=told,
        funnel=between,
        sites=_site_shares(sites, between, setting),
        sentences=(),
    )
    return _with_sentences(line, setting)


def direction(interval: Interval, middle: float = 0.0) -> str | None:
    """More or less where the interval of a difference or ratio leaves out its middle."""
    if interval.low > middle:
        return MORE
    return LESS if interval.high < middle else None


def _sigma_words(value: float | None, bad: int, of: int, setting: Setting, *, few: bool) -> str:
    if few:
        return "no sigma of so few"
    if value is not None:
        return f"sigma {value:.2f}"
    least = least_sigma(bad, of, setting.z, setting.shift) if bad == 0 else None
    return "no sigma" if least is None else f"sigma at least {least:.2f}"


def _between(sites: Pairs, setting: Setting) -> Funnel | None:
    places = [(code, *sites.get(code, (0, 0))) for code in setting.names]
    with_some = [place for place in places if place[2]]
    return funnel(with_some, setting.funnels) if len(with_some) > 1 else None


def _site_shares(sites: Pairs, between: Funnel | None, setting: Setting) -> tuple[SiteShare, ...]:
    zones = {place.code: place.zone for place in between.places} if between else {}
    found = []
    for code, name in setting.names.items():
        bad, of = sites.get(code, (0, 0))
        found.append(
            SiteShare(
                code=code,
                name=name,
                bad=bad,
                of=of,
                share=bad / of if of else None,
                interval=wilson(bad, of, setting.z),
                few=of < setting.few,
                zone=zones.get(code, INSIDE if of >= setting.few else FEW),
            )
        )
    return tuple(found)


def _with_sentences(line: ShareLine, setting: Setting) -> ShareLine:
    sentences = [_figure(line, setting)]
    if not line.few:
        sentences.append(_change(line, setting))
    sentences += [signal_words(one) for one in line.signals]
    if line.chart.why and line.of:
        sentences.append(f"Chart: {line.chart.why}")
    if line.chart.provisional:
        sentences.append(_provisional(line.chart, setting))
    sentences += [one.sentence for one in line.beside] if line.of else []
    sentences += _site_words(line, setting)
    return replace(line, sentences=tuple(sentences))


def _figure(line: ShareLine, setting: Setting) -> str:
    if line.of == 0:
        return f"Nothing to count: no {line.what.denominator} this month."
    counted = (
        f"{line.what.numerator[0].upper()}{line.what.numerator[1:]}: {line.bad:,} of "
        f"{line.of:,} {line.what.denominator}"
    )
    if line.few:
        return f"{counted}; too few for a share."
    assert line.share is not None
    return (
        f"{counted}, {percent(line.share)} ({setting.confidence} "
        f"{percent_range(line.interval)}), {line.sigma_words}."
    )


def _change(line: ShareLine, setting: Setting) -> str:
    bad, of = line.before
    if of == 0:
        return "The month before has nothing to compare with."
    if of < setting.few:
        return f"The month before has {bad:,} of {of:,}: too few to compare with."
    if bad == 0 and line.bad == 0:
        return f"The month before there was none of {of:,} either."
    assert line.share is not None
    gap = line.share - bad / of
    span = f"{points(line.difference.low)} to {points(line.difference.high)}"
    sure = "chance alone would seldom do that" if line.changed else "that may well be chance"
    return (
        f"The month before: {percent(bad / of)} ({bad:,} of {of:,}); the difference is "
        f"{points(gap)} percentage points ({setting.confidence} {span}): {sure}."
    )


def signal_words(one: Signal) -> str:
    """A signal of a control chart in words."""
    if one.rule == "trend":
        return f"Signal: {one.name}; they {'rise' if one.above else 'fall'}."
    return f"Signal {'above' if one.above else 'below'} the centre: {one.name}."


def _provisional(drawn: Chart, setting: Setting) -> str:
    return (
        f"The limits come from {some(drawn.made_of, 'point')} and are provisional until there are "
        f"{setting.policy.firm}."
    )


def _site_words(line: ShareLine, setting: Setting) -> list[str]:
    """Places are told, never ranked."""
    if line.funnel is None or line.funnel.centre in (None, 0, 1):
        return []
    found = []
    for zone, words in (
        (BEYOND, "beyond the outer limits of the funnel"),
        (OUTER, "between the inner and outer limits of the funnel"),
    ):
        for above in (True, False):
            names = [
                setting.names[place.code]
                for place in line.funnel.places
                if place.zone == zone and place.above == above
            ]
            if names:
                side = "above" if above else "below"
                verb = "lies" if len(names) == 1 else "lie"
                found.append(f"{joined(names)} {verb} {side} the others, {words}.")
    judged = sum(place.zone != FEW for place in line.funnel.places)
    if not found and judged > 1:
        found.append("No place stands out from the others by more than chance allows.")
    few = [setting.names[place.code] for place in line.funnel.places if place.zone == FEW]
    if few:
        found.append(f"Too few to be compared: {joined(few)}.")
    return found
