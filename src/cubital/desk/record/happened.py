"""An event that happens now at the desk itself, and several that must all be taken."""

from __future__ import annotations

import os
from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from cubital.custody import Answer, Event, Verdict, uuid7
from cubital.custody.canonical import Json
from cubital.desk.record.events import append_events
from cubital.desk.record.models import Person
from cubital.errors import EventRefused

DEVICE = "desk"


def happened(
    kind: str, subject: str, *, site: str, by: Person, now: datetime, **payload: Json
) -> Event:
    """Make an event that somebody enters at the desk; what is None or empty is left out."""
    return Event(
        id=uuid7(now, os.urandom(10)),
        site=site,
        kind=kind,
        happened_at=now,
        who=by.username,
        device=DEVICE,
        subject=subject,
        payload={name: value for name, value in payload.items() if value not in (None, "", [])},
    )


def append_all(*, events: Sequence[Event], by: Person, now: datetime) -> tuple[Answer, ...]:
    """
    Record events that belong together: all of them or none.

    Raises:
        EventRefused: the first that cannot have happened; none is stored.
    """
    with transaction.atomic():
        answers = append_events(events=events, person=by, now=now)
        for answer in answers:
            if answer.verdict is Verdict.REFUSED:
                raise EventRefused(answer.sentence)
    return answers
