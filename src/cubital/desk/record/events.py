"""Writes: events, into the site's chain, with everything that follows from them."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from datetime import datetime
from hashlib import sha256

from django.db import transaction
from django.utils import timezone

from cubital.custody import Answer, Event, Offer, Taken, Verdict, event_to, take
from cubital.custody.kinds import MENDING
from cubital.desk.record.follow import follow
from cubital.desk.record.known import HEADS, load
from cubital.desk.record.models import Person, RefusedEvent, Touch
from cubital.desk.record.quick import Table, together
from cubital.desk.record.rows import NEW_EVENTS, event_row, items_save
from cubital.errors import EventRefused

TOUCHES = Table(Touch, ("subject", "position"))
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
        moment = now or timezone.now()
        for number, step in enumerate(steps(batches)):
            offers = [offer for _, offer in step]
            loaded = load(offers, moment, locked=number > 0)
            taken = take(offers, loaded.known)
            write(taken, loaded.last)
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


def write(taken: Taken, last: int) -> None:
    """Write new records, the subjects they touch, the items that changed, and the heads."""
    if not taken.records:
        return
    placed = list(enumerate(taken.records, last + 1))
    touches = [
        (subject, position)
        for position, record in placed
        for subject in taken.touched[record.event.id]
    ]
    with together():
        NEW_EVENTS.insert([event_row(record, position) for position, record in placed])
        TOUCHES.insert(touches)
        items_save(taken.items.items())
        HEADS.put([(head.site, head.sequence, head.hash) for head in taken.heads.values()], "site")
    follow(taken.records, taken.touched)


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
