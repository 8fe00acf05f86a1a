"""Reads: what stands at the bench, what comes to it, its machines and shelves, who is whose."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q, QuerySet

from cubital.custody import (
    BoxState,
    Event,
    Item,
    Specimen,
    Spin,
    SpinState,
    State,
    effective,
    touched,
)
from cubital.desk.record.models import (
    BoxExpected,
    BoxNow,
    Centrifuge,
    LogFlight,
    Patient,
    PatientCondition,
    Place,
    Shelf,
    SpecimenNow,
    SpinNow,
    Touch,
)
from cubital.desk.record.models import Event as EventRow
from cubital.desk.record.rows import COLUMNS, EVENT_COLUMNS, items_load, portions, recorded_from

AT_WORK = (State.ACCEPTED, State.SPINNING, State.SPUN, State.ALIQUOTED)
"""At the bench: neither on its way, nor in a store, nor gone."""


def specimens_read(rows: QuerySet[SpecimenNow]) -> list[Specimen]:
    """The specimens of these rows, in their order."""
    columns = COLUMNS["specimen"]
    items = [columns.read(values) for values in rows.values_list(*columns.names)]
    return [item for item in items if isinstance(item, Specimen)]


def specimens_at(place: Place, *states: State) -> list[Specimen]:
    """Specimens that a place holds in one of these states, by number."""
    rows = SpecimenNow.objects.filter(site=place.code, state__in=states)
    return specimens_read(rows.order_by("code"))


def labelled_count(place: Place, since: datetime) -> int:
    """How many tubes were drawn here since then and have not come to the reception."""
    waits = (State.DRAWN, State.LABELLED)
    rows = SpecimenNow.objects.filter(site=place.code, state__in=waits, collected_at__gte=since)
    return rows.count()


def specimens_of_patient(number: str) -> dict[str, Specimen]:
    """Everything that was ever drawn from a patient, with all portions, by number."""
    rows = SpecimenNow.objects.filter(patient=number).order_by("code")
    return {one.code: one for one in specimens_read(rows)}


def with_parents(specimens: Iterable[Specimen]) -> dict[str, Specimen]:
    """These specimens with what they came from, all the way up."""
    found = {one.code: one for one in specimens}
    wanted = {one.parent for one in found.values() if one.parent} - found.keys()
    while wanted:
        items = items_load(f"specimen:{code}" for code in wanted)
        above = [item for item in items.values() if isinstance(item, Specimen)]
        found |= {one.code: one for one in above}
        wanted = {one.parent for one in above if one.parent} - found.keys()
    return found


def portions_gone(codes: Iterable[str]) -> frozenset[str]:
    """Portions of these specimens that were thrown away."""
    gone: set[str] = set()
    for some in portions(list(codes)):
        rows = SpecimenNow.objects.filter(parent__in=some, state=State.DISCARDED)
        gone.update(rows.values_list("code", flat=True))
    return frozenset(gone)


def events_by_subject(subjects: Iterable[str]) -> dict[str, tuple[Event, ...]]:
    """For each subject the events that touch it, as they stand after mending, in their order."""
    wanted = list(dict.fromkeys(subjects))
    positions: set[int] = set()
    for some in portions(wanted):
        rows = Touch.objects.filter(subject__in=some)
        positions.update(rows.values_list("position", flat=True))
    records = [
        (row[0], recorded_from(row[1:]))
        for some in portions(sorted(positions))
        for row in EventRow.objects.filter(position__in=some).values_list(
            "position", *EVENT_COLUMNS
        )
    ]
    records.sort(key=lambda each: each[0])
    found: dict[str, list[Event]] = {subject: [] for subject in wanted}
    for event in effective(record for _, record in records):
        for subject in touched(event):
            if subject in found:
                found[subject].append(event)
    return {subject: tuple(events) for subject, events in found.items()}


def texts_of(event: Event, name: str) -> tuple[str, ...]:
    """A list of texts of a payload."""
    value = event.payload.get(name)
    return tuple(map(str, value)) if isinstance(value, list | tuple) else ()


def spoiling(codes: Iterable[str]) -> dict[str, dict[str, datetime]]:
    """Specimen -> test -> when it spoils unseparated, as the last log of its journey says."""
    newest: dict[str, int] = {}
    found: dict[str, dict[str, datetime]] = {}
    for some in portions(list(codes)):
        for row in LogFlight.objects.filter(specimen__in=some).order_by("-log", "id"):
            log = newest.setdefault(row.specimen, row.log_id)
            if row.log_id == log and row.spoils_at is not None:
                found.setdefault(row.specimen, {})[row.test] = row.spoils_at
    return found


def patients_named(numbers: Iterable[str]) -> dict[str, Patient]:
    """Patients by number."""
    found: dict[str, Patient] = {}
    for some in portions(list(set(numbers))):
        found |= {row.number: row for row in Patient.objects.filter(number__in=some)}
    return found


def having(numbers: Iterable[str], condition: str) -> frozenset[str]:
    """Those of these patients of whom a condition is known."""
    found: set[str] = set()
    for some in portions(list(set(numbers))):
        rows = PatientCondition.objects.filter(patient__number__in=some, code=condition)
        found.update(rows.values_list("patient__number", flat=True))
    return frozenset(found)


# ---------------------------------------------------------------- machines and runs


def centrifuges(place: Place) -> QuerySet[Centrifuge]:
    """The centrifuges of a place, by name."""
    return Centrifuge.objects.filter(place=place).select_related("place")


def shelves(place: Place) -> QuerySet[Shelf]:
    """The shelves of a place, in the order in which they came onto its list."""
    return Shelf.objects.filter(place=place).order_by("pk")


@dataclass(frozen=True, slots=True)
class Run:
    """A centrifuge run with the event with which it began."""

    spin: Spin
    event: Event


def runs_on(place: Place) -> list[Run]:
    """Runs that are on at a place, the first begun first."""
    rows = SpinNow.objects.filter(site=place.code, state=SpinState.RUNNING).order_by("begun_at")
    return _runs(items_load(f"spin:{row.code}" for row in rows))


def run_by_code(code: str) -> Run | None:
    """One run, over or not."""
    found = _runs(items_load([f"spin:{code}"]))
    return found[0] if found else None


def runs_over(place: Place, since: datetime) -> list[Run]:
    """Runs that ended at a place since then, the last first."""
    rows = SpinNow.objects.filter(site=place.code, ended_at__gte=since).order_by("-ended_at")
    return _runs(items_load(f"spin:{row.code}" for row in rows))[::-1]


def _runs(items: Mapping[str, Item]) -> list[Run]:
    events = events_by_subject(items)
    found = []
    for subject, item in items.items():
        begun = next((each for each in events[subject] if each.kind == "spin_begun"), None)
        if isinstance(item, Spin) and begun is not None:
            found.append(Run(item, begun))
    return sorted(found, key=lambda run: run.spin.begun_at)


# ---------------------------------------------------------------- boxes on their way


@dataclass(frozen=True, slots=True)
class Arriving:
    """A box on its way to a place, and when somebody expects it."""

    box: BoxNow
    expected_at: datetime | None


def arriving(place: Place) -> list[Arriving]:
    """Boxes on their way to a place, the first sent first."""
    boxes = list(BoxNow.objects.filter(to=place.code, state=BoxState.SENT).order_by("sent_at"))
    known = {row.box: row for row in BoxExpected.objects.filter(box__in=[b.code for b in boxes])}
    found = []
    for box in boxes:
        row = known.get(box.code)
        said = row.at if row is not None and row.sent_at == box.sent_at else None
        found.append(Arriving(box, said))
    return found


def coming_to(place: Place) -> list[Specimen]:
    """Specimens on their way to a place, by number."""
    rows = SpecimenNow.objects.filter(bound_for=place.code, state=State.IN_TRANSIT)
    return specimens_read(rows.order_by("code"))


# ---------------------------------------------------------------- stores


def stored_at(place: Place) -> list[Specimen]:
    """Everything that stands in the stores of a place, by number."""
    return specimens_at(place, State.STORED)


def unconfirmed(place: Place) -> list[Specimen]:
    """Portions whose label nobody has scanned yet, by number."""
    rows = SpecimenNow.objects.filter(
        ~Q(parent=""), site=place.code, state=State.ALIQUOTED, label_matched=False
    )
    return specimens_read(rows.order_by("code"))


def specimens_of(codes: Iterable[str]) -> list[Specimen]:
    """Specimens of these numbers, as far as there are any, by number."""
    items = items_load(f"specimen:{code}" for code in codes)
    found = [item for item in items.values() if isinstance(item, Specimen)]
    return sorted(found, key=lambda one: one.code)
