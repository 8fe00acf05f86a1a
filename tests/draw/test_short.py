"""A short sample: what can still be done with the blood in the syringe."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cubital.draw import Lot, Place, ShortSample, what_fits
from cubital.draw.needs import ask
from cubital.errors import InputError
from cubital.requisition.values import OrderedTest, Requisition
from tests.draw.asking import CATALOGUE, SEA_LEVEL, asked, scene, sentences
from tests.draw.hands import MORNING, TODAY, someone
from tests.strategies import places, requisitions


def fits(requisition: Requisition, obtained_ul: int, place: Place = SEA_LEVEL) -> ShortSample:
    """The answer on the morning of the tests."""
    return what_fits(requisition, obtained_ul, CATALOGUE, place, now=MORNING)


def served(answer: ShortSample) -> set[str]:
    """The tests that can be done."""
    return {test.code for container in answer.containers for test in container.tests}


def test_three_and_a_half_millilitres_are_shared_by_priority() -> None:
    """Citrate takes its full mark, the count its minimum; what is left decides about the rest."""
    tests = tuple(
        OrderedTest(code, priority)
        for code, priority in (("fbc", 1), ("pt-inr", 2), ("creatinine", 3), ("zinc", 4))
    )
    requisition = Requisition("R-1", someone(weight_g=62_000, sex="female"), tests, MORNING)
    answer = fits(requisition, 3400)
    assert {"fbc", "pt-inr", "creatinine"} <= served(answer)
    citrate = next(c for c in answer.containers if c.additive == "na_citrate_9nc")
    assert citrate.fill_ul == CATALOGUE.containers[citrate.container].nominal_ul
    assert answer.used_ul == sum(c.fill_ul for c in answer.containers)
    assert answer.used_ul + answer.left_ul == 3400
    assert sentences(answer.findings, "syringe-clot")


def test_citrate_gets_its_mark_or_nothing() -> None:
    """One microlitre under the smallest mark and coagulation cannot be done."""
    marks = [
        c.nominal_ul for c in CATALOGUE.containers.values()
        if c.additive == "na_citrate_9nc" and c.in_use
    ]  # fmt: skip
    assert served(fits(asked("pt-inr"), min(marks))) == {"pt-inr"}
    short = fits(asked("pt-inr"), min(marks) - 1)
    assert served(short) == set()
    (missing,) = short.not_done
    assert missing.test == "pt-inr"
    assert "takes at least" in missing.reason.sentence
    assert sentences(short.findings, "short-sample")


def test_the_requesters_first_wish_wins_over_two_smaller_ones() -> None:
    """Priority 1 before any number of priority 2."""
    patient = someone(weight_g=62_000)
    wishes = (OrderedTest("fbc", 2), OrderedTest("hba1c", 2), OrderedTest("pt-inr", 1))
    answer = fits(Requisition("R-1", patient, wishes, MORNING), 1800)
    assert served(answer) == {"pt-inr"}
    equal = tuple(replace(one, priority=1) for one in wishes)
    assert served(fits(Requisition("R-1", patient, equal, MORNING), 1800)) == {"fbc", "hba1c"}


def test_the_aim_of_the_age_decides_how_the_served_tests_are_shared_out() -> None:
    """An adult's go into few tubes, a small child's into what takes the least."""
    adult = fits(asked("renal", "fbc"), 6000)
    child = fits(asked("renal", "fbc", patient=someone(1000, weight_g=14_000)), 6000)
    assert served(adult) == served(child)
    assert len(adult.containers) <= len(child.containers)
    assert child.used_ul <= adult.used_ul


def test_a_gas_syringe_is_filled_from_the_vein_only() -> None:
    """Blood that has been in another syringe has met air."""
    (missing,) = fits(asked("blood-gas"), 5000).not_done
    assert "straight from the vein" in missing.reason.sentence


def test_altitude_does_not_matter_to_blood_in_a_syringe() -> None:
    """The transfer fills to the mark, whatever the vacuum would draw."""
    here = fits(asked("pt-inr", "fbc"), 4000)
    there = fits(asked("pt-inr", "fbc"), 4000, Place(altitude_m=3400))
    assert [c.fill_ul for c in here.containers] == [c.fill_ul for c in there.containers]


def test_only_what_is_on_the_shelf_is_filled() -> None:
    """With one EDTA tube on hand the count is done and coagulation is not."""
    shelf = (Lot("edta-3", "E", TODAY, 1),)
    answer = fits(asked("fbc", "pt-inr"), 9000, Place(lots=shelf))
    assert served(answer) == {"fbc"}
    assert [c.lot for c in answer.containers] == ["E"]
    assert [one.test for one in answer.not_done] == ["pt-inr"]


def test_an_empty_syringe_does_nothing_and_a_negative_one_is_refused() -> None:
    """0 is an answer, less is not a volume."""
    assert served(fits(asked("fbc"), 0)) == set()
    with pytest.raises(InputError, match="-1 µL"):
        fits(asked("fbc"), -1)


@settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(requisitions(max_tests=8), places(), st.integers(0, 15_000))
def test_no_drop_is_lost_or_made(requisition: Requisition, place: Place, obtained: int) -> None:
    """Every test is done or listed; fills stay within the syringe, the marks and the limits."""
    answer = fits(requisition, obtained, place)
    missing = [one.test for one in answer.not_done]
    codes = {ordered.code for ordered in requisition.tests}
    assert served(answer) | set(missing) == codes
    assert not served(answer) & set(missing)
    assert len(missing) == len(set(missing))
    assert answer.used_ul == sum(c.fill_ul for c in answer.containers) <= obtained
    needs = {one.test.code: one for one in ask(requisition.tests, scene(requisition, place))}
    for container in answer.containers:
        row = CATALOGUE.containers[container.container]
        limit = CATALOGUE.fill_limit(container.additive, place.choices)
        assert container.fill_ul <= row.nominal_ul
        if limit.to_the_mark:
            assert container.fill_ul == row.nominal_ul
        elif row.form != "culture_bottle":
            assert container.fill_ul * 100 >= row.nominal_ul * limit.minimum_percent
        for test in container.tests:
            assert container.additive in {a.additive for a in needs[test.code].accepted}


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(requisitions(max_tests=6), st.integers(0, 8000), st.integers(0, 4000))
def test_more_blood_never_serves_less(requisition: Requisition, less: int, more: int) -> None:
    """By the requester's priorities, from the first down."""
    ladder = sorted({one.priority for one in requisition.tests})
    merits = []
    for obtained in (less, less + more):
        done = served(fits(requisition, obtained))
        merits.append(
            [sum(t.priority == p and t.code in done for t in requisition.tests) for p in ladder]
        )
    assert merits[0] <= merits[1]
