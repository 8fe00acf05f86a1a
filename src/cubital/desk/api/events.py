"""Events from the outboxes of the chairs and benches."""

from __future__ import annotations

from typing import Annotated, Any

from django.http import JsonResponse
from ninja import Field, Router, Schema
from pydantic import WithJsonSchema

from cubital.custody.event import SLUG
from cubital.custody.kinds import KINDS, SUBJECTS
from cubital.custody.uuid7 import SHAPE
from cubital.desk.people.request import DeskRequest
from cubital.desk.record.outbox import outbox_take

router = Router()
MOST = 200

EVENT = {
    "type": "object",
    "title": "Event",
    "description": "One thing that happened, shape cubital.event/1; see docs/events.md.",
    "required": ["id", "site", "kind", "happened_at", "who", "subject"],
    "additionalProperties": False,
    "properties": {
        "id": {"type": "string", "pattern": f"^{SHAPE.pattern}$", "description": "UUID version 7"},
        "site": {"type": "string", "pattern": f"^{SLUG.pattern}$"},
        "kind": {"type": "string", "enum": sorted(KINDS)},
        "happened_at": {"type": "string", "format": "date-time"},
        "who": {"type": "string", "minLength": 1, "maxLength": 150},
        "device": {"type": "string", "maxLength": 64},
        "subject": {"type": "string", "pattern": f"^({'|'.join(SUBJECTS)}):.+$", "maxLength": 80},
        "payload": {"type": "object"},
        "corrects": {"type": ["string", "null"]},
    },
}


class EventsIn(Schema):
    """What an outbox sends: events in the order in which they happened."""

    events: Annotated[
        list[Annotated[Any, WithJsonSchema(EVENT)]], Field(min_length=1, max_length=MOST)
    ]


class AnswerOut(Schema):
    """What became of one event."""

    id: str
    verdict: str = Field(description="stored, already (stored before) or refused")
    sentence: str = Field(description="why it was refused, else empty")
    sequence: int = Field(description="its place in the site's chain, 0 when refused")


class AnswersOut(Schema):
    """One answer an event, in the same order; stored and already mean that it is durable."""

    answers: list[AnswerOut]


class Wrong(Schema):
    """Why nothing was done."""

    detail: Any


@router.post(
    "/events",
    response={200: AnswersOut, 400: Wrong, 401: Wrong, 403: Wrong, 422: Wrong},
    summary="Record events",
    url_name="events",
)
def events_post(request: DeskRequest, sent: EventsIn) -> JsonResponse:
    """Record events; each is answered on its own, after it is durable."""
    answers = outbox_take(shapes=sent.events, person=request.user.get_username())
    told = [
        {
            "id": answer.id,
            "verdict": str(answer.verdict),
            "sentence": answer.sentence,
            "sequence": answer.sequence,
        }
        for answer in answers
    ]
    # made here in the shape of AnswersOut, and not read and checked once more on the way out
    return JsonResponse({"answers": told})
