"""Patients in the record, on both databases: met, changed, never mixed up."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from cubital.desk.record import selectors
from cubital.desk.record.models import Patient, Place
from cubital.desk.record.patients import (
    patient_add,
    patient_change,
    patient_draw_add,
    patient_meet,
    patient_number_give,
)
from cubital.errors import InputError
from cubital.requisition.values import Condition, PriorDraw
from cubital.requisition.values import Patient as DomainPatient

AT = datetime(2026, 11, 25, 7, 30, tzinfo=UTC)
TUVA = DomainPatient(
    number="N-1",
    family_name="தமிழ்",
    given_name="तुवा 明",
    birth_date=date(2019, 2, 3),
    sex="female",
    weight_g=21_500,
    haematocrit_percent=38.5,
    veins="thin",
    conditions=(Condition("infusion", "left"), Condition("latex_allergy")),
    prior_draws=(PriorDraw(AT, 3000),),
)


def known() -> DomainPatient:
    """The patient as the record holds them."""
    row = selectors.patient_by_number("N-1")
    assert row is not None
    return row.to_domain()


def test_a_patient_comes_back_as_they_went_in(database: str) -> None:
    """Every field, any script, conditions and earlier draws."""
    patient_add(patient=TUVA)
    assert known() == TUVA


def test_a_number_is_given_to_one_person(database: str) -> None:
    """Registering it again is refused and changes nothing."""
    patient_add(patient=TUVA)
    with pytest.raises(InputError, match="already registered"):
        patient_add(patient=replace(TUVA, family_name="Else"))
    assert known() == TUVA


def test_a_later_requisition_brings_news_and_drops_nothing(database: str) -> None:
    """A weight replaces, what it does not say stays, conditions and draws are added once."""
    patient_add(patient=TUVA)
    news = replace(
        TUVA,
        weight_g=22_000,
        haematocrit_percent=None,
        veins="unknown",
        conditions=(Condition("infusion", "left"), Condition("needle_fear")),
        prior_draws=(PriorDraw(AT, 3000), PriorDraw(AT, 500)),
    )
    patient_meet(patient=news)
    now = known()
    assert (now.weight_g, now.haematocrit_percent, now.veins) == (22_000, 38.5, "thin")
    assert {c.code for c in now.conditions} == {"infusion", "latex_allergy", "needle_fear"}
    assert sorted(d.volume_ul for d in now.prior_draws) == [500, 3000]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"family_name": "Else"}, "another name"),
        ({"birth_date": date(2019, 2, 4)}, "another birth date"),
        ({"sex": "male"}, "another sex"),
        ({"number": ""}, "no number"),
    ],
)
def test_somebody_elses_number_is_refused(
    database: str, change: dict[str, object], words: str
) -> None:
    """A number with another name, birth date or sex is not the same person."""
    patient_add(patient=TUVA)
    with pytest.raises(InputError, match=words):
        patient_meet(patient=replace(TUVA, **change))
    assert known() == TUVA


def test_what_was_unknown_is_filled_in(database: str) -> None:
    """A birth date or sex that nobody knew is taken from who knows it."""
    patient_add(patient=replace(TUVA, birth_date=None, sex="unknown"))
    patient_meet(patient=TUVA)
    assert (known().birth_date, known().sex) == (TUVA.birth_date, "female")


def test_a_change_replaces_what_is_known_but_the_number(database: str) -> None:
    """The patient's page says how it is; blood that was taken stays taken."""
    row = patient_add(patient=TUVA)
    changed = replace(TUVA, weight_g=None, conditions=(Condition("fistula", "right"),))
    patient_change(row=row, patient=changed)
    assert known() == changed
    with pytest.raises(InputError, match="cannot change"):
        patient_change(row=row, patient=replace(TUVA, number="N-2"))


def test_the_same_draw_counts_once(database: str) -> None:
    """Told twice, it was one draw."""
    row = patient_add(patient=replace(TUVA, prior_draws=()))
    for _ in range(2):
        patient_draw_add(patient=row, taken_at=AT, volume_ul=2500)
    assert known().prior_draws == (PriorDraw(AT, 2500),)


def test_numbers_that_are_given_skip_those_that_are_there(database: str) -> None:
    """A hand-written number of the same form is not given a second time."""
    place = Place.objects.get(code="valley")
    patient_add(patient=replace(TUVA, number="OLP00001"))
    assert [patient_number_give(place=place) for _ in range(2)] == ["OLP00002", "OLP00003"]


def test_searching_by_number_and_by_words_of_the_name(database: str) -> None:
    """An exact number is alone; words may stand in any order; nothing finds nobody."""
    patient_add(patient=replace(TUVA, number="N-1", family_name="Ferrin", given_name="Tuva Liv"))
    patient_add(patient=replace(TUVA, number="N-12", family_name="Ferrin", given_name="Ole"))
    numbers = {
        text: [row.number for row in selectors.patients_found(text)]
        for text in ("N-1", "n-1", "ferrin", "liv, fer", "ferrin liv xx", " ", "%", "_")
    }
    assert numbers == {
        "N-1": ["N-1"],
        "n-1": ["N-12", "N-1"],
        "ferrin": ["N-12", "N-1"],
        "liv, fer": ["N-1"],
        "ferrin liv xx": [],
        " ": [],
        "%": [],
        "_": [],
    }


def test_a_twin_is_found_by_name_and_birth_date(database: str) -> None:
    """Case does not matter; another birth date, or one that cannot be read, is nobody."""
    patient_add(patient=replace(TUVA, family_name="Ferrin", given_name="Tuva"))
    twin = selectors.patient_twin("FERRIN", "tuva", "2019-02-03")
    assert twin == Patient.objects.get(number="N-1")
    assert selectors.patient_twin("Ferrin", "Tuva", "2019-02-04") is None
    assert selectors.patient_twin("Ferrin", "Tuva", "soon") is None
