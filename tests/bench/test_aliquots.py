"""How much to expect, and how it is divided."""

from __future__ import annotations

import itertools
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cubital.bench import Division, divide, expected_yield_ul
from cubital.catalogue import shipped
from cubital.errors import InputError
from cubital.requisition.values import OrderedTest

SERUM = tuple(
    code
    for code, test in shipped().tests.items()
    if test.matrix in ("serum", "serum_plasma") and test.containers_needed == 1
)


def orders(*tests: tuple[str, int]) -> list[OrderedTest]:
    """Tests with their priorities."""
    return [OrderedTest(code, priority) for code, priority in tests]


@given(st.integers(0, 20_000), st.floats(1, 99))
def test_yield_never_exceeds_the_plasma_there_is(volume_ul: int, percent: float) -> None:
    """The recovered part of what is not cells, rounded down."""
    found = expected_yield_ul(volume_ul, percent, shipped())
    assert 0 <= found <= volume_ul * (100 - percent) / 100 * 0.85 + 0.01 * volume_ul / 100 + 1e-6


@given(st.integers(1, 5000), st.sampled_from([30.0, 45.0, 61.5]))
def test_blood_asked_for_a_volume_yields_that_volume(matrix_ul: int, percent: float) -> None:
    """It is the other way round of what the draw plan asks for."""
    cells = round(percent * 100)
    blood = -(-matrix_ul * 100 * 10_000 // ((10_000 - cells) * 85))
    assert expected_yield_ul(blood, percent, shipped()) >= matrix_ul
    assert expected_yield_ul(blood - 1, percent, shipped()) < matrix_ul


@pytest.mark.parametrize(("volume_ul", "percent"), [(-1, 40), (100, 0), (100, 100)])
def test_a_yield_that_cannot_be(volume_ul: int, percent: float) -> None:
    """No volume below 0, no haematocrit without plasma or cells."""
    with pytest.raises(InputError, match="cannot be"):
        expected_yield_ul(volume_ul, percent, shipped())


def test_enough_for_all() -> None:
    """One portion a station and a way of keeping, the primary tube for the core line last."""
    found = divide(
        orders(("sodium", 3), ("tsh", 4), ("hbsag", 3), ("gastrin", 5)), 3000, shipped(),
        primary="core",
    )  # fmt: skip
    assert [(p.station, p.condition, p.storage, p.primary) for p in found.portions] == [
        ("endocrine", "frozen", "freezer", False),
        ("serology", "fridge", "refrigerator", False),
        ("core", "fridge", "refrigerator", True),
    ]
    assert found.left_out == ()
    assert sum(p.volume_ul for p in found.portions) + found.spare_ul == 3000
    assert found.portions[2].dead_ul == shipped().dead_volume("core", "evacuated").dead_ul
    assert found.portions[0].dead_ul == shipped().dead_volume("endocrine", "micro").dead_ul
    assert found.portions[2].label == "Na TSH"


def test_what_keeps_least_comes_first_then_what_is_wanted_most() -> None:
    """Gastrin before potassium before the rest, whatever the requester's numbers."""
    asked = orders(("gastrin", 5), ("potassium", 1), ("vitamin-d", 4))
    one = divide(asked, 260, shipped())
    assert {test for p in one.portions for test in p.tests} == {"gastrin"}
    two = divide(asked, 260 + 90, shipped())
    assert {test for p in two.portions for test in p.tests} == {"gastrin", "potassium"}
    assert [left.test for left in two.left_out] == ["vitamin-d"]
    assert [(f.code, f.subject) for f in two.findings] == [("aliquot-short", "vitamin-d")]


def test_a_station_that_takes_few_tests_gets_more_tubes() -> None:
    """More tests than one tube of the station serves: a second portion, a second dead volume."""
    catalogue = shipped()
    found = divide(orders(*((code, 3) for code in SERUM)), 100_000, catalogue)
    assert found.left_out == ()
    pots = Counter((portion.station, portion.condition) for portion in found.portions)
    assert max(pots.values()) > 1
    for portion in found.portions:
        assert len(portion.tests) <= catalogue.stations[portion.station].max_tests_per_tube
        volumes = sum(catalogue.volume_ul(test) for test in portion.tests)
        assert portion.volume_ul == volumes + portion.dead_ul


def test_citrate_plasma_keeps_its_lowest_part_and_is_never_poured() -> None:
    """The top three quarters, a pipette, and a second spin before the freezer."""
    found = divide(orders(("pt-inr", 1), ("factor-viii", 3)), 1000, shipped(), citrate=True)
    assert sum(p.volume_ul for p in found.portions) <= 750
    assert {f.code for f in found.findings} == {"never-pour", "platelet-poor", "spin-second"}
    short = divide(orders(("pt-inr", 1)), 130, shipped(), citrate=True)
    assert [left.test for left in short.left_out] == ["pt-inr"]


def test_what_is_not_in_the_catalogue_is_refused() -> None:
    """A test and a volume that cannot be."""
    with pytest.raises(InputError, match="no test"):
        divide(orders(("gold", 1)), 100, shipped())
    with pytest.raises(InputError, match="cannot be"):
        divide([], -1, shipped())


def levels_of(found: Division, asked: list[OrderedTest]) -> list[tuple[tuple[int, int], str]]:
    """The level of each test, by a division that has enough for it."""
    catalogue = shipped()
    told = []
    for one in asked:
        keeps = [
            row.keeps_h
            for row in catalogue.stability(one.code)
            if row.matrix == "serum_plasma" and row.condition in ("room", "fridge")
        ]
        labile = bool(keeps) and max(keeps) <= catalogue.number("aliquot_labile_h")
        must = one.priority <= catalogue.number("aliquot_must_priority")
        told.append(((1 if labile else 2 if must else 3, one.priority), one.code))
    return told


def best_numbers(asked: list[OrderedTest], available: int) -> tuple[int, ...]:
    """Served tests by level, by trying every set of tests."""
    catalogue = shipped()
    level = {code: at for at, code in levels_of(divide(asked, 10**6, catalogue), asked)}
    whole = divide(asked, 10**6, catalogue)
    portion_of = {test: (p.station, p.condition) for p in whole.portions for test in p.tests}
    all_levels = sorted(set(level.values()))
    best = (-1,) * len(all_levels)
    for size in range(len(asked) + 1):
        for chosen in itertools.combinations(level, size):
            pots: dict[tuple[str, str], int] = {}
            for test in chosen:
                pots[portion_of[test]] = pots.get(portion_of[test], 0) + 1
            cost = sum(catalogue.volume_ul(test) for test in chosen)
            for (station, _), number in pots.items():
                most = catalogue.stations[station].max_tests_per_tube
                dead = catalogue.dead_volume(station, "micro").dead_ul
                cost += -(-number // most) * dead
            if cost <= available:
                numbers = tuple(sum(level[t] == each for t in chosen) for each in all_levels)
                best = max(best, numbers)
    return best


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(st.sampled_from(SERUM), st.integers(1, 5)),
        min_size=1, max_size=8, unique_by=lambda pair: pair[0],
    ),
    st.integers(0, 1500),
)  # fmt: skip
def test_the_division_is_exact_by_priority(asked: list[tuple[str, int]], available: int) -> None:
    """As many of the first level as any set of tests could have, then of the second, and so on."""
    tests = orders(*asked)
    found = divide(tests, available, shipped())
    level = {code: at for at, code in levels_of(found, tests)}
    served = {test for portion in found.portions for test in portion.tests}
    numbers = tuple(sum(level[t] == each for t in served) for each in sorted(set(level.values())))
    assert numbers == best_numbers(tests, available)
    assert sum(portion.volume_ul for portion in found.portions) + found.spare_ul == available
    assert found.spare_ul >= 0
    assert served | {left.test for left in found.left_out} == set(level)
