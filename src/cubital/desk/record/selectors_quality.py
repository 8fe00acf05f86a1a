"""Reads: what the logbook, the waste tables and the indicators ask of the record."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from datetime import datetime

from django.db import connection
from django.db.models import Q, QuerySet

from cubital.custody import Event, Recorded, effective
from cubital.custody.waste import WasteState
from cubital.desk.record.models import (
    DrawNow,
    IncidentNow,
    Person,
    Place,
    Requisition,
    SpecimenNow,
    Touch,
    WasteNow,
)
from cubital.desk.record.models import Event as EventRow
from cubital.desk.record.models.events import LOGGED_KINDS
from cubital.desk.record.rebuild import records
from cubital.desk.record.rows import EVENT_COLUMNS, portions, recorded_from
from cubital.indicators.values import LakeSite, Requested

ENTRY_KINDS = frozenset(LOGGED_KINDS) - {"incident_followed_up"}


def names_known() -> dict[str, str]:
    """Sign-in name -> name as people know it, of everybody who ever signed in."""
    return {person.username: person.shown_name for person in Person.objects.all()}


def names_at(place: Place) -> list[tuple[str, str]]:
    """People who may sign in and work here or anywhere, as (sign-in name, shown name)."""
    here = Person.objects.filter(Q(place=place) | Q(place=None), is_active=True)
    return sorted(
        ((person.username, person.shown_name) for person in here), key=lambda pair: pair[1]
    )


# ------------------------------------------------------------------ the logbook


def standing(positions: Iterable[int]) -> tuple[Event, ...]:
    """The events at these places of the log as they stand after mending, in their order."""
    kept = sorted(set(positions))
    rows: list[tuple[int, Recorded]] = []
    for part in portions(list(map(str, kept))):
        found = EventRow.objects.filter(position__in=part).order_by("position")
        rows += [(p, recorded_from(r)) for p, *r in found.values_list("position", *EVENT_COLUMNS)]
    return tuple(effective(record for _, record in sorted(rows, key=lambda row: row[0])))


def touching(subjects: Collection[str]) -> set[int]:
    """Places in the log of every event that touches one of these subjects."""
    found: set[int] = set()
    for part in portions(sorted(subjects)):
        found |= set(Touch.objects.filter(subject__in=part).values_list("position", flat=True))
    return found


def logged(*, site: str, start: datetime, end: datetime) -> tuple[Event, ...]:
    """
    What the logbook needs of a time: its events, their follow-ups, and the draws they belong to.

    Args:
        site: code of a place, "" for all.
        start: first moment.
        end: first moment after it.
    """
    dated = kinds_logged().filter(happened_at__gte=start, happened_at__lt=end)
    places: set[int] = set()
    for found in (dated, kinds_logged().filter(uuid__in=moved())):
        rows = found.exclude(kind="incident_followed_up")
        places |= mended_too(rows.filter(site=site) if site else rows)
    events = standing(places)
    kept = [e for e in events if e.kind in ENTRY_KINDS and start <= e.happened_at < end]
    incidents = {e.subject for e in kept if e.kind == "incident_recorded"}
    followed = standing(touching(incidents))
    plain = [event for event in kept if event.subject not in incidents]
    return (*draws_behind([*plain, *followed]), *plain, *followed)


def kinds_logged() -> QuerySet[EventRow]:
    """
    Events of the kinds that the logbook reads.

    The kinds stand in the query itself, word for word as in the index, so that SQLite uses it.
    """
    words = ", ".join(f"'{kind}'" for kind in LOGGED_KINDS)
    where = [f"{column('kind')} IN ({words})"]  # fixed words, none of them anybody's
    return EventRow.objects.extra(where=where).order_by()  # noqa: S610


def mending() -> QuerySet[EventRow]:
    """Events that mend another, through the index that holds only those."""
    where = [f"NOT ({column('corrects')} = '')"]
    return EventRow.objects.extra(where=where).order_by()  # noqa: S610


def column(name: str) -> str:
    """A column of the events, as it stands in a query."""
    quote = connection.ops.quote_name
    return f"{quote(EventRow._meta.db_table)}.{quote(name)}"


def moved() -> list[str]:
    """Ids of the events that a correction moved to another time."""
    rows = mending().filter(kind="event_corrected", payload__contains='"happened_at"')
    return list(rows.values_list("corrects", flat=True))


def mended_too(rows: QuerySet[EventRow]) -> set[int]:
    """Places of these events and of every event that mends one of them."""
    found = dict(rows.values_list("uuid", "position"))
    places = set(found.values())
    for part in portions(sorted(found)):
        places |= set(mending().filter(corrects__in=part).values_list("position", flat=True))
    return places


def draws_behind(events: Sequence[Event]) -> tuple[Event, ...]:
    """The begin of every draw to which these events belong: whose blood it was."""
    draws = {f"draw:{draw}" for e in events if (draw := e.payload.get("draw"))}
    draws |= {event.subject for event in events if event.subject.startswith("draw:")}
    places = touching(draws)
    begun: set[int] = set()
    for part in portions(sorted(map(str, places))):
        rows = EventRow.objects.filter(position__in=part, kind="draw_begun")
        begun |= mended_too(rows)
    return tuple(e for e in standing(begun) if e.kind == "draw_begun")


def open_incidents(*, site: str = "") -> tuple[Event, ...]:
    """The events of every incident that nobody has closed, with the draws behind them."""
    rows = IncidentNow.objects.filter(closed=False)
    if site:
        rows = rows.filter(site=site)
    return incident_events(rows.values_list("code", flat=True))


def incident_events(codes: Iterable[str]) -> tuple[Event, ...]:
    """The events of these incidents, with the begin of the draws behind them."""
    events = standing(touching({f"incident:{code}" for code in codes}))
    return (*draws_behind(events), *events)


def incident_event(code: str) -> EventRow | None:
    """The row with which an incident began."""
    places = Touch.objects.filter(subject=f"incident:{code}").values("position")
    return EventRow.objects.filter(position__in=places, kind="incident_recorded").first()


def incidents_about(*, what: str, draw: str, specimen: str) -> list[IncidentNow]:
    """Incidents that somebody made of a slip of a draw or specimen, to follow it up."""
    if not (draw or specimen):
        return []
    rows = IncidentNow.objects.filter(what=what, draw=draw, specimen=specimen)
    return list(rows.order_by("happened_at"))


def entry_event(uuid: str) -> EventRow | None:
    """The row behind an entry of the logbook."""
    kinds = (*ENTRY_KINDS, "attempt_begun")
    return EventRow.objects.filter(uuid=uuid, kind__in=kinds).first()


def entry_events(row: EventRow) -> tuple[Event, ...]:
    """Everything that the entry of one event needs."""
    if row.kind == "incident_recorded":
        return incident_events([row.subject.partition(":")[2]])
    if row.kind == "attempt_begun":
        (draw,) = (s for s in subjects_of(row) if s.startswith("draw:"))
        return standing(touching({draw}))
    events = standing(mended_too(EventRow.objects.filter(pk=row.pk)))
    return (*draws_behind(events), *events)


def subjects_of(row: EventRow) -> list[str]:
    """Every subject that an event touches."""
    return list(Touch.objects.filter(position=row.position).values_list("subject", flat=True))


def specimens_whose(codes: Collection[str]) -> dict[str, tuple[str, str]]:
    """Patient and requisition of each of these specimens, "" where they are not on record."""
    found: dict[str, tuple[str, str, str]] = {}
    for part in portions(sorted(codes)):
        rows = SpecimenNow.objects.filter(code__in=part)
        for code, *whose in rows.values_list("code", "patient", "requisition", "draw"):
            found[code] = (whose[0], whose[1], whose[2])
    draws: dict[str, str] = {}
    for part in portions(sorted({draw for _, _, draw in found.values() if draw})):
        draws |= dict(DrawNow.objects.filter(code__in=part).values_list("code", "requisition"))
    return {
        code: (patient, requisition or draws.get(draw, ""))
        for code, (patient, requisition, draw) in found.items()
    }


def drawn_between(
    *, site: str, start: datetime, end: datetime, least_attempts: int = 1
) -> tuple[Event, ...]:
    """The events of the draws that began in a time and took so many needles or more."""
    rows = DrawNow.objects.filter(
        begun_at__gte=start, begun_at__lt=end, attempts__gte=least_attempts
    )
    if site:
        rows = rows.filter(site=site)
    return standing(touching({f"draw:{code}" for code in rows.values_list("code", flat=True)}))


# ------------------------------------------------------------------ waste


def waste_here(place: Place) -> QuerySet[WasteNow]:
    """Bags and boxes that stand here: open ones, and closed ones not yet handed over."""
    rows = WasteNow.objects.filter(site=place.code).exclude(state=WasteState.HANDED_OVER)
    return rows.order_by("opened_at")


def waste_closed(*, site: str, start: datetime, end: datetime) -> QuerySet[WasteNow]:
    """Bags and boxes closed in a time."""
    return WasteNow.objects.filter(site=site, closed_at__gte=start, closed_at__lt=end)


def waste_by_code(code: str) -> WasteNow | None:
    """A bag or box by its bar code."""
    return WasteNow.objects.filter(code=code).first()


# ------------------------------------------------------------------ the lake


def last_position() -> int:
    """Where the record ends: the place of its last event, 0 where there is none."""
    last = EventRow.objects.order_by("-position").values_list("position", flat=True).first()
    return last or 0


def events_after(position: int) -> int:
    """How many events were recorded after a place."""
    return EventRow.objects.filter(position__gt=position).count()


def recorded_all() -> Iterator[Recorded]:
    """The whole record, in the order in which it was recorded."""
    return (record for _, record in records())


def lake_sites() -> list[LakeSite]:
    """Every place, as the lake takes it."""
    return [
        LakeSite(row.code, row.name, row.time_zone, row.order_profile, dict(row.choices))
        for row in Place.objects.all()
    ]


def lake_requested() -> dict[str, Requested]:
    """What the lake takes of every requisition: ward and birth date, and nothing by name."""
    rows = Requisition.objects.values_list("number", "ward", "patient__birth_date")
    return {number: Requested(ward, born) for number, ward, born in rows.iterator(chunk_size=2000)}
