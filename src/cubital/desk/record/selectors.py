"""Reads: what the screens ask of the record."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet

from cubital.accession import read_accession
from cubital.desk.record.models import (
    Patient,
    Person,
    Place,
    Requisition,
    RequisitionState,
    StockLot,
)
from cubital.errors import InputError


def places() -> QuerySet[Place]:
    """Every place, by name."""
    return Place.objects.all()


def place_by_code(code: str) -> Place | None:
    """The place of that code."""
    return Place.objects.filter(code=code).first()


def place_at(code: str) -> Place:
    """The place of that code, which is known to be there."""
    return Place.objects.get(code=code)


def people() -> QuerySet[Person]:
    """Everybody, those who may sign in first."""
    return Person.objects.select_related("place").order_by("-is_active", "role", "username")


def day_bounds(day: date, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """The first moment of a local day and of the next."""
    start = datetime.combine(day, time.min, tzinfo=zone)
    return start, datetime.combine(day + timedelta(days=1), time.min, tzinfo=zone)


def requisitions_of_day(*, place: Place, day: date) -> QuerySet[Requisition]:
    """A place's requisitions of a local day: urgent first, then by time."""
    start, end = day_bounds(day, ZoneInfo(place.time_zone))
    return whole(Requisition.objects.filter(place=place, collect_at__gte=start, collect_at__lt=end))


def whole(rows: QuerySet[Requisition]) -> QuerySet[Requisition]:
    """With everything that ``to_domain`` reads, in a fixed number of queries."""
    return rows.select_related("patient", "place").prefetch_related(
        "tests", "patient__conditions", "patient__prior_draws"
    )


def requisition_by_number(number: str) -> Requisition | None:
    """The requisition of that number."""
    return whole(Requisition.objects.filter(number=number)).first()


def requisition_scanned(text: str) -> Requisition | None:
    """The requisition of a number as scanned: its own, or that of one of its labels."""
    if not text:
        return None
    row = whole(Requisition.objects.filter(number__iexact=text)).first()
    if row is not None:
        return row
    try:
        accession = read_accession(text)
    except InputError:
        return None
    return whole(Requisition.objects.filter(accessions__number=accession)).first()


def requisitions_of_patient(patient: Patient) -> QuerySet[Requisition]:
    """Newest first."""
    return (
        Requisition.objects.filter(patient=patient)
        .select_related("place")
        .prefetch_related("tests")
        .order_by("-collect_at")
    )


def others_near(rows: Collection[Requisition], window: timedelta) -> dict[int, list[Requisition]]:
    """
    Requisitions of the same patients near in time, not cancelled: where duplicates hide.

    Gives patient id -> requisitions, those asked about among them.
    """
    if not rows:
        return {}
    times = [row.collect_at for row in rows]
    found: dict[int, list[Requisition]] = {}
    near = Requisition.objects.filter(
        patient__in={row.patient_id for row in rows},
        collect_at__gte=min(times) - window,
        collect_at__lte=max(times) + window,
    ).exclude(state=RequisitionState.CANCELLED)
    for row in whole(near):
        found.setdefault(row.patient_id, []).append(row)
    return found


def patient_by_number(number: str) -> Patient | None:
    """The patient of that number."""
    return (
        Patient.objects.filter(number=number).prefetch_related("conditions", "prior_draws").first()
    )


def patients_found(text: str, *, limit: int = 12) -> list[Patient]:
    """
    Patients whose number begins so, or whose names hold every word.

    An exact number, as a scanner gives it, is alone in the answer.
    """
    text = text.strip()
    if not text:
        return []
    exact = Patient.objects.filter(number=text).first()
    if exact is not None:
        return [exact]
    by_name = Q()
    for word in text.replace(",", " ").split():
        by_name &= Q(family_name__icontains=word) | Q(given_name__icontains=word)
    return list(Patient.objects.filter(Q(number__istartswith=text) | by_name)[:limit])


def patient_twin(family_name: str, given_name: str, birth_date: str) -> Patient | None:
    """Somebody registered under exactly this name and birth date (written as 1961-04-12)."""
    try:
        born = date.fromisoformat(birth_date)
    except ValueError:
        return None
    return Patient.objects.filter(
        family_name__iexact=family_name, given_name__iexact=given_name, birth_date=born
    ).first()


def requisition_again(
    *,
    document: Mapping[str, Any],
    collect_at: datetime,
    place: Place,
    by: Person,
    numbered: bool,
    patient_numbered: bool,
) -> Requisition | None:
    """
    The requisition that somebody stored with this very form, and that still waits.

    Args:
        document: as it would be stored.
        collect_at: when the blood is wanted.
        place: where it is entered.
        by: who enters it.
        numbered, patient_numbered: whether its number, and the patient's, were on the form; numbers
            that the desk gives differ each time.
    """
    waiting = Requisition.objects.filter(
        place=place, entered_by=by, state=RequisitionState.WAITING, collect_at=collect_at
    )
    wanted = _on_the_form(document, numbered, patient_numbered)
    for row in waiting.order_by("-pk"):
        if _on_the_form(row.document, numbered, patient_numbered) == wanted:
            return row
    return None


def _on_the_form(
    document: Mapping[str, Any], numbered: bool, patient_numbered: bool
) -> dict[str, Any]:
    """A stored document without the numbers that the desk gave, and without earlier draws."""
    person = {**document["patient"], "prior_draws": []}
    shown = {**document, "patient": person}
    if not numbered:
        shown["number"] = ""
    if not patient_numbered:
        person["number"] = ""
    return shown


def accessions(requisition: Requisition) -> dict[int, str]:
    """The numbers given to the containers of a requisition, by place in the rack."""
    return {row.position: row.number for row in requisition.accessions.all()}


def lots(place: Place) -> QuerySet[StockLot]:
    """Every lot on the list of a place."""
    return StockLot.objects.filter(place=place)
