"""Reads: boxes, their logs, and what the reception asks of the record."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import connection
from django.db.models import QuerySet

from cubital.custody import Box, BoxState, Draw, Event, Specimen, State, effective
from cubital.desk.record.models import (
    Accession,
    BoxFound,
    BoxLog,
    BoxNow,
    BoxPlan,
    ChairSheet,
    LogFlight,
    Looked,
    Person,
    Place,
    Requisition,
    SpecimenNow,
    Stranger,
    Touch,
)
from cubital.desk.record.models import Event as EventRow
from cubital.desk.record.rows import EVENT_COLUMNS, items_load, recorded_from

LONGEST_LIST = 200
"""Lines of a list on one page; how many more there are is told."""


def specimen_now(code: str) -> Specimen | None:
    """A specimen as it stands."""
    item = items_load([f"specimen:{code}"]).get(f"specimen:{code}")
    return item if isinstance(item, Specimen) else None


def specimens_now(codes: Iterable[str]) -> dict[str, Specimen]:
    """Specimens as they stand, by number."""
    found = items_load(f"specimen:{code}" for code in codes)
    return {item.code: item for item in found.values() if isinstance(item, Specimen)}


def draw_now(code: str) -> Draw | None:
    """A draw as it stands."""
    item = items_load([f"draw:{code}"]).get(f"draw:{code}")
    return item if isinstance(item, Draw) else None


def box_now(code: str) -> Box | None:
    """A box as it stands."""
    item = items_load([f"box:{code}"]).get(f"box:{code}")
    return item if isinstance(item, Box) else None


def events_of(*subjects: str) -> tuple[Event, ...]:
    """The events that touch any of these subjects, as they stand after mending, in order."""
    places = Touch.objects.filter(subject__in=subjects).values("position")
    rows = EventRow.objects.filter(position__in=places).order_by("position")
    return tuple(effective(recorded_from(row) for row in rows.values_list(*EVENT_COLUMNS)))


def sheet_tests(events: Iterable[Event], accession: str) -> tuple[str, ...]:
    """
    The tests that the chair's sheet of a draw gives a tube, () when it names none.

    Args:
        events: of the draw.
        accession: of the tube.
    """
    code = next((e.payload.get("sheet") for e in events if e.kind == "draw_begun"), None)
    row = ChairSheet.objects.filter(code=code).first() if code else None
    tubes = row.document.get("tubes", []) if row is not None else []
    return next((tuple(t["tests"]) for t in tubes if t.get("accession") == accession), ())


def requisitions_for(specimens: Iterable[Specimen]) -> dict[str, Requisition]:
    """Specimen -> its requisition with the patient, where it or its draw names one."""
    several = list(specimens)
    drawn = items_load(f"draw:{each.draw}" for each in several if each.draw)
    numbers = {}
    for each in several:
        draw = drawn.get(f"draw:{each.draw}")
        named = draw.requisition if isinstance(draw, Draw) else ""
        numbers[each.code] = each.requisition or named
    rows = Requisition.objects.select_related("patient", "place")
    by_number = {row.number: row for row in rows.filter(number__in=set(numbers.values()))}
    return {code: by_number[number] for code, number in numbers.items() if number in by_number}


def accession_row(number: str) -> Accession | None:
    """The container to which a number was given, with its requisition's number and patient."""
    rows = Accession.objects.select_related("requisition__patient", "requisition__place")
    return rows.filter(number=number).first()


# ---------------------------------------------------------------- reception


def to_decide(place: Place) -> QuerySet[SpecimenNow]:
    """What lies at the reception without a decision, longest first."""
    return SpecimenNow.objects.filter(site=place.code, state=State.RECEIVED).order_by("received_at")


def strangers_open(place: Place) -> QuerySet[Stranger]:
    """What arrived and is not known, until somebody settles it."""
    return Stranger.objects.filter(place=place, settled_at=None).select_related("by")


def is_asked_about(place: Place, text: str) -> bool:
    """Whether a number is among what is kept and asked about."""
    return Stranger.objects.filter(place=place, text=text, settled_at=None).exists()


def stranger(place: Place, pk: int) -> Stranger | None:
    """One of them, settled or not."""
    rows = Stranger.objects.select_related("by", "settled_by")
    return rows.filter(place=place, pk=pk).first()


def looked(code: str) -> dict[str, object]:
    """What was seen on a specimen, {} when nobody wrote it down."""
    row = Looked.objects.filter(specimen=code).first()
    return dict(row.seen) if row is not None else {}


def flights_of(code: str) -> list[LogFlight]:
    """What the last log of the last journey meant for each test of a specimen."""
    rows = list(LogFlight.objects.filter(specimen=code).order_by("-log"))
    return [row for row in rows if row.log_id == rows[0].log_id]


def who_may_decide() -> QuerySet[Person]:
    """People who may be named as having decided: everybody who may sign in."""
    return Person.objects.filter(is_active=True).order_by("last_name", "first_name", "username")


