"""Requisitions in the record, on both databases: whole or not at all, numbers given once."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from cubital.accession import is_sound
from cubital.desk.record import selectors
from cubital.desk.record.models import Patient, Place, Requisition, RequisitionTest
from cubital.desk.record.requisitions import (
    accessions_give,
    requisition_add,
    requisition_cancel,
    requisition_drawn,
    requisition_number_give,
    requisitions_add,
)
from cubital.errors import InputError
from cubital.requisition import requisition_to
from cubital.requisition.values import Answers, OrderedTest
from cubital.requisition.values import Patient as DomainPatient
from cubital.requisition.values import Requisition as DomainRequisition

AT = datetime(2026, 11, 25, 7, 30, tzinfo=UTC)
DAY = date(2026, 11, 25)
ASKED = DomainRequisition(
    number="A/7",
    patient=DomainPatient(number="N-1", family_name="Ferrin", birth_date=date(1990, 1, 2)),
    tests=(OrderedTest("tsh", 1), OrderedTest("potassium", 5, ("renal",)), OrderedTest("fbc", 9)),
    collect_at=AT,
    requester="Dr Halvek",
    ward="Ward 3",
    urgent=True,
    answers=Answers(fasting_h=12.5, next_dose_due=False, seated_min=15),
    remarks="two\nlines",
)


def valley() -> Place:
    """The laboratory."""
    return Place.objects.get(code="valley")


def add(asked: DomainRequisition = ASKED) -> Requisition:
    """Store it."""
    return requisition_add(requisition=asked, document=requisition_to(asked), place=valley())


def test_a_requisition_comes_back_as_it_went_in(database: str) -> None:
    """Every field in its order, and the JSON shape exactly as it came."""
    add()
    row = selectors.requisition_by_number("A/7")
    assert row is not None
    assert row.to_domain() == ASKED
    assert row.document == requisition_to(ASKED)


def test_many_are_stored_whole_or_not_at_all(database: str) -> None:
    """The third repeats a number: neither the first two nor their patients stay."""
    others = [replace(ASKED, number=n, patient=replace(ASKED.patient, number=n)) for n in "xyx"]
    before = (Requisition.objects.count(), Patient.objects.count(), RequisitionTest.objects.count())
    with pytest.raises(InputError, match="already on the desk"):
        requisitions_add(
            requisitions=[(each, requisition_to(each)) for each in others], place=valley()
        )
    assert before == (
        Requisition.objects.count(), Patient.objects.count(), RequisitionTest.objects.count(),
    )  # fmt: skip


def test_cancelled_or_drawn_it_waits_no_more(database: str) -> None:
    """Each state is reached once, from waiting; blood that was drawn is counted."""
    row = add()
    with pytest.raises(InputError, match="with a reason"):
        requisition_cancel(requisition=row, why="  ", now=AT)
    requisition_drawn(requisition=row, taken_at=AT, volume_ul=8000)
    assert row.patient.prior_draws.get().volume_ul == 8000
    for refused in (
        lambda: requisition_drawn(requisition=row, taken_at=AT, volume_ul=1),
        lambda: requisition_cancel(requisition=row, why="late", now=AT),
    ):
        with pytest.raises(InputError, match="is drawn, it does not wait"):
            refused()
    assert row.patient.prior_draws.count() == 1


def test_accession_numbers_are_sound_stay_and_are_never_given_twice(database: str) -> None:
    """Asked again, a container keeps its number; two requisitions share none."""
    first, second = add(), add(replace(ASKED, number="A/8"))
    containers = [(1, "citrate-2.7"), (2, "edta-3")]
    given = accessions_give(requisition=first, containers=containers, day=DAY)
    again = accessions_give(requisition=first, containers=[*containers, (3, "gel-5")], day=DAY)
    other = accessions_give(requisition=second, containers=containers, day=DAY)
    assert given.items() <= again.items()
    numbers = [*again.values(), *other.values()]
    assert len(set(numbers)) == 5
    assert all(is_sound(number) and number.startswith("OL261125") for number in numbers)


def test_another_day_begins_anew(database: str) -> None:
    """The running number is of the day, so the numbers differ by the day."""
    one = accessions_give(requisition=add(), containers=[(1, "edta-3")], day=DAY)
    row = add(replace(ASKED, number="A/8"))
    two = accessions_give(requisition=row, containers=[(1, "edta-3")], day=DAY + timedelta(1))
    assert one[1][8:12] == two[1][8:12] == "0001"


def test_requisition_numbers_skip_those_that_are_there(database: str) -> None:
    """A hand-written number of the same form is not given a second time."""
    add(replace(ASKED, number="OL-261125-001"))
    number = requisition_number_give(place=valley(), day=DAY)
    assert number == "OL-261125-002"


def test_a_scan_finds_by_number_or_label(database: str) -> None:
    """In small letters, with blanks, or by the number on a tube; a misread label finds nothing."""
    row = add()
    number = accessions_give(requisition=row, containers=[(1, "edta-3")], day=DAY)[1]
    wrong = number[:-1] + ("0" if number[-1] != "0" else "1")
    for text in ("a/7", number, number.lower(), f"{number[:5]} {number[5:]}"):
        assert selectors.requisition_scanned(text) == row, text
    for text in (wrong, "", "A/77"):
        assert selectors.requisition_scanned(text) is None, text


def test_a_day_is_that_of_the_place(database: str) -> None:
    """What is drawn at half past eleven in the evening of UTC belongs to the next day in Zurich."""
    place = valley()
    Place.objects.filter(pk=place.pk).update(time_zone="Europe/Zurich")
    add(replace(ASKED, collect_at=datetime(2026, 11, 25, 23, 30, tzinfo=UTC)))
    place.refresh_from_db()
    days = {
        day: selectors.requisitions_of_day(place=place, day=day).filter(number="A/7").count()
        for day in (DAY, DAY + timedelta(1))
    }
    assert days == {DAY: 0, DAY + timedelta(1): 1}


def test_neighbours_are_of_the_same_patient_near_in_time_and_not_cancelled(database: str) -> None:
    """Only those can be the same test asked for twice."""
    row = add()
    near = add(replace(ASKED, number="near", collect_at=AT + timedelta(hours=3)))
    add(replace(ASKED, number="far", collect_at=AT + timedelta(days=3)))
    cancelled = add(replace(ASKED, number="cancelled"))
    requisition_cancel(requisition=cancelled, why="late", now=AT)
    add(replace(ASKED, number="other", patient=replace(ASKED.patient, number="N-2")))
    found = selectors.others_near([row], timedelta(hours=12))
    assert {each.number for each in found[row.patient_id]} == {row.number, near.number}
    assert selectors.others_near([], timedelta(hours=12)) == {}
