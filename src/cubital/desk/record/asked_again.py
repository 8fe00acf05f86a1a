"""What is asked for again without a draw: read from the events, and taken off the list."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q

from cubital.custody import Event
from cubital.desk.record.happened import append_all, happened
from cubital.desk.record.models import Patient, Person, Place, Requisition, SpecimenNow
from cubital.desk.record.recollections import DRAWN_FOR
from cubital.desk.record.selectors_quality import kinds_logged
from cubital.desk.record.selectors_way import events_of
from cubital.errors import InputError
from cubital.reception import Arrived, AskedAgain, still_to_ask

MOST = 2000
BLOOD = "blood"
REASON_LENGTH = 500


@dataclass(frozen=True, slots=True)
class WantedAgain:
    """
    One line of the list.

    Args:
        asked: what is wanted.
        why: why the first was refused, in a sentence.
        requisition: of the first, None where there was none.
        patient: row of the patient, None when nobody registered them.
        place: code of the place that has to ask.
        told: whom the laboratory told, "" for nobody yet.
    """

    asked: AskedAgain
    why: str
    requisition: Requisition | None
    patient: Patient | None
    place: str
    told: str


def wanted_again(place: Place, since: datetime) -> tuple[WantedAgain, ...]:
    """What a place has to ask for again of what was refused since, the longest waiting first."""
    refused = kinds_logged().filter(kind="specimen_refused", happened_at__gte=since)
    subjects = refused.order_by("-happened_at").values_list("subject", flat=True)
    codes = {subject.partition(":")[2] for subject in subjects[:MOST]}
    undrawn = SpecimenNow.objects.filter(~Q(material=BLOOD) | Q(requisition=""), code__in=codes)
    rows = {row.code: row for row in undrawn}
    if not rows:
        return ()
    events = events_of(*(f"specimen:{code}" for code in rows))
    asked = [found for event in events if (found := _asked(event, rows)) is not None]
    left = still_to_ask(asked, _arrived(asked), _cancelled(events))
    return tuple(each for each in _lines(left, rows, events) if each.place == place.code)


def wanted_of(specimen: str, place: Place, since: datetime) -> WantedAgain | None:
    """The line of one refused specimen, None when it is on the list of this place no more."""
    found = wanted_again(place, since)
    return next((each for each in found if each.asked.specimen == specimen), None)


def _texts(event: Event, name: str) -> tuple[str, ...]:
    said = event.payload.get(name)
    return tuple(map(str, said)) if isinstance(said, list | tuple) else ()


def _code(event: Event) -> str:
    return event.subject.partition(":")[2]


def _asked(event: Event, rows: dict[str, SpecimenNow]) -> AskedAgain | None:
    """What was asked for without a new requisition: with one it is drawn by that."""
    drawn = str(event.payload.get("note") or "").startswith(DRAWN_FOR)
    if event.kind != "recollection_asked" or drawn or _code(event) not in rows:
        return None
    row = rows[_code(event)]
    tests = _texts(event, "tests")
    return AskedAgain(row.code, row.patient, row.material, tests, event.happened_at)


def _arrived(asked: Sequence[AskedAgain]) -> list[Arrived]:
    """Specimens of the same patients that were registered since."""
    if not asked:
        return []
    since = min(each.asked_at for each in asked)
    patients = {each.patient for each in asked}
    rows = SpecimenNow.objects.filter(patient__in=patients, received_at__gt=since)
    known = {row.code: row for row in rows}
    found = []
    for event in events_of(*(f"specimen:{code}" for code in known)) if known else ():
        if event.kind == "specimen_registered" and _code(event) in known:
            row = known[_code(event)]
            at = event.happened_at
            found.append(Arrived(row.code, row.patient, row.material, _texts(event, "tests"), at))
    return found


def _cancelled(events: Iterable[Event]) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    for event in events:
        if event.kind == "test_cancelled" and event.subject.startswith("specimen:"):
            found.setdefault(_code(event), set()).add(str(event.payload["test"]))
    return found


def _lines(
    left: Sequence[AskedAgain], rows: dict[str, SpecimenNow], events: Sequence[Event]
) -> list[WantedAgain]:
    numbers = {rows[each.specimen].requisition for each in left} - {""}
    found = Requisition.objects.select_related("patient", "place").filter(number__in=numbers)
    requisitions = {row.number: row for row in found}
    patients = {
        row.number: row for row in Patient.objects.filter(number__in={e.patient for e in left})
    }
    why: dict[str, str] = {}
    told: dict[str, str] = {}
    for event in events:
        if event.kind == "specimen_refused":
            why[_code(event)] = str(event.payload.get("note") or "")
            told.pop(_code(event), None)
        elif event.kind == "requester_told":
            told[_code(event)] = str(event.payload["told"])
    lines = []
    for each in left:
        row = rows[each.specimen]
        requisition = requisitions.get(row.requisition)
        place = requisition.place.code if requisition is not None else row.site
        lines.append(
            WantedAgain(each, why.get(each.specimen, ""), requisition,
                        patients.get(each.patient), place, told.get(each.specimen, ""))
        )  # fmt: skip
    return lines


def wanted_no_more(*, line: WantedAgain, why: str, by: Person, now: datetime) -> None:
    """
    Write that nobody wants it again.

    Raises:
        InputError: no reason is given.
        EventRefused: the record refuses it.
    """
    if not why.strip():
        raise InputError("Why is it not wanted any more?", mend="Write it in a few words.")
    site = SpecimenNow.objects.get(code=line.asked.specimen).site
    events = [
        happened("test_cancelled", f"specimen:{line.asked.specimen}", site=site, by=by, now=now,
                 test=test, reason=why.strip()[:REASON_LENGTH])
        for test in line.asked.tests
    ]  # fmt: skip
    append_all(events=events, by=by, now=now)