def shown_names(usernames: Iterable[str]) -> dict[str, str]:
    """Sign-in name -> name as shown."""
    return {p.username: p.shown_name for p in Person.objects.filter(username__in=set(usernames))}


# ---------------------------------------------------------------- to phone

TO_TELL = """
SELECT position FROM record_event AS refused
WHERE kind IN ('requester_told', 'specimen_refused')
AND kind = 'specimen_refused' AND site || '' = %s
AND NOT EXISTS (
    SELECT 1 FROM record_event AS told
    WHERE told.kind IN ('requester_told', 'specimen_refused')
    AND told.kind = 'requester_told' AND told.subject = refused.subject
    AND told.position > refused.position)
ORDER BY position DESC LIMIT %s
"""
TOLD = """
SELECT position FROM record_event
WHERE kind IN ('requester_told', 'specimen_refused')
AND kind = 'requester_told' AND site || '' = %s AND happened_at >= %s
ORDER BY position DESC LIMIT %s
"""
"""
The first condition is that of the index ``events_to_tell``, word for word, so that it serves; the
empty text behind ``site`` keeps a database from walking a site's whole chain instead.
"""


def refusals_to_tell(place: Place) -> list[Event]:
    """Refusals at a place of which the requester was not told yet, newest first."""
    return events_at(TO_TELL, [place.code, LONGEST_LIST])


def told_since(place: Place, since: datetime) -> list[Event]:
    """Who was told since then, newest first."""
    moment = connection.ops.adapt_datetimefield_value(since)
    return events_at(TOLD, [place.code, moment, LONGEST_LIST])


def events_at(query: str, values: Sequence[Any]) -> list[Event]:
    """The events that a query of positions finds, those withdrawn left out, newest first."""
    with connection.cursor() as cursor:
        cursor.execute(query, values)
        positions = [position for (position,) in cursor.fetchall()]
    rows = EventRow.objects.filter(position__in=positions)
    uuids = list(rows.values_list("uuid", flat=True))
    mends = EventRow.objects.filter(corrects__in=uuids)
    both = (rows | mends).order_by("position").values_list(*EVENT_COLUMNS)
    return list(effective(recorded_from(row) for row in both))[::-1]


# ---------------------------------------------------------------- boxes


@dataclass(frozen=True, slots=True)
class Boxes:
    """The boxes that concern a place."""

    packing: tuple[BoxNow, ...]
    arriving: tuple[BoxNow, ...]
    under_way: tuple[BoxNow, ...]
    opened: tuple[BoxNow, ...]


def boxes_of(place: Place, since: datetime) -> Boxes:
    """
    Boxes packed here, coming here, sent from here, and opened here since then.

    A box that was emptied again before it left is no longer being packed.
    """
    rows = BoxNow.objects.all()
    packing = rows.filter(site=place.code, state=BoxState.PACKING).order_by("code")
    return Boxes(
        packing=tuple(row for row in packing if row.specimens),
        arriving=tuple(rows.filter(to=place.code, state=BoxState.SENT).order_by("sent_at")),
        under_way=tuple(rows.filter(site=place.code, state=BoxState.SENT).order_by("sent_at")),
        opened=tuple(
            rows.filter(site=place.code, state=BoxState.OPENED, opened_at__gte=since).order_by(
                "-opened_at"
            )
        ),
    )


def ready_to_go(place: Place) -> QuerySet[SpecimenNow]:
    """Specimens of a place that carry their label, and are in no box and no laboratory yet."""
    return SpecimenNow.objects.filter(site=place.code, state=State.LABELLED).order_by(
        "collected_at"
    )


def box_plan(code: str) -> BoxPlan:
    """Where a box shall go and how, as far as somebody chose."""
    return BoxPlan.objects.filter(box=code).first() or BoxPlan(box=code)


@dataclass(frozen=True, slots=True)
class Travel:
    """One journey of a box: the event with which it left, and the one with which it was opened."""

    sent: Event
    opened: Event | None

    @property
    def listed(self) -> tuple[str, ...]:
        """What was on its list."""
        codes = self.sent.payload["specimens"]
        return tuple(map(str, codes)) if isinstance(codes, list | tuple) else ()


def travels_of(code: str) -> list[Travel]:
    """The journeys of a box, newest first."""
    found: list[Travel] = []
    for event in events_of(f"box:{code}"):
        if event.kind == "box_sent":
            found.append(Travel(event, None))
        elif event.kind == "box_opened" and found:
            found[-1] = Travel(found[-1].sent, event)
    return found[::-1]


def found_in(sent: str) -> list[str]:
    """Numbers that were scanned when the box of that journey was opened, in order."""
    return list(BoxFound.objects.filter(sent=sent).values_list("code", flat=True))


def logs_of(sent: str) -> QuerySet[BoxLog]:
    """Logs of a journey, newest first."""
    return BoxLog.objects.filter(sent=sent)


def log_by_pk(pk: int) -> BoxLog | None:
    """One log."""
    return BoxLog.objects.filter(pk=pk).first()
