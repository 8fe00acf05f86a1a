"""Going on although a rule asks: with a reason, as an event, and never past a rule that stops."""

from __future__ import annotations

import os
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from cubital.custody import Event, effective, uuid7
from cubital.desk.record.events import append_event
from cubital.desk.record.models import Event as EventRow
from cubital.desk.record.models import Person, Requisition
from cubital.desk.record.rows import EVENT_COLUMNS, recorded_from
from cubital.errors import InputError
from cubital.finding import Finding, Severity

KIND = "override_given"
DEVICE = "desk"


@dataclass(frozen=True, slots=True)
class Override:
    """Who went on, when and why."""

    who: str
    at: datetime
    why: str


def override_give(
    *, requisition: Requisition, finding: Finding, why: str, by: Person, now: datetime
) -> None:
    """
    Keep that somebody goes on although a rule asks.

    Raises:
        InputError: no reason given, or the rule stops: nobody goes past it.
        EventRefused: the record refuses it, for example from a role that may not.
    """
    if finding.severity is not Severity.ASK:
        raise InputError("Nobody goes past a rule that stops", mend="Do what it says.")
    if not why.strip():
        raise InputError("One goes on with a reason", mend="Write it in a few words.")
    event = Event(
        id=uuid7(now, os.urandom(10)),
        site=requisition.place.code,
        kind=KIND,
        happened_at=now,
        who=by.username,
        device=DEVICE,
        subject=subject(requisition),
        payload={"finding": finding.code, "reason": why.strip()},
    )
    append_event(event=event, person=by, now=now)


def overrides_of(requisitions: Collection[Requisition]) -> dict[str, dict[str, Override]]:
    """
    Give what was gone past, as it stands after corrections.

    Gives requisition number -> finding code -> the last word on it.
    """
    numbers = {subject(row): row.number for row in requisitions}
    given = EventRow.objects.filter(kind=KIND, subject__in=numbers)
    uuids = list(given.values_list("uuid", flat=True))
    if not uuids:
        return {}
    mends = EventRow.objects.filter(corrects__in=uuids)
    rows = (given | mends).order_by("position").values_list(*EVENT_COLUMNS)
    found: dict[str, dict[str, Override]] = {}
    for event in effective(recorded_from(row) for row in rows):
        if event.kind == KIND and event.subject in numbers:
            word = Override(event.who, event.happened_at, str(event.payload["reason"]))
            of_one = found.setdefault(numbers[event.subject], {})
            of_one[str(event.payload["finding"])] = word
    return found


def subject(requisition: Requisition) -> str:
    """How an event names the requisition."""
    return f"requisition:{requisition.number}"
