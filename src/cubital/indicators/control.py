"""
Control charts of counts over time: p, Laney p′, u and Laney u′.

A period without specimens is a gap, not a zero.  Where a period is expected to have only a few
events the normal limits mean nothing, and exact ones (binomial or Poisson) take their place.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import sqrt

from scipy.stats import binom, poisson

from cubital.catalogue import Catalogue
from cubital.indicators.intervals import NORMAL

MEAN_RANGE = 1.128
"""Mean range of two normal values in standard deviations (d2 of Shewhart's tables)."""
LIMIT_SD = 3.0
NO_SPREAD = 1e-9
SHARE, RATE = "share", "rate"
NOBODY: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Policy:
    """
    When a chart has limits, from the settings.

    Args:
        least: fewer points and there are none.
        firm: fewer points and they are provisional.
        few: fewer expected events in a usual period and the limits are exact.
        laney: whether limits are widened or narrowed by the spread between periods.
    """

    least: int
    firm: int
    few: float
    laney: bool = True

    @classmethod
    def of(cls, catalogue: Catalogue) -> Policy:
        """Look it up."""
        return cls(
            least=catalogue.number("indicator_points_least"),
            firm=catalogue.number("indicator_points_firm"),
            few=catalogue.decimal("indicator_few_expected"),
        )


@dataclass(frozen=True, slots=True)
class Point:
    """
    One period.

    Args:
        period: month or week, ``202603``.
        top, bottom: counts.
        value: top over bottom, None where the period has nothing.
        sd: its standard deviation as the chart takes it; None where the limits are exact.
        low, high: limits, None where the chart or the period has none.
    """

    period: int
    top: int
    bottom: int
    value: float | None
    sd: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Chart:
    """
    A chart.

    Args:
        kind: ``p``, ``p′``, ``u``, ``u′``, ``exact`` or ``none`` (no limits).
        centre: of the periods that make the limits, None where there is nothing.
        sigma_z: Laney's factor, 1 where none is used.
        provisional: too few points for limits to be firm.
        why: a sentence where there are no limits or exact ones, else "".
        made_of: how many periods make the limits.
    """

    kind: str
    points: tuple[Point, ...]
    centre: float | None
    sigma_z: float = 1.0
    provisional: bool = False
    why: str = ""
    made_of: int = 0


Counted = tuple[int, int, int]
"""Period, top, bottom."""


def chart(
    series: Sequence[Counted],
    what: str,
    policy: Policy,
    judged: frozenset[int] = NOBODY,
) -> Chart:
    """
    The chart of a series.

    Args:
        series: periods in order, with their counts.
        what: ``share`` (p charts) or ``rate`` (u charts).
        policy: of the laboratory.
        judged: periods that are held against the limits and do not make them: a jump must not
            widen the limits that should show it.  Where too few would be left, all make them.
    """
    if sum(1 for _, _, bottom in series if bottom) == 0:
        return _bare(series, None, "Nothing was counted in any period.")
    base = [each for each in series if each[0] not in judged and each[2]]
    if len(base) < policy.least:
        base = [each for each in series if each[2]]
    tops, bottoms, seen = sum(t for _, t, _ in base), sum(b for _, _, b in base), len(base)
    centre = tops / bottoms
    if seen < policy.least:
        return _bare(
            series, centre, f"{_periods(seen)}: too few for limits, which need {policy.least}."
        )
    if tops == 0 or (what == SHARE and tops == bottoms):
        return _bare(series, centre, _nothing_varies(series, tops))
    provisional = seen < policy.firm
    usual = min(tops, bottoms - tops if what == SHARE else tops) / seen
    if usual < policy.few:
        exact = _exact(series, centre, what, provisional=provisional, usual=usual)
        return replace(exact, made_of=seen)
    factor = sigma_z(base, centre, what) if policy.laney else 1.0
    points = []
    for period, top, bottom in series:
        sd = factor * base_sd(centre, bottom, what) if bottom else None
        low, high = limits(centre, sd, what) if sd is not None else (None, None)
        points.append(Point(period, top, bottom, _value(top, bottom), sd, low, high))
    letter = "p" if what == SHARE else "u"
    kind = letter + ("′" if policy.laney else "")
    return Chart(kind, tuple(points), centre, factor, provisional, made_of=seen)


def _nothing_varies(series: Sequence[Counted], tops: int) -> str:
    if tops:
        return "All were found in every period, so there are no limits."
    before = " before" if any(top for _, top, _ in series) else ""
    return f"None was found in any period{before}, so there are no limits."


def base_sd(centre: float, bottom: int, what: str) -> float:
    """The standard deviation of one period without the spread between periods."""
    return sqrt(centre * (1 - centre) / bottom) if what == SHARE else sqrt(centre / bottom)


def limits(centre: float, sd: float, what: str) -> tuple[float, float]:
    """Three standard deviations each way, never below 0, and a share never above 1."""
    most = 1.0 if what == SHARE else float("inf")
    return max(0.0, centre - LIMIT_SD * sd), min(most, centre + LIMIT_SD * sd)


def sigma_z(series: Sequence[Counted], centre: float, what: str) -> float:
    """
    Laney's factor: the mean moving range of the periods' z-values over 1.128 (Laney 2002).

    Periods without specimens are passed over.  1 where there are fewer than two, or where all are
    alike: limits of no width would make a signal of nothing.
    """
    zs = [
        (top / bottom - centre) / base_sd(centre, bottom, what)
        for _, top, bottom in series
        if bottom
    ]
    if len(zs) < 2:
        return 1.0
    ranges = [abs(after - before) for before, after in pairwise(zs)]
    factor = sum(ranges) / len(ranges) / MEAN_RANGE
    return factor if factor > NO_SPREAD else 1.0


def _value(top: int, bottom: int) -> float | None:
    return top / bottom if bottom else None


def _periods(count: int) -> str:
    return "One period" if count == 1 else f"{count} periods"


def _bare(series: Sequence[Counted], centre: float | None, why: str) -> Chart:
    """A chart without limits."""
    points = tuple(
        Point(period, top, bottom, _value(top, bottom), None, None, None)
        for period, top, bottom in series
    )
    return Chart("none", points, centre, why=why)


def _exact(
    series: Sequence[Counted], centre: float, what: str, *, provisional: bool, usual: float
) -> Chart:
    """A chart whose limits are those counts that three standard deviations would leave outside."""
    outside = NORMAL.cdf(-LIMIT_SD)
    points = []
    for period, top, bottom in series:
        low = high = None
        if bottom:
            low = _count_at(outside, centre, bottom, what) / bottom
            high = _count_at(1 - outside, centre, bottom, what) / bottom
        points.append(Point(period, top, bottom, _value(top, bottom), None, low, high))
    why = f"About {usual:.1f} are expected in a period: too few for the usual limits; exact ones."
    return Chart("exact", tuple(points), centre, 1.0, provisional, why)


def _count_at(probability: float, centre: float, bottom: int, what: str) -> float:
    at: Callable[..., float] = binom.ppf if what == SHARE else poisson.ppf
    return float(
        at(probability, bottom, centre) if what == SHARE else at(probability, centre * bottom)
    )
