"""
The choice of containers against CP-SAT (OR-Tools), an independent general solver.

The model in ``tests/draw/cpsat.py`` shares no code with the search.  Compared are all three
objectives, and whether there is an answer at all.  ``python -m benchmarks.choose`` compares
thousands more.
"""

from __future__ import annotations

from itertools import chain

import pytest
from benchmarks import cases

from cubital.draw.choose import choose_containers
from tests.draw.cpsat import OutOfTimeError, optimum

SECONDS = 5.0
SAMPLE = [
    *cases.rough(70, seed=11, tests=(1, 9)),
    *cases.shipped(50, seed=11, tests=(1, 9)),
]


def ours(case: cases.Case) -> tuple[int, int, int] | None:
    """Tubes, blood and preference of the search's answer."""
    found = choose_containers(
        case.needs,
        case.kinds,
        aim=case.aim,
        stock=case.stock,
        blood_limit_ul=case.blood_limit_ul,
    )
    return None if found is None else (len(found.tubes), found.blood_ul, found.preference)


def test_the_sample_holds_every_kind_of_question() -> None:
    """With and without limit, stock and answer; both aims; fixed and flexible fills."""
    assert {case.aim for case in SAMPLE} == {"fewest_tubes", "least_blood"}
    assert {case.blood_limit_ul is None for case in SAMPLE} == {True, False}
    assert {case.stock is None for case in SAMPLE} == {True, False}
    assert {ours(case) is None for case in SAMPLE} == {True, False}
    fills = chain.from_iterable(case.kinds for case in SAMPLE)
    assert {kind.fill_min_ul == kind.fill_max_ul for kind in fills} == {True, False}


@pytest.mark.parametrize("part", range(8))
def test_equal_in_every_objective(part: int) -> None:
    """Wherever CP-SAT proves its answer, the search gives the same; it proves nearly all."""
    proved = 0
    own = SAMPLE[part::8]
    for case in own:
        try:
            theirs = optimum(
                case.needs,
                case.kinds,
                aim=case.aim,
                stock=case.stock,
                blood_limit_ul=case.blood_limit_ul,
                seconds=SECONDS,
            )
        except OutOfTimeError:
            continue
        proved += 1
        assert ours(case) == theirs, case.name
    assert proved >= 0.8 * len(own)
