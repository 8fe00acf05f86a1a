"""The funnel: places inside limits, never ranked, never judged by a handful."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cubital.catalogue import shipped
from cubital.indicators.funnel import (
    BEYOND,
    FEW,
    INSIDE,
    OUTER,
    FunnelPolicy,
    funnel,
    funnel_limits,
    overdispersion,
)

POLICY = FunnelPolicy.of(shipped())


@given(st.floats(0.001, 0.999), st.integers(1, 10**6), st.integers(1, 10**6), st.floats(1, 9))
def test_limits_narrow_as_the_number_grows(centre: float, n: int, more: int, phi: float):
    """Monotone in the number, the outer around the inner, never outside 0 and 1."""
    low, high = funnel_limits(centre, n, 1.96, phi)
    nearer, farther = funnel_limits(centre, n + more, 1.96, phi)
    assert 0 <= low <= nearer <= centre <= farther <= high <= 1
    outer_low, outer_high = funnel_limits(centre, n, 3.09, phi)
    assert outer_low <= low
    assert high <= outer_high


def test_a_place_with_three_specimens_is_not_judged():
    """However bad its three look."""
    found = funnel([("valley", 100, 2000), ("pass", 3, 3)], POLICY)
    assert {place.code: place.zone for place in found.places} == {"pass": FEW, "valley": INSIDE}


def test_zones():
    """Inside, between the limits, beyond them; above or below."""
    places = [("a", 500, 10_000), ("b", 62, 1000), ("c", 90, 1000), ("d", 20, 1000)]
    found = {place.code: place for place in funnel(places, POLICY).places}
    assert found["a"].zone == INSIDE
    assert (found["b"].zone, found["b"].above) == (INSIDE, True)
    assert (found["c"].zone, found["c"].above) == (BEYOND, True)
    assert (found["d"].zone, found["d"].above) == (BEYOND, False)
    edge = funnel([("a", 5000, 100_000), ("e", 66, 1000)], POLICY)
    assert edge.places[1].zone == OUTER


def test_places_stand_in_the_order_of_their_codes():
    """Not of their shares."""
    found = funnel([("c", 1, 100), ("a", 50, 100), ("b", 20, 100)], POLICY)
    assert [place.code for place in found.places] == ["a", "b", "c"]


def test_few_places_have_no_overdispersion():
    """It could not be told from an outlier."""
    found = funnel([("a", 10, 100), ("b", 60, 100), ("c", 1, 100)], POLICY)
    assert not found.estimated
    assert found.phi == 1


def test_many_places_widen_the_limits():
    """Ten places that differ by more than chance: what they all do is not an outlier's."""
    places = [(f"p{n}", 100 + 20 * (n % 5), 1000) for n in range(10)]
    found = funnel(places, POLICY)
    assert found.estimated
    assert found.phi > 1
    assert all(place.zone == INSIDE for place in found.places)


def test_winsorising_pulls_an_outlier_in():
    """One place of ten far out counts like the next."""
    calm = [-1, -0.8, -0.5, -0.2, 0, 0.2, 0.5, 0.8, 1, 30]
    assert overdispersion(calm, 0.1) < 1
    assert overdispersion(calm, 0.0) > 50
    assert overdispersion([], 0.1) == 1


@settings(max_examples=60)
@given(
    st.lists(
        st.integers(0, 500).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))),
        max_size=15,
    )
)
def test_whatever_the_places_there_is_a_funnel(pairs: list[tuple[int, int]]):
    """Empty places, none found, all found: no error, and every place has a zone."""
    found = funnel([(f"p{n:02}", bad, of) for n, (bad, of) in enumerate(pairs)], POLICY)
    assert len(found.places) == len(pairs)
    for place in found.places:
        assert place.zone in (INSIDE, OUTER, BEYOND, FEW)
        assert (place.share is None) == (place.of == 0)
    for n in (0, 1, 50):
        low, high = found.limits(n, outer=True)
        assert 0 <= low <= high <= 1


@pytest.mark.parametrize("outer", [True, False])
def test_limits_of_a_funnel_are_those_of_its_policy(outer: bool):
    """1.96 and 3.09 as shipped."""
    found = funnel([("a", 10, 100), ("b", 12, 100)], POLICY)
    z = 3.09 if outer else 1.96
    assert found.limits(400, outer=outer) == funnel_limits(0.11, 400, z)
