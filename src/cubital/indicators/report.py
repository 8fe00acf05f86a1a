"""
The report of a month.

What it says of change it says with an interval; places are shown in the order of their codes, never
ranked; and whatever makes a figure doubtful is a finding at its head.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from cubital.catalogue import Catalogue
from cubital.catalogue.model_quality import Indicator
from cubital.errors import InputError
from cubital.finding import Finding
from cubital.indicators import ask
from cubital.indicators.ask import Lake, Quantiles, Sum, Tally, lake_of
from cubital.indicators.doubts import doubts
from cubital.indicators.drivers import drivers
from cubital.indicators.engine import Engine
from cubital.indicators.lake import Files, read_files
from cubital.indicators.line_rates import rate_line, ratio_line, time_line
from cubital.indicators.lines import Setting, share_line
from cubital.indicators.measures import SHARES, SUMS, TIMES
from cubital.indicators.report_values import Described, RateLine, Report, ShareLine, TimeLine
from cubital.indicators.say import (
    add_months,
    joined,
    month_words,
    months_between,
    some,
    weeks_between,
)

NO_CHOICES: Mapping[str, str] = {}
MONTH, WEEK = "month", "week"
DRIVER_MONTHS = 12
CAUTIONS = (
    "An interval says how far chance alone may carry a figure, not how well it was counted.",
    "A control chart that gives a signal asks for a look at what happened, not for a culprit.",
    "Places differ in their patients and in the way to the laboratory; they are never ranked.",
)


def report(
    folder: Path,
    month: int,
    catalogue: Catalogue,
    engine: Engine,
    *,
    choices: Mapping[str, str] = NO_CHOICES,
    with_drivers: bool = True,
) -> Report:
    """
    Make the report of a month.

    Args:
        folder: of the lake.
        month: ``202603``.
        catalogue: what is counted, and the policy.
        engine: that counts.
        choices: of the laboratory (topic ``run-rules``).
        with_drivers: whether to ask what drives haemolysis, over the last twelve months.

    Raises:
        InputError: no such month, or the lake cannot be used.
    """
    if not (100_000 <= month <= 899_912 and 1 <= month % 100 <= 12):
        raise InputError(f"{month} is no month", "month", "Write it like 2026-03.")
    return _Maker(read_files(folder), month, catalogue, engine, choices).make(with_drivers)


@dataclass(slots=True)
class _Maker:
    """One report under way."""

    files: Files
    month: int
    catalogue: Catalogue
    engine: Engine
    choices: Mapping[str, str]

    def lake(self, first: int) -> Lake:
        """The months from one to the report's own."""
        return lake_of(self.files, self.catalogue, self.engine, (first, self.month))

    def make(self, with_drivers: bool) -> Report:
        """Count, and put together."""
        first = add_months(self.month, 1 - self.catalogue.number("indicator_months"))
        long, short = self.lake(first), self.lake(self.month)
        here, there = ask.tallies(short), ask.tallies(self.lake(add_months(self.month, -1)))
        names = {code: long.site_now(code).name for code in sorted(str(key[0]) for key in here)}
        have = [month for month in long.months if first <= month <= self.month]
        least = self.catalogue.number("indicator_points_least")
        period = MONTH if len(have) >= least or not have else WEEK
        setting = Setting.of(self.catalogue, names, self.recent(period), self.choices)
        said = _described(self.catalogue)
        shares = self.shares(long, short, period, setting, said)
        rates = self.rates(long, short, period, setting, said)
        times = self.times(long, short, period, setting, said)
        total = _total(here)
        found = doubts(short, self.files, here, _only_before(there, here), times, self.catalogue)
        driven = None
        if with_drivers and total.specimens:
            driven = drivers(self.lake(add_months(self.month, 1 - DRIVER_MONTHS)), self.catalogue)
        return Report(
            month=self.month,
            title=f"Quality indicators, {month_words(self.month)}",
            period=period,
            specimens=total.specimens,
            draws=total.draws,
            sites=tuple(names.items()),
            headlines=_headlines(self.month, total, found, (*shares, *rates, *times)),
            shares=shares,
            rates=rates,
            times=times,
            findings=found,
            drivers=driven,
            cautions=(*CAUTIONS, _by_chance(shares, self.catalogue)),
            edition=self.catalogue.edition,
            engine=self.engine.name,
        )

    def recent(self, period: str) -> frozenset[int]:
        """The periods whose signals belong to this month."""
        return frozenset({self.month} if period == MONTH else weeks_of(self.month))

    def shares(
        self, long: Lake, short: Lake, period: str, setting: Setting, said: Mapping[str, Described]
    ) -> tuple[ShareLine, ...]:
        """All shares."""
        by_month = _pairs(ask.counts(long, by=(MONTH,)))
        series = by_month if period == MONTH else _pairs(ask.counts(long, by=(period,)))
        by_site = _pairs(ask.counts(short, by=("site",)))
        before = add_months(self.month, -1)
        return tuple(
            share_line(
                said[code],
                [(p, *series[code].get(p, (0, 0))) for p in self.periods(series[code], period)],
                by_month[code].get(self.month, (0, 0)),
                by_month[code].get(before, (0, 0)),
                by_site[code],
                setting,
            )
            for code in SHARES
        )

    def rates(
        self, long: Lake, short: Lake, period: str, setting: Setting, said: Mapping[str, Described]
    ) -> tuple[RateLine, ...]:
        """Attempts per success, and blood drawn against needed."""
        by_month = _sums(ask.sums(long, by=(MONTH,)))
        series = by_month if period == MONTH else _sums(ask.sums(long, by=(period,)))
        by_site = _sums(ask.sums(short, by=("site",)))
        before = add_months(self.month, -1)
        found = []
        for code in SUMS:
            now, was = by_month[code].get(self.month), by_month[code].get(before)
            if said[code].unit == "draw":
                points = [
                    (p, each.top, each.bottom) if (each := series[code].get(p)) else (p, 0, 0)
                    for p in self.periods(series[code], period)
                ]
                found.append(rate_line(said[code], points, now, was, by_site[code], setting))
            else:
                found.append(ratio_line(said[code], now, was, by_site[code], setting))
        return tuple(found)

    def times(
        self, long: Lake, short: Lake, period: str, setting: Setting, said: Mapping[str, Described]
    ) -> tuple[TimeLine, ...]:
        """All times."""
        by_month = _times(ask.quantiles(long, by=(MONTH,)))
        series = by_month if period == MONTH else _times(ask.quantiles(long, by=(period,)))
        by_site = _times(ask.quantiles(short, by=("site",)))
        before = add_months(self.month, -1)
        return tuple(
            time_line(
                said[code],
                [
                    (p, series[code].get(p, _no_time(code)))
                    for p in self.periods(series[code], period)
                ],
                by_month[code].get(self.month, _no_time(code)),
                by_month[code].get(before, _no_time(code)),
                by_site[code],
                setting,
            )
            for code in TIMES
        )

    def periods(self, found: Mapping[Any, object], period: str) -> list[int]:
        """Every period from the first with something to the last of the month, gaps included."""
        ours: list[int] = [*found]
        if not ours:
            return [self.month] if period == MONTH else []
        if period == MONTH:
            return months_between(min(ours), self.month)
        return weeks_between(min(ours), max(max(ours), min(weeks_of(self.month))))


