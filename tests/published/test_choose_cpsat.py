"""
The choice of containers against CP-SAT (OR-Tools), an independent general solver.

The model in ``tests/draw/cpsat.py`` is written from the statement of the question and shares no
code with the search.  Compared are all three objectives, and whether there is an answer at all.
``python -m benchmarks.choose`` compares thousands more, and larger ones.
"""

from __future__ import annotations

from itertools import chain

import pytest
from benchmarks import cases

from cubital.draw.choose import choose_containers
from tests.draw.cpsat import OutOfTimeError, optimum

SECONDS = 5.0
PARTS = 8
SAMPLE = [
    *cases.rough(100, seed=11, tests=(1, 9)),
    *cases.shipped(40, seed=11, tests=(1, 9)),
    *cases.shipped(20, seed=12, tests=(1, 9), stocked=1.0),
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


def theirs(case: cases.Case, *, trimmed: bool) -> tuple[int, int, int] | None:
    """The same by CP-SAT."""
    return optimum(
        case.needs,
        case.kinds,
        aim=case.aim,
        stock=case.stock,
        blood_limit_ul=case.blood_limit_ul,
        seconds=SECONDS,
        trimmed=trimmed,
    )


def test_the_sample_holds_every_kind_of_question() -> None:
    """With and without limit, stock and answer; both aims; fixed and flexible fills; own tubes."""
    assert {case.aim for case in SAMPLE} == {"fewest_tubes", "least_blood"}
    assert {case.blood_limit_ul is None for case in SAMPLE} == {True, False}
    assert {case.stock is None for case in SAMPLE} == {True, False}
    assert {ours(case) is None for case in SAMPLE} == {True, False}
    fills = chain.from_iterable(case.kinds for case in SAMPLE)
    assert {kind.fill_min_ul == kind.fill_max_ul for kind in fills} == {True, False}
    needs = chain.from_iterable(case.needs for case in SAMPLE)
    assert {need.own_tube for need in needs} == {True, False}


@pytest.mark.parametrize("part", range(PARTS))
def test_equal_in_every_objective(part: int) -> None:
    """Wherever CP-SAT proves its answer, the search gives the same; it proves nearly all."""
    proved = 0
    own = SAMPLE[part::PARTS]
    for case in own:
        try:
            expected = theirs(case, trimmed=True)
        except OutOfTimeError:
            continue
        proved += 1
        assert expected == ours(case), case.name
    assert proved >= 0.8 * len(own)


def test_no_tube_was_left_out_of_the_model_that_matters() -> None:
    """On small questions CP-SAT is offered a tube of each kind for each need, and agrees too."""
    small = [*cases.rough(30, seed=13, tests=(1, 5)), *cases.shipped(10, seed=13, tests=(1, 4))]
    proved = 0
    for case in small:
        try:
            expected = theirs(case, trimmed=False)
        except OutOfTimeError:
            continue
        proved += 1
        assert expected == ours(case), case.name
    assert proved >= 0.8 * len(small)
