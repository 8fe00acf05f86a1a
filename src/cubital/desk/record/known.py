"""Reads: what offered events depend on, asked for in one go."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache

from django.db import connection

from cubital.custody import Door, Event, Head, Item, Known, Offer, Ordered, touched
from cubital.custody.door import wanted
from cubital.custody.kinds import MENDING
from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.record.models import ChainHead, Person, Place
from cubital.desk.record.past import past_of, touched_as_mended, well_formed
from cubital.desk.record.quick import Asked, Table, together
from cubital.desk.record.rows import EVENTS, items_ask, items_load, items_told, recorded_from

LOCK = 0x637562
"""Number of the PostgreSQL advisory lock under which the chains grow."""
HEADS = Table(ChainHead, ("site", "sequence", "hash"))
PLACES = Table(Place, ("code",))
ROLES = Table(Person, ("username", "role", "is_active"))
REQUISITIONS = (
    "SELECT r.number, place.code, patient.number FROM record_requisition r"
    " JOIN record_place place ON place.id = r.place_id"
    " JOIN record_patient patient ON patient.id = r.patient_id WHERE r.number IN ({marks})"
)
LAST = "SELECT max(position) FROM record_event"


@dataclass(frozen=True, slots=True)
class Loaded:
    """What events depend on, and the position of the last event before them."""

    known: Known
    last: int


def lock() -> None:
    """
    Let one transaction after another add to the chains.

    A SQLite transaction is IMMEDIATE and has the database to itself; on PostgreSQL a lock does it.
    """
    lock_ask().rows()


def lock_ask() -> Asked:
    """Ask for the lock; what is asked after it is answered when it is had."""
    asked = Asked()
    if connection.vendor == "postgresql":
        asked.add("SELECT pg_advisory_xact_lock(%s)", [LOCK])
    return asked


def load(offers: Sequence[Offer], now: datetime, *, locked: bool) -> Loaded:
    """
    Load what these events depend on.

    Args:
        offers: the events.
        now: when they arrive.
        locked: whether this transaction has the lock already.
    """
    if not locked and any(offer.event.kind in MENDING for offer in offers):
        lock()
        locked = True
    good = [offer.event for offer in offers if well_formed(offer.event)]
    mends = [event for event in good if event.kind in MENDING]
    past = past_of(mends)
    looked_at = [*good, *touched_as_mended(mends, past)]
    with together():
        first = Asked() if locked else lock_ask()
        items = items_ask(subject for event in looked_at for subject in touched(event))
        heads = HEADS.ask("site", {offer.event.site for offer in offers})
        stored = EVENTS.ask("uuid", {offer.event.id for offer in offers})
        last = Asked().add(LAST, [])
        places = PLACES.ask_all()
        roles = ROLES.ask("username", names_in(offers))
        ordered = requisitions_ask(looked_at)
    first.rows()
    there = items_told(items)
    door = Door(
        now=now,
        ahead=timedelta(seconds=catalogue_at("").number("event_ahead_s")),
        sites=frozenset(code for (code,) in places.rows()),
        roles={name: role for name, role, active in roles.rows() if active},
        requisitions={number: Ordered(site, patient) for number, site, patient in ordered.rows()},
    )
    known = Known(
        door=door,
        heads={row[0]: Head(*row) for row in heads.rows()},
        stored={record.event.id: record for record in map(recorded_from, stored.rows())},
        items=there | more_items(looked_at, there),
        past=past,
    )
    return Loaded(known, last.rows()[0][0] or 0)


def more_items(events: Sequence[Event], items: dict[str, Item]) -> dict[str, Item]:
    """Load the items that are looked at through others."""
    more = {subject for event in events for subject in wanted(event, items)} - items.keys()
    return items_load(more) if more else {}


def names_in(offers: Sequence[Offer]) -> set[str]:
    """Everybody who is said to have done or sent something."""
    return {offer.sent_by for offer in offers} | {offer.event.who for offer in offers}


def requisitions_ask(events: Sequence[Event]) -> Asked:
    """Ask for the place and patient of each requisition that a draw is begun for."""
    numbers = {str(each.payload["requisition"]) for each in events if each.kind == "draw_begun"}
    asked = Asked()
    if numbers:
        asked.add(requisitions_text(len(numbers)), list(numbers))
    return asked


@lru_cache(maxsize=1024)
def requisitions_text(count: int) -> str:
    """The text of the question about so many requisitions."""
    marks = ", ".join(["%s"] * count)
    return REQUISITIONS.format(marks=marks)
