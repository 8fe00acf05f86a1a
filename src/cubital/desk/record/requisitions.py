"""Writes: requisitions, their numbers, and the accession numbers of their containers."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from typing import Any

from django.db import transaction

from cubital.accession import accession_number
from cubital.desk.record.checking import checked
from cubital.desk.record.models import (
    Accession,
    Person,
    Place,
    Requisition,
    RequisitionState,
    RequisitionTest,
)
from cubital.desk.record.numbers import next_number
from cubital.desk.record.patients import patient_draw_add, patient_meet
from cubital.errors import InputError
from cubital.requisition.values import Requisition as DomainRequisition


def requisition_add(
    *,
    requisition: DomainRequisition,
    document: Mapping[str, Any],
    place: Place,
    by: Person | None = None,
) -> Requisition:
    """
    Store one requisition with its patient, whole or not at all.

    Raises:
        InputError: its number is taken, or its patient number belongs to somebody else.
    """
    with transaction.atomic():
        if Requisition.objects.filter(number=requisition.number).exists():
            raise InputError(
                f"Requisition {requisition.number} is already on the desk",
                mend="Open it from the list, or give this one another number.",
            )
        answers = requisition.answers
        row = Requisition(
            number=requisition.number,
            place=place,
            patient=patient_meet(patient=requisition.patient),
            collect_at=requisition.collect_at,
            requester=requisition.requester,
            ward=requisition.ward,
            urgent=requisition.urgent,
            remarks=requisition.remarks,
            fasting_h=answers.fasting_h,
            since_dose_h=answers.since_dose_h,
            next_dose_due=answers.next_dose_due,
            seated_min=answers.seated_min,
            supine_min=answers.supine_min,
            document=dict(document),
            entered_by=by,
        )
        checked(row)
        row.save(force_insert=True)
        RequisitionTest.objects.bulk_create(
            RequisitionTest(
                requisition=row,
                position=position,
                code=test.code,
                priority=test.priority,
                through=list(test.through),
            )
            for position, test in enumerate(requisition.tests, start=1)
        )
    return row


def requisitions_add(
    *,
    requisitions: Sequence[tuple[DomainRequisition, Mapping[str, Any]]],
    place: Place,
    by: Person | None = None,
) -> list[Requisition]:
    """
    Store the requisitions of a file: all of them or none.

    Raises:
        InputError: as for :func:`requisition_add`.
    """
    with transaction.atomic():
        return [
            requisition_add(requisition=each, document=document, place=place, by=by)
            for each, document in requisitions
        ]


def requisition_cancel(
    *, requisition: Requisition, why: str, now: datetime, by: Person | None = None
) -> None:
    """
    Take back a requisition that waits; who did it, and when, stays with it.

    Raises:
        InputError: no reason given, or it does not wait any more.
    """
    if not why.strip():
        raise InputError(
            "A requisition is cancelled with a reason", mend="Write it in a few words."
        )
    with transaction.atomic():
        row = Requisition.objects.select_for_update().get(pk=requisition.pk)
        waiting(row)
        row.state, row.cancelled_why = RequisitionState.CANCELLED, why.strip()
        row.cancelled_by, row.cancelled_at = by, now
        checked(row)
        row.save(update_fields=["state", "cancelled_why", "cancelled_by", "cancelled_at"])


def requisition_drawn(*, requisition: Requisition, taken_at: datetime, volume_ul: int) -> None:
    """
    Note that the blood was taken; it counts against the patient's next draw.

    Raises:
        InputError: the requisition does not wait any more.
    """
    with transaction.atomic():
        row = Requisition.objects.select_for_update().get(pk=requisition.pk)
        waiting(row)
        row.state = RequisitionState.DRAWN
        row.save(update_fields=["state"])
        patient_draw_add(patient=row.patient, taken_at=taken_at, volume_ul=volume_ul)


def waiting(row: Requisition) -> None:
    """Refuse what has been drawn or cancelled."""
    if row.state != RequisitionState.WAITING:
        raise InputError(f"Requisition {row.number} is {row.get_state_display()}, it does not wait")


def requisition_number_give(*, place: Place, day: date) -> str:
    """Make a requisition number that nobody else gets, for one that came without."""
    with transaction.atomic():
        while True:
            serial = next_number(f"requisition {place.letters} {day:%y%m%d}")
            number = f"{place.letters}-{day:%y%m%d}-{serial:03d}"
            if not Requisition.objects.filter(number=number).exists():
                return number


def accessions_give(
    *, requisition: Requisition, containers: Iterable[tuple[int, str]], day: date
) -> dict[int, str]:
    """
    Number the containers of a plan, given as (position, container code).

    A container that has its number keeps it: labels printed twice are the same labels.
    """
    given: dict[int, str] = {}
    with transaction.atomic():
        letters = requisition.place.letters
        known = {
            (row.position, row.container): row.number
            for row in Accession.objects.filter(requisition=requisition)
        }
        for position, container in containers:
            number = known.get((position, container))
            if number is None:
                serial = next_number(f"accession {letters} {day:%y%m%d}")
                number = accession_number(letters, day, serial)
                Accession.objects.create(
                    number=number,
                    requisition=requisition,
                    position=position,
                    container=container,
                )
            given[position] = number
    return given
