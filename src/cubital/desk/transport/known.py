"""What the record knows of a specimen, loaded for the boxes and for the reception."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from cubital.catalogue import Catalogue
from cubital.custody import Event, Specimen
from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.draw.planning import plan_for
from cubital.desk.record import selectors, selectors_way
from cubital.desk.record.models import Place, Requisition
from cubital.draw.values import Place as DomainPlace
from cubital.errors import CatalogueError, InputError
from cubital.requisition.values import OrderedTest
from cubital.requisition.values import Patient as DomainPatient
from cubital.requisition.values import Requisition as DomainRequisition

NAMES_TESTS = ("tube_scanned", "specimen_registered", "aliquot_made")


@dataclass(frozen=True, slots=True)
class Here:
    """The place that judges: its policy, its tables, its time zone."""

    row: Place
    place: DomainPlace
    catalogue: Catalogue
    zone: ZoneInfo


@dataclass(frozen=True, slots=True)
class Known:
    """
    A specimen with everything that the rules want to know.

    Args:
        specimen: as it stands.
        row: its requisition, None when there is none.
        requisition: the same for the rules; without one it holds the patient alone.
        tests: asked from it, with the requester's priority.
        expires_on: of its tube, where the chair scanned it.
        flights: test -> (share of its stability used up by a log, end of that log).
        events: that touch it, in order.
    """

    specimen: Specimen
    row: Requisition | None
    requisition: DomainRequisition
    tests: tuple[OrderedTest, ...]
    expires_on: date | None
    flights: Mapping[str, tuple[float, datetime]]
    events: tuple[Event, ...]


def here_at(place: Place) -> Here:
    """
    Take the place where one receives.

    Raises:
        CatalogueError: its own tables cannot be used.
    """
    return Here(
        place,
        place.to_domain(),
        catalogue_at(place.catalogue_folder),
        ZoneInfo(place.time_zone),
    )


def known_of(specimen: Specimen) -> Known:
    """Load what the record knows of a specimen."""
    number = requisition_of(specimen)
    subjects = [f"specimen:{specimen.code}", *([f"requisition:{number}"] if number else [])]
    events = selectors_way.events_of(*subjects)
    row = selectors.requisition_by_number(number) if number else None
    codes = tests_named(specimen, events) or tests_planned(specimen, row)
    return Known(
        specimen=specimen,
        row=row,
        requisition=domain_of(specimen, row),
        tests=ordered(codes, row, events),
        expires_on=expiry_named(events),
        flights={
            each.test: (each.used_percent, each.ended_at)
            for each in selectors_way.flights_of(specimen.code)
        },
        events=events,
    )


def requisition_of(specimen: Specimen) -> str:
    """The number of a specimen's requisition: its own, its draw's, or its parent's."""
    if specimen.requisition:
        return specimen.requisition
    if specimen.draw:
        draw = selectors_way.draw_now(specimen.draw)
        return draw.requisition if draw is not None else ""
    if specimen.parent:
        parent = selectors_way.specimen_now(specimen.parent)
        return requisition_of(parent) if parent is not None else ""
    return ""


def tests_named(specimen: Specimen, events: Sequence[Event]) -> tuple[str, ...]:
    """Tests as the specimen's own event or the chair's sheet names them."""
    for event in events:
        own = event.subject == f"specimen:{specimen.code}" and event.kind in NAMES_TESTS
        if own and event.payload.get("tests"):
            return texts(event, "tests")
    if not specimen.draw:
        return ()
    return selectors_way.sheet_tests(
        selectors_way.events_of(f"draw:{specimen.draw}"), specimen.code
    )


def tests_planned(specimen: Specimen, row: Requisition | None) -> tuple[str, ...]:
    """Where nothing names them: the tests of the container that bears this number in the plan."""
    if row is None:
        return ()
    numbers = {number: position for position, number in selectors.accessions(row).items()}
    position = numbers.get(specimen.code)
    if position is None:
        return ()
    try:
        plan = plan_for(row).plan
    except CatalogueError:
        raise
    except InputError:
        return ()
    planned = next((c for c in plan.containers if c.position == position), None)
    return tuple(test.code for test in planned.tests) if planned is not None else ()


def ordered(
    codes: Sequence[str], row: Requisition | None, events: Sequence[Event]
) -> tuple[OrderedTest, ...]:
    """Tests with the requester's priority; those added later too, those cancelled not."""
    asked = {t.code: t.to_domain() for t in row.tests.all()} if row is not None else {}
    wanted = dict.fromkeys(codes)
    for event in events:
        if event.kind == "tests_added" and event.subject.startswith("specimen:"):
            wanted |= dict.fromkeys(texts(event, "tests"))
        if event.kind == "test_cancelled" and event.subject.startswith("requisition:"):
            wanted.pop(str(event.payload.get("test")), None)
    return tuple(asked.get(code) or OrderedTest(code) for code in wanted)


def expiry_named(events: Sequence[Event]) -> date | None:
    """The tube's date as the chair scanned it."""
    for event in events:
        if event.kind == "tube_scanned" and event.payload.get("expires_on"):
            return date.fromisoformat(str(event.payload["expires_on"]))
    return None


def texts(event: Event, name: str) -> tuple[str, ...]:
    """A list of texts of a payload."""
    value = event.payload.get(name)
    return tuple(map(str, value)) if isinstance(value, list | tuple) else ()


def domain_of(specimen: Specimen, row: Requisition | None) -> DomainRequisition:
    """The requisition for the rules; without one, the patient alone."""
    if row is not None:
        return row.to_domain()
    person = selectors.patient_by_number(specimen.patient)
    patient = person.to_domain() if person is not None else DomainPatient(specimen.patient, "")
    return DomainRequisition("", patient, (), specimen.collected_at or specimen.changed_at)


def tests_of(specimens: Sequence[Specimen]) -> dict[str, tuple[str, ...]]:
    """The tests asked from each of several specimens, in few queries where their events say it."""
    events = selectors_way.events_of(*(f"specimen:{each.code}" for each in specimens))
    by_code: dict[str, list[Event]] = {}
    for event in events:
        what, _, code = event.subject.partition(":")
        if what == "specimen":
            by_code.setdefault(code, []).append(event)
    found: dict[str, tuple[str, ...]] = {}
    for each in specimens:
        own = by_code.get(each.code, [])
        named = next((texts(e, "tests") for e in own if e.kind in NAMES_TESTS), ())
        added = [test for e in own if e.kind == "tests_added" for test in texts(e, "tests")]
        codes = named or tuple(test.code for test in known_of(each).tests)
        found[each.code] = tuple(dict.fromkeys((*codes, *added)))
    return found
