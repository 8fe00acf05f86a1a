"""Intervals and sigma: always around the figure, never outside what is possible."""

from __future__ import annotations

from math import isclose

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cubital.catalogue import shipped
from cubital.indicators.intervals import (
    Interval,
    attempts_interval,
    least_sigma,
    newcombe,
    ratio_interval,
    sigma,
    wilson,
    z_of,
)

Z = 1.959963984540054


@st.composite
def shares(draw: st.DrawFn, least: int = 0) -> tuple[int, int]:
    """Bad and of."""
    of = draw(st.integers(least, 10**7))
    return draw(st.integers(0, of)), of


@given(shares(), st.floats(0.1, 5))
def test_wilson_holds_the_share_and_stays_possible(share: tuple[int, int], z: float):
    """Between 0 and 1 and around the share; everything when nothing was counted."""
    bad, of = share
    interval = wilson(bad, of, z)
    assert 0 <= interval.low <= interval.high <= 1
    if of:
        assert interval.holds(bad / of)
    else:
        assert interval == Interval(0, 1)


@given(shares(1), st.floats(0.1, 5))
def test_wilson_is_the_same_seen_from_the_other_side(share: tuple[int, int], z: float):
    """The interval of what is not bad is one less that of what is."""
    bad, of = share
    interval, other = wilson(bad, of, z), wilson(of - bad, of, z)
    assert isclose(interval.low, 1 - other.high, abs_tol=1e-12)


@given(shares(1), st.integers(2, 50))
def test_more_specimens_give_a_narrower_interval(share: tuple[int, int], times: int):
    """The same share of more is better known."""
    bad, of = share
    one, more = wilson(bad, of, Z), wilson(bad * times, of * times, Z)
    assert more.high - more.low < one.high - one.low


@given(shares(), shares())
def test_newcombe_holds_the_difference(now: tuple[int, int], before: tuple[int, int]):
    """Between -1 and 1, around the difference, and turned round when the two are exchanged."""
    interval = newcombe(*now, *before, Z)
    assert -1 <= interval.low <= interval.high <= 1
    back = newcombe(*before, *now, Z)
    assert isclose(interval.low, -back.high, abs_tol=1e-12)
    if now[1] and before[1]:
        assert interval.holds(now[0] / now[1] - before[0] / before[1])


@given(st.integers(1, 10**6), st.integers(0, 10**5))
def test_attempts_per_success(successes: int, failures: int):
    """Never below one a success, and around the rate."""
    interval = attempts_interval(successes + failures, successes, Z)
    assert interval is not None
    assert interval.low >= 1
    assert interval.holds((successes + failures) / successes)


def test_no_rate_no_interval():
    """Nothing obtained, or more obtained than tried."""
    assert attempts_interval(5, 0, Z) is None
    assert attempts_interval(0, 0, Z) is None
    assert attempts_interval(2, 3, Z) is None


@given(st.lists(st.tuples(st.integers(0, 9000), st.integers(1, 5000)), min_size=2, max_size=30))
def test_ratio_holds_the_ratio(pairs: list[tuple[int, int]]):
    """Around top over bottom, never below 0."""
    top, bottom = sum(a for a, _ in pairs), sum(b for _, b in pairs)
    squares = (
        sum(a * a for a, _ in pairs), sum(b * b for _, b in pairs), sum(a * b for a, b in pairs),
    )  # fmt: skip
    interval = ratio_interval(top, bottom, len(pairs), squares, Z)
    assert interval is not None
    assert 0 <= interval.low <= top / bottom <= interval.high


def test_a_ratio_that_never_varies_is_certain():
    """Three times the need in every draw."""
    interval = ratio_interval(9000, 3000, 3, (27_000_000, 3_000_000, 9_000_000), Z)
    assert interval is not None
    assert interval.low == pytest.approx(3)
    assert interval.high == pytest.approx(3)


def test_no_ratio_of_too_little():
    """One draw, or nothing needed."""
    assert ratio_interval(5, 5, 1, (25, 25, 25), Z) is None
    assert ratio_interval(5, 0, 4, (25, 0, 0), Z) is None


def test_sigma_where_there_is_none():
    """None found, all found, nothing counted: no number, and never an error."""
    assert sigma(0, 100, 1.5) is None
    assert sigma(100, 100, 1.5) is None
    assert sigma(0, 0, 1.5) is None
    assert least_sigma(0, 0, Z, 1.5) is None
    least = least_sigma(0, 1000, Z, 1.5)
    assert least is not None
    assert 4 < least < 5


@settings(max_examples=50)
@given(st.integers(2, 10**6), st.data())
def test_fewer_faults_mean_more_sigma(of: int, data: st.DataObject):
    """Sigma falls as the share grows."""
    bad = data.draw(st.integers(1, of - 1))
    here = sigma(bad, of, 1.5)
    worse = sigma(bad + 1, of, 1.5) if bad + 1 < of else None
    assert here is not None
    assert worse is None or worse < here


def test_the_confidence_is_a_setting():
    """95 percent as shipped."""
    assert z_of(shipped()) == pytest.approx(Z)