def weeks_of(month: int) -> list[int]:
    """The ISO weeks that have a day in a month."""
    year, nth = divmod(month, 100)
    first = date(year, nth, 1)
    after = add_months(month, 1)
    last = date(after // 100, after % 100, 1) - timedelta(days=1)
    weeks = [day.isocalendar()[:2] for day in (first, last)]
    (y1, w1), (y2, w2) = weeks
    return weeks_between(y1 * 100 + w1, y2 * 100 + w2)


def _described(catalogue: Catalogue) -> dict[str, Described]:
    return {
        row.indicator: Described(
            row.indicator, row.name, row.numerator, row.denominator, row.unit, row.source
        )
        for row in catalogue.rows(Indicator)
    }


def _pairs(found: Sequence[ask.Count]) -> dict[str, dict[Any, tuple[int, int]]]:
    pairs: dict[str, dict[Any, tuple[int, int]]] = {code: {} for code in SHARES}
    for each in found:
        pairs[each.indicator][each.key[0]] = (each.bad, each.of)
    return pairs


def _sums(found: Sequence[Sum]) -> dict[str, dict[Any, Sum]]:
    sums: dict[str, dict[Any, Sum]] = {code: {} for code in SUMS}
    for each in found:
        sums[each.indicator][each.key[0]] = each
    return sums


def _times(found: Sequence[Quantiles]) -> dict[str, dict[Any, Quantiles]]:
    times: dict[str, dict[Any, Quantiles]] = {code: {} for code in TIMES}
    for each in found:
        times[each.indicator][each.key[0]] = each
    return times


def _no_time(code: str) -> Quantiles:
    return Quantiles(code, (), 0, None, None, None, None, 0, 0)


def _total(found: Mapping[ask.Key, Tally]) -> Tally:
    return Tally(
        specimens=sum(each.specimens for each in found.values()),
        received=sum(each.received for each in found.values()),
        late=sum(each.late for each in found.values()),
        draws=sum(each.draws for each in found.values()),
    )


def _only_before(
    two: Mapping[ask.Key, Tally], here: Mapping[ask.Key, Tally]
) -> dict[ask.Key, Tally]:
    """Places of the month before that have nothing now."""
    return {key: each for key, each in two.items() if key not in here}


def _headlines(
    month: int,
    total: Tally,
    findings: Sequence[Finding],
    lines: Sequence[ShareLine | RateLine | TimeLine],
) -> tuple[str, ...]:
    if not (total.specimens or total.draws):
        return (f"No specimens and no draws are on record in {month_words(month)}.",)
    found = [f"{some(total.specimens, 'specimen')} and {some(total.draws, 'draw')} are counted."]
    for way, words in (("more", "went up"), ("less", "went down")):
        names = [line.what.name for line in lines if line.changed == way]
        if names:
            found.append(f"By more than chance: {joined(names)} {words} since the month before.")
    signalling = [
        line.what.name for line in lines if not isinstance(line, TimeLine) and line.signals
    ]
    if signalling:
        found.append(f"The control chart gives a signal: {joined(signalling)}.")
    if len(found) == 1:
        found.append("Nothing changed by more than chance, and no control chart gives a signal.")
    if findings:
        found.append(f"{some(len(findings), 'remark')} on the figures below.")
    return tuple(found)


def _by_chance(shares: Sequence[ShareLine], catalogue: Catalogue) -> str:
    compared = sum(not line.few and line.before[1] > 0 for line in shares)
    sure = catalogue.decimal("indicator_confidence_percent")
    expected = compared * (100 - sure) / 100
    return (
        f"{some(compared, 'share')} are compared with the month before at {sure:g} %: about "
        f"{expected:.1f} of them would seem to change by chance alone."
    )
