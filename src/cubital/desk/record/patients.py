"""Writes: the person who is pricked."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from cubital.desk.record.checking import checked
from cubital.desk.record.models import Patient, PatientCondition, PatientDraw, Place
from cubital.desk.record.numbers import next_number
from cubital.errors import InputError
from cubital.requisition.values import Condition, PriorDraw
from cubital.requisition.values import Patient as DomainPatient

FACTS = ("weight_g", "height_mm", "haematocrit_percent")


def patient_add(*, patient: DomainPatient) -> Patient:
    """
    Register a patient.

    Raises:
        InputError: the number is taken, or a value that the record cannot hold.
    """
    if Patient.objects.filter(number=patient.number).exists():
        raise InputError(
            f"Patient number {patient.number} is already registered",
            mend="Search for it, or give this person a number of their own.",
        )
    row = Patient(
        number=patient.number,
        family_name=patient.family_name,
        given_name=patient.given_name,
        birth_date=patient.birth_date,
        sex=patient.sex,
        weight_g=patient.weight_g,
        height_mm=patient.height_mm,
        haematocrit_percent=patient.haematocrit_percent,
        veins=patient.veins,
    )
    checked(row)
    with transaction.atomic():
        row.save(force_insert=True)
        conditions_add(row, patient.conditions)
        draws_add(row, patient.prior_draws)
    return row


def patient_change(*, row: Patient, patient: DomainPatient) -> None:
    """
    Replace what is known about a patient; the number stays.

    Raises:
        InputError: another number, or a value that the record cannot hold.
    """
    if patient.number != row.number:
        raise InputError("A patient's number cannot change", row.number)
    for key in ("family_name", "given_name", "birth_date", "sex", "veins", *FACTS):
        setattr(row, key, getattr(patient, key))
    checked(row)
    with transaction.atomic():
        row.save()
        row.conditions.all().delete()
        conditions_add(row, patient.conditions)


def patient_meet(*, patient: DomainPatient) -> Patient:
    """
    Find the patient a requisition names, or register them; keep what the requisition knows newer.

    A weight, height, haematocrit or vein note that it gives replaces the one on record; conditions
    and earlier draws are added, and none is dropped.

    Raises:
        InputError: no number, or one that is on record under another name, birth date or sex.
    """
    if not patient.number:
        raise InputError(
            "The patient has no number", "patient", "Write the number from the wristband or card."
        )
    row = Patient.objects.filter(number=patient.number).first()
    if row is None:
        return patient_add(patient=patient)
    same_person(row, patient)
    for key in FACTS:
        if getattr(patient, key) is not None:
            setattr(row, key, getattr(patient, key))
    if patient.veins != "unknown":
        row.veins = patient.veins
    row.birth_date = row.birth_date or patient.birth_date
    if row.sex == "unknown":
        row.sex = patient.sex
    checked(row)
    with transaction.atomic():
        row.save()
        conditions_add(row, patient.conditions)
        draws_add(row, patient.prior_draws)
    return row


def same_person(row: Patient, patient: DomainPatient) -> None:
    """Refuse a number that the record knows as somebody else's."""
    mend = "Check the number on the wristband; if the record is wrong, mend the patient's page."
    if (row.family_name, row.given_name) != (patient.family_name, patient.given_name):
        raise InputError(
            f"Patient number {row.number} is registered under another name", "patient", mend
        )
    if patient.birth_date and row.birth_date and patient.birth_date != row.birth_date:
        raise InputError(
            f"Patient number {row.number} is registered with another birth date", "patient", mend
        )
    if "unknown" not in (patient.sex, row.sex) and patient.sex != row.sex:
        raise InputError(
            f"Patient number {row.number} is registered with another sex", "patient", mend
        )


def patient_draw_add(*, patient: Patient, taken_at: datetime, volume_ul: int) -> None:
    """Count blood taken against the limits of the next draw; the same draw twice counts once."""
    with transaction.atomic():
        draws_add(patient, (PriorDraw(taken_at=taken_at, volume_ul=volume_ul),))


def conditions_add(row: Patient, conditions: tuple[Condition, ...]) -> None:
    """Add each condition that is not yet there."""
    for each in conditions:
        PatientCondition.objects.get_or_create(
            patient=row, code=each.code, side=each.side, site=each.site
        )


def draws_add(row: Patient, draws: tuple[PriorDraw, ...]) -> None:
    """Add each draw that is not yet there."""
    for each in draws:
        PatientDraw.objects.get_or_create(
            patient=row, taken_at=each.taken_at, volume_ul=each.volume_ul
        )


def patient_number_give(*, place: Place) -> str:
    """Make a patient number that nobody else gets, for a person who came without one."""
    with transaction.atomic():
        while True:
            number = f"{place.letters}P{next_number(f'patient {place.letters}'):05d}"
            if not Patient.objects.filter(number=number).exists():
                return number
