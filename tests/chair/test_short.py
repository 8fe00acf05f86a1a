"""Too little blood at the chair: only the tubes in the hand, and each test told."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cubital.catalogue import shipped
from cubital.chair import chair_sheet
from cubital.chair.short import short_table, short_to, step_of, still_possible
from cubital.chair.values import Sheet
from cubital.draw import Place, plan_draw
from cubital.errors import InputError
from cubital.requisition.values import OrderedTest, Patient, Requisition

AT = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)
PLACE = Place()
TESTS = ("creatinine", "fbc", "hba1c", "glucose")
ORDER = Requisition(
    "R-1",
    Patient("1", "Ash", "Bo", AT.date().replace(year=1980), "female", weight_g=60_000),
    tuple(OrderedTest(code, priority) for priority, code in enumerate(TESTS, start=1)),
    AT,
    "Dr Halvek",
)


def made() -> Sheet:
    """Its sheet."""
    plan = plan_draw(ORDER, shipped(), PLACE, now=AT)
    numbers = {c.position: f"A{c.position}" for c in plan.containers}
    return chair_sheet(
        plan, ORDER, shipped(), numbers, draw="", site="valley", today=AT.date(), labels="before"
    )


SHEET = made()
WHOLE = sum(tube.fill_ul for tube in SHEET.tubes)


def ask(ul: int, **more):
    """What so much blood still gives."""
    return still_possible(SHEET, ORDER, ul, shipped(), PLACE, now=AT, **more)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, WHOLE))
def test_only_tubes_in_the_hand_and_never_more_blood_than_there_is(ul: int) -> None:
    """Labelled tubes of the sheet, in its order, no drop too much, every test served or told."""
    answer = ask(ul)
    order = [tube.accession for tube in SHEET.tubes]
    filled = [fill.accession for fill in answer.fills]
    assert filled == [number for number in order if number in filled]
    assert set(filled) | set(answer.left_out) == set(order)
    assert sum(fill.fill_ul for fill in answer.fills) <= ul
    served = {test for fill in answer.fills for test in fill.tests}
    told = {finding.subject for finding in answer.missed}
    assert set(TESTS) <= served | told


def test_no_blood_leaves_everything_out() -> None:
    """Each test is missed with a sentence."""
    answer = ask(0)
    assert answer.fills == ()
    assert {f.subject for f in answer.missed} == set(TESTS)


def test_the_first_priority_comes_first() -> None:
    """With little blood the requester's most wanted test is served."""
    first = next(ul for ul in range(0, WHOLE, 100) if ask(ul).fills)
    assert "creatinine" in ask(first).fills[0].tests


def test_what_is_drawn_is_done_and_what_is_gone_is_not() -> None:
    """A drawn tube's tests are asked for no more; those of a spoilt tube still are."""
    serum = next(t for t in SHEET.tubes if "creatinine" in t.tests)
    drawn = ask(0, drawn={serum.accession})
    assert "creatinine" not in {f.subject for f in drawn.missed}
    gone = ask(0, gone={serum.accession})
    assert "creatinine" in {f.subject for f in gone.missed}
    for answer in (drawn, gone):
        assert serum.accession not in answer.left_out
    everything = ask(5000, drawn={tube.accession for tube in SHEET.tubes})
    assert (everything.fills, everything.left_out, everything.missed) == ((), (), ())


def test_a_negative_volume_is_refused() -> None:
    """With a sentence."""
    with pytest.raises(InputError, match="volume"):
        ask(-1)


def test_the_table_answers_as_the_question_does() -> None:
    """For each number of tubes drawn in order and each step, the table holds the same answer."""
    table = short_table(SHEET, ORDER, shipped(), PLACE, now=AT)
    step = table["step_ul"]
    assert step == step_of(SHEET) == 500
    assert len(table["after"]) == len(SHEET.tubes)
    for count, row in enumerate(table["after"]):
        drawn = {tube.accession for tube in SHEET.tubes[:count]}
        left = sum(tube.fill_ul for tube in SHEET.tubes[count:])
        assert (len(row) - 1) * step < left <= len(row) * step
        for at in (0, len(row) // 2, len(row) - 1):
            assert row[at] == short_to(ask(at * step, drawn=drawn), shipped())
