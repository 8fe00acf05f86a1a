"""Writes: what a device's outbox sends, read event by event and answered event by event."""

from __future__ import annotations

from collections.abc import Sequence

from django.db import transaction
from django.utils import timezone

from cubital.custody import Answer, Offer, Verdict, event_from
from cubital.desk.record.events import refusal, refusals_keep
from cubital.desk.record.writer import offer_events
from cubital.errors import EventRefused


def outbox_take(*, shapes: Sequence[object], person: str) -> tuple[Answer, ...]:
    """
    Record the events of an outbox; those already there are answered as such.

    Args:
        shapes: JSON shapes ``cubital.event/1``, in the order in which they happened.
        person: sign-in name of whoever is signed in where they come from.

    Returns:
        One answer a shape, in the same order; what is no event is refused with the reason.
    """
    offers: list[Offer] = []
    answers: dict[int, Answer] = {}
    for number, shape in enumerate(shapes):
        try:
            offers.append(Offer(event_from(shape), person))
        except EventRefused as error:
            answers[number] = Answer(said_id(shape), Verdict.REFUSED, str(error))
    if answers:
        keep(shapes, answers, person)
    taken = iter(offer_events(offers=offers) if offers else ())
    return tuple(answers.get(number) or next(taken) for number in range(len(shapes)))


def keep(shapes: Sequence[object], answers: dict[int, Answer], person: str) -> None:
    """Keep what could not even be read as an event, and why."""
    now = timezone.now()
    with transaction.atomic():
        refusals_keep(
            [refusal(shapes[n], person, answer.sentence, now) for n, answer in answers.items()]
        )


def said_id(shape: object) -> str:
    """The id that something claims to have, so that the sender finds it again."""
    value = shape.get("id") if isinstance(shape, dict) else ""
    return value if isinstance(value, str) and len(value) <= 64 and value.isascii() else ""
