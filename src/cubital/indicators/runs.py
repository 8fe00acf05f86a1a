"""
Run rules: when the points of a control chart are taken for a signal.

The rules are rows of ``run_rules.csv``; each signal names its rule and the rule's source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from cubital.catalogue import Catalogue
from cubital.catalogue.model_quality import RunRule
from cubital.indicators.control import LIMIT_SD, Chart, Point

NO_CHOICES: Mapping[str, str] = {}


@dataclass(frozen=True, slots=True)
class Signal:
    """
    A rule that is met.

    Args:
        rule: its code.
        name: in words.
        period: of the last point that meets it.
        above: whether the points lie above the centre, or rise.
        source: of the rule.
    """

    rule: str
    name: str
    period: int
    above: bool
    source: str


def rules_of(catalogue: Catalogue, choices: Mapping[str, str] = NO_CHOICES) -> tuple[RunRule, ...]:
    """The rules that hold under the laboratory's choice of topic ``run-rules``."""
    return tuple(row for row in catalogue.rows(RunRule) if catalogue.holds(row.choice, choices))


def signals(chart: Chart, rules: Sequence[RunRule]) -> tuple[Signal, ...]:
    """
    Find every place at which a rule is met; a chart without limits has none.

    Periods without specimens are passed over.  On a chart with exact limits a rule that counts
    standard deviations holds only for three of them: those limits.
    """
    if chart.centre is None or chart.kind == "none":
        return ()
    points = [point for point in chart.points if point.value is not None]
    found = []
    for rule in rules:
        for end in range(rule.of_points, len(points) + 1):
            window = points[end - rule.of_points : end]
            above = _met(rule, window, chart)
            if above is not None:
                found.append(Signal(rule.rule, rule.name, window[-1].period, above, rule.source))
    return tuple(sorted(found, key=lambda signal: (signal.period, signal.rule)))


def _met(rule: RunRule, window: Sequence[Point], chart: Chart) -> bool | None:
    """True or False for above or below where the rule is met by its last point, else None."""
    assert chart.centre is not None
    values = [point.value for point in window if point.value is not None]
    if rule.kind == "trend":
        steps = [after - before for before, after in pairwise(values)]
        if all(step > 0 for step in steps):
            return True
        return False if all(step < 0 for step in steps) else None
    for above in (True, False):
        far = [_beyond(point, chart, rule, above=above) for point in window]
        if sum(far) >= rule.points and far[-1]:
            return above
    return None


def _beyond(point: Point, chart: Chart, rule: RunRule, *, above: bool) -> bool:
    """Whether a point lies beyond the rule's distance on one side of the centre."""
    assert point.value is not None
    assert chart.centre is not None
    off = point.value - chart.centre if above else chart.centre - point.value
    if rule.kind == "side":
        return off > 0
    if point.sd is not None:
        return off > rule.beyond_sd * point.sd
    limit = point.high if above else point.low
    if limit is None or rule.beyond_sd < LIMIT_SD:
        return False
    return point.value > limit if above else point.value < limit
