"""Writes: events, into the site's chain, with everything that follows from them."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from hashlib import sha256

from django.db import connection, transaction
from django.utils import timezone

from cubital.custody import (
    Answer,
    Door,
    Event,
    Head,
    Known,
    Offer,
    Ordered,
    Recorded,
    Taken,
    Verdict,
    event_to,
    take,
    touched,
)
from cubital.custody.door import wanted
from cubital.custody.kinds import MENDING
from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.record.follow import follow
from cubital.desk.record.models import (
    ChainHead,
    Person,
    Place,
    RefusedEvent,
    Requisition,
    Touch,
)
from cubital.desk.record.past import past_of, touched_as_mended, well_formed
from cubital.desk.record.quick import Table
from cubital.desk.record.rows import (
    EVENTS,
    event_row,
    items_load,
    items_save,
    recorded_from,
)
from cubital.errors import EventRefused

LOCK = 0x637562
"""Number of the PostgreSQL advisory lock under which the chains grow."""
HEADS = Table(ChainHead, ("site", "sequence", "hash"))
TOUCHES = Table(Touch, ("subject", "position"))
ROLES = Table(Person, ("username", "role", "is_active"))
MOST_KEPT = 16384
"""Characters of a refused event that are kept."""


def append_events(
    *, events: Sequence[Event], person: Person | str, now: datetime | None = None
) -> tuple[Answer, ...]:
    """
    Record events: all that are possible, in their order, in one transaction.

    Inside a transaction of the caller's they are durable when that commits; append last in it.
    Mending events that stand side by side are stored together or not at all.

    Args:
        events: in the order in which they happened.
        person: who is signed in where they come from.
        now: when they arrive; the clock's time when left out.

    Returns:
        One answer an event, in the same order.  A refusal is an answer, not an error, and is kept.
    """
    name = person if isinstance(person, str) else person.username
    return append_offers([[Offer(event, name) for event in events]], now=now)[0]


def append_event(*, event: Event, person: Person | str, now: datetime | None = None) -> Answer:
    """
    Record one event that must be taken.

    Raises:
        EventRefused: it is not; the refusal is kept unless the caller's transaction rolls back.
    """
    (answer,) = append_events(events=[event], person=person, now=now)
    if answer.verdict is Verdict.REFUSED:
        raise EventRefused(answer.sentence)
    return answer


def append_offers(
    batches: Sequence[Sequence[Offer]], *, now: datetime | None = None
) -> list[tuple[Answer, ...]]:
    """Record several senders' events in one transaction; the answers are as the batches."""
    answers: list[tuple[Answer, ...]] = [() for _ in batches]
    with transaction.atomic():
        lock()
        moment = now or timezone.now()
        for step in steps(batches):
            offers = [offer for _, offer in step]
            taken = take(offers, known(offers, moment))
            write(taken)
            refused_write(offers, taken, moment)
            for (batch, _), answer in zip(step, taken.answers, strict=True):
                answers[batch] = (*answers[batch], answer)
    return answers


Step = list[tuple[int, Offer]]


def steps(batches: Sequence[Sequence[Offer]]) -> Iterator[Step]:
    """
    Cut batches into steps: plain events together, each sender's run of mending events alone.

    A mending event looks at what is written, so what stands before it is written first.
    """
    step: Step = []
    for number, batch in enumerate(batches):
        mending = False
        for offer in batch:
            is_mending = offer.event.kind in MENDING
            if step and is_mending != mending:
                yield step
                step = []
            step.append((number, offer))
            mending = is_mending
        if mending and step:
            yield step
            step = []
    if step:
        yield step


def lock() -> None:
    """
    Let one transaction after another add to the chains.

    A SQLite transaction is IMMEDIATE and has the database to itself; on PostgreSQL a lock does it.
    """
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [LOCK])


