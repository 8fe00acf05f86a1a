"""Control charts: limits that narrow with the number, gaps that stay gaps."""

from __future__ import annotations

from math import isclose

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cubital.catalogue import shipped
from cubital.indicators.control import (
    RATE,
    SHARE,
    Policy,
    base_sd,
    chart,
    limits,
    sigma_z,
)

POLICY = Policy(least=8, firm=20, few=5)
PLAIN = Policy(least=8, firm=20, few=5, laney=False)


def series(tops: list[int], bottom: int) -> list[tuple[int, int, int]]:
    """Periods of one size."""
    return [(n, top, bottom) for n, top in enumerate(tops)]


@given(st.floats(0.001, 0.999), st.integers(1, 10**6), st.integers(1, 10**6), st.floats(0.1, 4))
def test_limits_narrow_as_the_number_grows(centre: float, n: int, more: int, factor: float):
    """Monotone in the number of specimens, never outside 0 and 1."""
    for what in (SHARE, RATE):
        low, high = limits(centre, factor * base_sd(centre, n, what), what)
        nearer, farther = limits(centre, factor * base_sd(centre, n + more, what), what)
        assert 0 <= low <= nearer <= centre <= farther <= high
        assert what == RATE or high <= 1


@settings(max_examples=60)
@given(
    st.lists(
        st.integers(0, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))),
        max_size=30,
    ),
    st.sampled_from([SHARE, RATE]),
)
def test_whatever_the_series_there_is_a_chart(pairs: list[tuple[int, int]], what: str):
    """No series makes an error; every limit is possible and lies around the centre."""
    drawn = chart([(n, top, bottom) for n, (top, bottom) in enumerate(pairs)], what, POLICY)
    assert len(drawn.points) == len(pairs)
    for point in drawn.points:
        assert (point.value is None) == (point.bottom == 0)
        if point.bottom == 0:
            assert point.low is None
            assert point.high is None
        if point.low is not None and point.high is not None and drawn.centre is not None:
            assert 0 <= point.low <= point.high
            assert what == RATE or point.high <= 1
            if drawn.kind != "exact":
                assert point.low <= drawn.centre <= point.high


def test_a_period_without_specimens_is_a_gap():
    """It has no value and no limits, and does not pull the centre."""
    rows = [*series([10] * 9, 100), (9, 0, 0), (10, 12, 100)]
    drawn = chart(rows, SHARE, POLICY)
    assert drawn.points[9].value is None
    assert drawn.centre == pytest.approx(102 / 1000)
    assert drawn.kind == "p′"


@pytest.mark.parametrize(
    ("rows", "why"),
    [
        ([], "Nothing was counted in any period."),
        (series([0] * 12, 0), "Nothing was counted in any period."),
        (series([0] * 12, 50), "None was found in any period, so there are no limits."),
        (series([50] * 12, 50), "All were found in every period, so there are no limits."),
        (series([3], 50), "One period: too few for limits, which need 8."),
        (series([3] * 7, 50), "7 periods: too few for limits, which need 8."),
    ],
)
def test_no_limits_and_why(rows: list[tuple[int, int, int]], why: str):
    """Said in a sentence."""
    drawn = chart(rows, SHARE, POLICY)
    assert (drawn.kind, drawn.why) == ("none", why)
    assert all(point.high is None for point in drawn.points)


def test_few_expected_events_get_exact_limits():
    """About one in a thousand of 300 a month: normal limits would be nonsense."""
    drawn = chart(series([0, 1, 0, 0, 2, 0, 0, 1, 0, 0], 300), SHARE, POLICY)
    assert drawn.kind == "exact"
    assert drawn.why.startswith("About 0.4 are expected in a period")
    assert drawn.points[0].high == pytest.approx(3 / 300)  # P(X > 3) is below 0.00135
    rate = chart(series([0, 1, 0, 0, 2, 0, 0, 1, 0, 0], 300), RATE, POLICY)
    assert rate.points[0].high == pytest.approx(3 / 300)


def test_few_points_make_provisional_limits():
    """Until there are twenty."""
    assert chart(series([10, 12] * 5, 100), SHARE, POLICY).provisional
    assert not chart(series([10, 12] * 10, 100), SHARE, POLICY).provisional


def test_periods_that_are_all_alike_keep_the_limits_of_chance():
    """No spread between periods would make limits of no width, and a signal of nothing."""
    rows = series([10] * 12, 100)
    assert sigma_z(rows, 0.1, SHARE) == 1.0
    drawn = chart(rows, SHARE, POLICY)
    assert drawn.points[0].high == pytest.approx(0.1 + 3 * 0.03)


@given(st.lists(st.integers(5, 60), min_size=8, max_size=30), st.integers(100, 1000))
def test_laney_without_its_factor_is_the_plain_chart(tops: list[int], bottom: int):
    """p′ limits are the p limits, times the factor."""
    rows = series(tops, bottom)
    plain, laney = chart(rows, SHARE, PLAIN), chart(rows, SHARE, POLICY)
    assert plain.kind == "p"
    assert laney.centre == plain.centre
    for a, b in zip(plain.points, laney.points, strict=True):
        assert a.sd is not None
        assert b.sd is not None
        assert isclose(b.sd, a.sd * laney.sigma_z)


def test_the_policy_is_the_laboratorys():
    """As shipped."""
    assert Policy.of(shipped()) == POLICY


def test_what_is_judged_does_not_make_the_limits():
    """A jump would widen its own limits and hide in them; with few others it has to count."""
    rows = [*series([10, 12, 9, 11] * 3, 100), (12, 40, 100)]
    together, apart = chart(rows, SHARE, POLICY), chart(rows, SHARE, POLICY, frozenset({12}))
    assert apart.centre == pytest.approx(0.105)
    assert apart.sigma_z < together.sigma_z
    last = apart.points[-1]
    assert last.high is not None
    assert last.value is not None
    assert last.value > last.high
    assert (apart.made_of, together.made_of) == (12, 13)
    first = chart([*series([0] * 12, 100), (12, 1, 100)], SHARE, POLICY, frozenset({12}))
    assert first.why == "None was found in any period before, so there are no limits."
    few = chart(rows[:8], SHARE, POLICY, frozenset({7}))
    assert few.centre == chart(rows[:8], SHARE, POLICY).centre
