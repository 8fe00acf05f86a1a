"""Run rules: each found where it is met, and nowhere else."""

from __future__ import annotations

import pytest

from cubital.catalogue import shipped
from cubital.catalogue.model_quality import RunRule
from cubital.indicators.control import SHARE, Chart, Point, Policy, chart
from cubital.indicators.runs import Signal, rules_of, signals

RULES = rules_of(shipped())
NELSON = rules_of(shipped(), {"run-rules": "nelson"})


def drawn(values: list[float | None]) -> Chart:
    """A chart with centre 0 and a standard deviation of 1, in whole units."""
    points = tuple(
        Point(n, 0, 0 if value is None else 1, value, None if value is None else 1.0, -3.0, 3.0)
        for n, value in enumerate(values)
    )
    return Chart("p′", points, 0.0)


def met(values: list[float | None], rules: tuple[RunRule, ...] = RULES) -> list[tuple[str, int]]:
    """Rule and period of each signal."""
    return [(one.rule, one.period) for one in signals(drawn(values), rules)]


@pytest.mark.parametrize(
    ("values", "wanted"),
    [
        ([0, 3.1], [("beyond-3", 1)]),
        ([0, 3.0], []),
        ([0, -3.1], [("beyond-3", 1)]),
        ([2.1, 0, 2.1], [("two-of-three-beyond-2", 2)]),
        ([2.1, 2.1], []),  # two points are no three
        ([0, 2.1, -2.1], []),  # on two sides
        ([2.1, 2.1, 0], []),  # the last point is not among them
        ([1.1, 1.1, 0, 1.1, 1.1], [("four-of-five-beyond-1", 4)]),
        ([1.1, 1.1, 0, 1.1, -1.1], []),
        ([0.5] * 8, [("one-side", 7)]),
        ([0.5] * 7 + [0.0], []),
        ([0.5] * 7, []),
        ([0.5] * 4 + [None, None] + [0.5] * 4, [("one-side", 9)]),  # gaps are passed over
        ([0.1, 0.2, 0.3, 0.4, 0.5, 0.6], []),  # no rule of 1956
    ],
)
def test_rules_of_1956(values: list[float | None], wanted: list[tuple[str, int]]):
    """Beyond three, two of three beyond two, four of five beyond one, eight on one side."""
    assert met(values) == wanted


@pytest.mark.parametrize(
    ("values", "wanted"),
    [
        ([-0.5] * 8, []),
        ([-0.5] * 9, [("one-side", 8)]),
        ([-0.3, -0.2, -0.1, 0.1, 0.2, 0.3], [("trend", 5)]),
        ([0.3, 0.2, 0.1, -0.1, -0.2, -0.3], [("trend", 5)]),
        ([0.3, 0.2, 0.2, -0.1, -0.2, -0.3], []),  # equal is neither up nor down
    ],
)
def test_tests_of_1984(values: list[float | None], wanted: list[tuple[str, int]]):
    """Nine on one side, six that rise or fall."""
    assert met(values, NELSON) == wanted


def test_a_signal_says_its_side_and_source():
    """So that the sentence can name them."""
    (one,) = signals(drawn([0, -3.5]), RULES)
    assert one == Signal(
        "beyond-3",
        "one point beyond three standard deviations",
        1,
        above=False,
        source="western-electric-1956",
    )
    assert all(rule.source in shipped().sources for rule in (*RULES, *NELSON))


def test_the_choice_changes_the_rules():
    """Eight in a row as shipped, nine where the laboratory chooses so; the trend only there."""
    assert {rule.rule: rule.points for rule in RULES if rule.kind != "beyond"} == {"one-side": 8}
    others = {rule.rule: rule.points for rule in NELSON if rule.kind != "beyond"}
    assert others == {"one-side": 9, "trend": 6}


def test_a_chart_without_limits_gives_no_signal():
    """Too few points, nothing found."""
    policy = Policy(least=8, firm=20, few=5)
    assert signals(chart([(1, 9, 10), (2, 0, 10)], SHARE, policy), RULES) == ()
    assert signals(chart([], SHARE, policy), RULES) == ()


def test_exact_limits_signal_beyond_them_and_by_side():
    """A rare event that comes often enough is seen; one standard deviation means nothing there."""
    rows = [(n, 0, 300) for n in range(10)] + [(10, 6, 300)]
    found = signals(chart(rows, SHARE, Policy(least=8, firm=20, few=5)), RULES)
    assert [(one.rule, one.period, one.above) for one in found if one.above] == [
        ("beyond-3", 10, True)
    ]
    assert {one.rule for one in found} == {"beyond-3", "one-side"}