def known(offers: Sequence[Offer], now: datetime) -> Known:
    """Load what these events depend on."""
    events = [offer.event for offer in offers]
    good = [event for event in events if well_formed(event)]
    mends = [event for event in good if event.kind in MENDING]
    past = past_of(mends)
    looked_at = [*good, *touched_as_mended(mends, past)]
    items = items_load(subject for event in looked_at for subject in touched(event))
    more = {subject for event in looked_at for subject in wanted(event, items)} - items.keys()
    return Known(
        door=door(offers, looked_at, now),
        heads={row[0]: Head(*row) for row in HEADS.select("site", {e.site for e in events})},
        stored=stored_under({event.id for event in events}),
        items=items | items_load(more),
        past=past,
    )


def door(offers: Sequence[Offer], looked_at: Sequence[Event], now: datetime) -> Door:
    """Load who and what the desk knows, as far as these events name it."""
    names = {offer.sent_by for offer in offers} | {offer.event.who for offer in offers}
    numbers = {
        str(event.payload["requisition"]) for event in looked_at if event.kind == "draw_begun"
    }
    ordered = Requisition.objects.filter(number__in=numbers) if numbers else ()
    if numbers:
        ordered = ordered.values_list("number", "place__code", "patient__number")
    return Door(
        now=now,
        ahead=timedelta(seconds=catalogue_at("").number("event_ahead_s")),
        sites=frozenset(Place.objects.values_list("code", flat=True)),
        roles={name: role for name, role, active in ROLES.select("username", names) if active},
        requisitions={number: Ordered(site, patient) for number, site, patient in ordered},
    )


def stored_under(ids: set[str]) -> dict[str, Recorded]:
    """Load the records under these ids."""
    return {record.event.id: record for record in map(recorded_from, EVENTS.select("uuid", ids))}


def write(taken: Taken) -> None:
    """Write new records, the subjects they touch, the items that changed, and the heads."""
    if not taken.records:
        return
    rows = [event_row(record) for record in taken.records]
    positions = EVENTS.insert(rows, returning="uuid, position")
    TOUCHES.insert(
        [(subject, position) for uuid, position in positions for subject in taken.touched[uuid]]
    )
    items_save(taken.items.items())
    follow(taken.records, taken.touched)
    HEADS.put([(head.site, head.sequence, head.hash) for head in taken.heads.values()], "site")


def refused_write(offers: Sequence[Offer], taken: Taken, now: datetime) -> None:
    """Keep what was refused, and why; the same refusal of the same event is kept once."""
    refusals = [
        refusal(event_to(offer.event), offer.sent_by, answer.sentence, now)
        for offer, answer in zip(offers, taken.answers, strict=True)
        if answer.verdict is Verdict.REFUSED
    ]
    refusals_keep(refusals)


def refusal(shape: object, sent_by: str, sentence: str, now: datetime) -> RefusedEvent:
    """Make the row that keeps a refusal of whatever was offered as an event."""
    offered = json.dumps(shape, sort_keys=True, ensure_ascii=True, default=str)[:MOST_KEPT]
    said = shape if isinstance(shape, dict) else {}
    digest = sha256("\0".join((sent_by, sentence, offered)).encode()).hexdigest()
    return RefusedEvent(
        uuid=clipped(said.get("id"), 36),
        site=clipped(said.get("site"), 32),
        kind=clipped(said.get("kind"), 32),
        subject=clipped(said.get("subject"), 80),
        sent_by=sent_by,
        refused_at=now,
        sentence=sentence,
        offered=offered,
        digest=digest,
    )


def refusals_keep(refusals: Sequence[RefusedEvent]) -> None:
    """Write refusals that are not kept yet."""
    fresh = {row.digest: row for row in refusals}
    if not fresh:
        return
    for digest in RefusedEvent.objects.filter(digest__in=fresh).values_list("digest", flat=True):
        del fresh[digest]
    RefusedEvent.objects.bulk_create(fresh.values())


def clipped(value: object, length: int) -> str:
    """A text that fits its column, whatever was offered."""
    return ascii(value)[1:-1][:length] if isinstance(value, str) else ""
