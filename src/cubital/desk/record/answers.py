"""What is known of a patient's preparation: entered with the requisition, changed by events."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from cubital.custody import Event, effective
from cubital.desk.record.events import append_event
from cubital.desk.record.happened import happened
from cubital.desk.record.models import DrawFinding, DrawNow, Person, Requisition
from cubital.desk.record.models import Event as EventRow
from cubital.desk.record.overrides import subject
from cubital.desk.record.requisitions import waiting
from cubital.desk.record.rows import EVENT_COLUMNS, recorded_from
from cubital.errors import InputError
from cubital.requisition.answered import answers_from_event, answers_to_event
from cubital.requisition.values import Answers

KIND = "requisition_answered"
AT_CHAIR = "preparation_answered"


@dataclass(frozen=True, slots=True)
class Answered:
    """The last word on a requisition's preparation; ``event`` names it."""

    answers: Answers
    who: str
    at: datetime
    event: str


@dataclass(frozen=True, slots=True)
class ChairDraw:
    """What the chair asked and found in one draw of a requisition."""

    draw: DrawNow
    answers: tuple[Event, ...]
    findings: tuple[DrawFinding, ...]


def answers_change(
    *, requisition: Requisition, answers: Answers, seen: str, by: Person, now: datetime
) -> bool:
    """
    Put other answers in place of those that were seen; what stood before stays in the record.

    Args:
        requisition: that waits.
        answers: all of them.
        seen: name of the event whose answers were looked at, "" where there was none.
        by: who enters them.
        now: when.

    Returns:
        Whether anything was changed.

    Raises:
        InputError: it does not wait any more, or somebody else changed them meanwhile.
        EventRefused: the record refuses it.
    """
    with transaction.atomic():
        row = Requisition.objects.select_for_update().get(pk=requisition.pk)
        waiting(row)
        last = answers_of([row]).get(row.number)
        payload = answers_to_event(answers)
        known = last.answers if last is not None else row.to_domain().answers
        if answers_to_event(known) == payload:
            return False
        if seen != (last.event if last is not None else ""):
            raise InputError(
                "Somebody else changed these answers meanwhile",
                mend="Compare with what stands there now, and store again if yours is right.",
            )
        event = happened(KIND, subject(row), site=row.place.code, by=by, now=now, **payload)
        append_event(event=event, person=by, now=now)
    return True


def answers_of(requisitions: Collection[Requisition]) -> dict[str, Answered]:
    """The answers that were changed after the requisition was entered, by its number."""
    numbers = {subject(row): row.number for row in requisitions}
    return {
        numbers[event.subject]: Answered(
            answers_from_event(event.payload), event.who, event.happened_at, event.id
        )
        for event in _standing(KIND, numbers)
    }


def chair_of(requisition: Requisition) -> tuple[ChairDraw, ...]:
    """What the chair asked and found, draw by draw."""
    draws = list(DrawNow.objects.filter(requisition=requisition.number).order_by("begun_at"))
    if not draws:
        return ()
    answers = _standing(AT_CHAIR, {f"draw:{draw.code}" for draw in draws})
    found = list(DrawFinding.objects.filter(draw__in=[d.code for d in draws]).order_by("number"))
    return tuple(
        ChairDraw(
            draw,
            tuple(event for event in answers if event.subject == f"draw:{draw.code}"),
            tuple(each for each in found if each.draw == draw.code),
        )
        for draw in draws
    )


def _standing(kind: str, subjects: Iterable[str]) -> tuple[Event, ...]:
    """Events of a kind as they stand after corrections, in their order."""
    wanted = set(subjects)
    given = EventRow.objects.filter(kind=kind, subject__in=wanted)
    uuids = list(given.values_list("uuid", flat=True))
    if not uuids:
        return ()
    mends = EventRow.objects.filter(corrects__in=uuids)
    rows = (given | mends).order_by("position").values_list(*EVENT_COLUMNS)
    return tuple(e for e in effective(recorded_from(row) for row in rows) if e.kind == kind)
