"""
What a monthly report holds: plain values and plain sentences, ready to be shown or printed.
"""

from __future__ import annotations

from dataclasses import dataclass

from cubital.finding import Finding
from cubital.indicators.ask import Quantiles
from cubital.indicators.control import Chart
from cubital.indicators.drivers import Drivers
from cubital.indicators.funnel import Funnel
from cubital.indicators.intervals import Interval
from cubital.indicators.levels import Beside
from cubital.indicators.runs import Signal


@dataclass(frozen=True, slots=True)
class Described:
    """
    An indicator in words.

    Args:
        code: of ``indicators.csv``.
        name: shown.
        numerator, denominator: what is counted of what.
        unit: of a time.
        source: key of the source.
    """

    code: str
    name: str
    numerator: str
    denominator: str
    unit: str
    source: str

    @property
    def harmonised(self) -> bool:
        """Whether it is one of the harmonised list, and not this desk's own."""
        return not self.code.startswith("desk-")


@dataclass(frozen=True, slots=True)
class SiteShare:
    """
    A place's own figure.

    Args:
        few: too few for a share; the count alone is told.
        zone: where it lies in the funnel: ``inside``, ``between``, ``beyond`` or ``few``.
    """

    code: str
    name: str
    bad: int
    of: int
    share: float | None
    interval: Interval
    few: bool
    zone: str


@dataclass(frozen=True, slots=True)
class ShareLine:
    """
    A share.

    Args:
        share: None where nothing was counted.
        few: too few for a share.
        sigma: None where there is none; ``sigma_words`` says what can be said.
        before: bad and of of the month before.
        changed: more, less, or None where the interval of the difference holds 0.
        chart: over the periods of the report.
        marks: periods of the chart at which a rule is met.
        signals: those of the month.
        funnel: between places, None where there is only one.
        sentences: what is to be said, the figure first.
    """

    what: Described
    bad: int
    of: int
    share: float | None
    interval: Interval
    few: bool
    sigma: float | None
    sigma_words: str
    before: tuple[int, int]
    difference: Interval
    changed: str | None
    beside: tuple[Beside, ...]
    chart: Chart
    marks: frozenset[int]
    signals: tuple[Signal, ...]
    funnel: Funnel | None
    sites: tuple[SiteShare, ...]
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SiteValue:
    """A place's own rate or ratio."""

    code: str
    name: str
    top: int
    bottom: int
    value: float | None
    interval: Interval | None


@dataclass(frozen=True, slots=True)
class RateLine:
    """
    A rate or ratio.

    Args:
        value: top over bottom, None where there is nothing below.
        interval: None where it is not known.
        before: value of the month before.
        chart: None for a ratio of volumes.
        marks: periods of the chart at which a rule is met.
    """

    what: Described
    top: int
    bottom: int
    value: float | None
    interval: Interval | None
    before: float | None
    changed: str | None
    chart: Chart | None
    marks: frozenset[int]
    signals: tuple[Signal, ...]
    sites: tuple[SiteValue, ...]
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TimeLine:
    """
    A time.

    Args:
        now, before: of the month and the one before.
        series: of the periods of the report; a period without a time has a median of None.
        sites: of the month.
    """

    what: Described
    now: Quantiles
    before: Quantiles
    changed: str | None
    series: tuple[tuple[int, Quantiles], ...]
    sites: tuple[tuple[str, str, Quantiles], ...]
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Report:
    """
    A month.

    Args:
        month: ``202603``.
        period: ``month`` or ``week``: what a point of the charts is.
        specimens, draws: in the month.
        sites: code and name of every place with a specimen or draw in the month.
        headlines: what changed and how sure that is.
        findings: what the reader must know of the figures: missing, late, impossible, few.
        drivers: of haemolysis, None where it was not asked for.
        cautions: standing.
        edition: of the catalogue by which it was counted.
        engine: that counted.
    """

    month: int
    title: str
    period: str
    specimens: int
    draws: int
    sites: tuple[tuple[str, str], ...]
    headlines: tuple[str, ...]
    shares: tuple[ShareLine, ...]
    rates: tuple[RateLine, ...]
    times: tuple[TimeLine, ...]
    findings: tuple[Finding, ...]
    drivers: Drivers | None
    cautions: tuple[str, ...]
    edition: str
    engine: str

    @property
    def lines(self) -> tuple[ShareLine | RateLine | TimeLine, ...]:
        """Every line, in the order in which they are shown."""
        return (*self.shares, *self.rates, *self.times)
