"""How rotors are loaded evenly."""

from __future__ import annotations

import cmath
import itertools
from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cubital.bench.balance import can_balance, fits, is_even, polygons, prime_factors, seats
from cubital.errors import InputError

ROTORS = [4, 6, 8, 9, 10, 12, 15, 16, 18, 20, 24, 28, 30, 36, 42, 48]


def vector(used: Sequence[int], places: int) -> float:
    """Length of the sum of the unit vectors to places."""
    return abs(sum(cmath.exp(2j * cmath.pi * place / places) for place in used))


LOADS = st.tuples(st.sampled_from(ROTORS), st.lists(st.integers(0, 20), min_size=1, max_size=4))


@settings(max_examples=150, deadline=None)
@given(LOADS)
def test_every_load_that_fits_balances_kind_by_kind(load: tuple[int, list[int]]) -> None:
    """Vector sum zero of each kind and of all, no place twice, a place for every tube."""
    places, counts = load
    if not fits(counts, places):
        with pytest.raises(InputError, match="do not balance"):
            seats(counts, places)
        return
    chosen = seats(counts, places)
    together = [place for mine in chosen for place in mine]
    assert len(set(together)) == len(together)
    assert set(together) <= set(range(1, places + 1))
    for count, mine in zip(counts, chosen, strict=True):
        assert count <= len(mine)
        assert vector(mine, places) < 1e-9
        assert is_even(mine, places)
    assert is_even(together, places)


@settings(max_examples=100, deadline=None)
@given(LOADS)
def test_fewer_tubes_fit_where_more_do(load: tuple[int, list[int]]) -> None:
    """Taking a tube out never spoils a load: a balance tube can take its place."""
    places, counts = load
    if fits(counts, places):
        for at, count in enumerate(counts):
            if count:
                assert fits([*counts[:at], count - 1, *counts[at + 1 :]], places)


@pytest.mark.parametrize("places", [6, 8, 9, 10, 12])
def test_evenness_is_what_the_vectors_say(places: int) -> None:
    """The exact test agrees with the sum of vectors for every set of places."""
    for size in range(places + 1):
        for used in itertools.combinations(range(1, places + 1), size):
            assert is_even(used, places) == (vector(used, places) < 1e-9)


@pytest.mark.parametrize("places", [6, 8, 10, 12])
@pytest.mark.parametrize("kinds", [1, 2])
def test_nothing_that_balances_is_missed_in_small_rotors(places: int, kinds: int) -> None:
    """Counts that lie in any even sets at all, found by trying all sets, lie in our polygons."""
    even = [
        frozenset(used)
        for size in range(places + 1)
        for used in itertools.combinations(range(1, places + 1), size)
        if is_even(used, places)
    ]
    possible: set[tuple[int, ...]] = set()
    if kinds == 1:
        possible = {(len(one),) for one in even}
    else:
        possible = {(len(a), len(b)) for a in even for b in even if not a & b}
    for counts in possible:
        laid = polygons(counts, places)
        assert laid is not None, counts
        assert sum(one.balance for one in laid) == 0


@pytest.mark.parametrize("places", range(2, 73))
def test_one_kind_needs_no_balance_tube_where_the_theorem_says_so(places: int) -> None:
    """Our polygons reach every count that can balance, with no balance tube."""
    for tubes in range(places + 1):
        laid = polygons([tubes], places)
        assert laid is not None
        assert (laid[0].balance == 0) == can_balance(tubes, places)


def test_counts_that_every_bench_knows() -> None:
    """1 of 24 never, 5 of 6 never, 5 of 24 is 2 and 3, 23 of 24 never, 7 of 12 is 4 and 3."""
    assert [can_balance(*pair) for pair in ((1, 24), (5, 6), (5, 24), (23, 24), (7, 12))] == [
        False, False, True, False, True,
    ]  # fmt: skip
    assert not can_balance(25, 24)


def test_prime_factors() -> None:
    """Each once, ascending."""
    assert [prime_factors(n) for n in (2, 8, 12, 30, 97)] == [
        (2,), (2,), (2, 3), (2, 3, 5), (97,),
    ]  # fmt: skip


def test_two_triples_share_a_hexagon_and_a_triple_and_a_pair_do_not() -> None:
    """Six places: 3 and 3 fit as triples, 3 and 2 need a balance tube, 3 and 4 do not fit."""
    both = polygons([3, 3], 6)
    assert both is not None
    assert [(one.small, one.large, one.balance) for one in both] == [(0, 1, 0), (0, 1, 0)]
    uneven = polygons([3, 2], 6)
    assert uneven is not None
    assert sum(one.balance for one in uneven) == 1
    assert polygons([3, 4], 6) is None
