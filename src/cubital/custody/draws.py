"""How a draw and its attempts go on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from cubital.custody.event import Event
from cubital.custody.items import Attempt, Draw, DrawState
from cubital.errors import EventRefused

AFTERWARDS = frozenset({"override_given", "tube_refused"})
"""Kinds that may still be written about a draw that is over."""
WHEN_STOPPED = frozenset({"draw_not_obtained", "tourniquet_off", "attempt_ended"})
"""Kinds that may follow an identity that did not agree: what ends the draw safely."""
NEEDS_IDENTITY = frozenset({"attempt_begun", "tube_scanned", "draw_finished"})


def draw_after(item: Draw | None, event: Event, code: str) -> Draw:
    """
    Fold one event into a draw.

    Raises:
        EventRefused: it cannot have happened in this draw as it stands.
    """
    if event.kind == "draw_begun":
        if item is not None:
            raise EventRefused(f"Draw {code} has already begun.")
        return Draw(
            code=code,
            site=event.site,
            patient=str(event.payload["patient"]),
            requisition=str(event.payload["requisition"]),
            state=DrawState.BEGUN,
            who=event.who,
            begun_at=event.happened_at,
        )
    if item is None:
        raise EventRefused(f"There is no draw {code} in the record yet.")
    if item.site != event.site:
        raise EventRefused(f"Draw {code} belongs to {item.site}, not to {event.site}.")
    _check_state(item, event)
    change = CHANGES.get(event.kind)
    return item if change is None else replace(item, **change(item, event))


def _check_state(item: Draw, event: Event) -> None:
    if event.kind in AFTERWARDS:
        return
    if item.state in (DrawState.FINISHED, DrawState.NOT_OBTAINED):
        raise EventRefused(f"Draw {item.code} is over; begin a new one.")
    if item.state is DrawState.STOPPED and event.kind not in WHEN_STOPPED:
        raise EventRefused(
            f"Draw {item.code} is stopped: an identifier did not agree, and nobody overrides that;"
            " end it as not obtained."
        )
    if event.kind in NEEDS_IDENTITY and not item.identified:
        raise EventRefused(f"Draw {item.code}: confirm who the patient is first.")


def _attempt_begun(item: Draw, event: Event) -> dict[str, Any]:
    if item.open_attempt:
        raise EventRefused(
            f"Draw {item.code}: attempt {item.open_attempt} has not ended; end it first."
        )
    return {"attempts": item.attempts + 1, "open_attempt": _code(event)}


def _attempt_ended(item: Draw, event: Event) -> dict[str, Any]:
    if item.open_attempt != _code(event):
        raise EventRefused(f"Draw {item.code}: attempt {_code(event)} is not the one under way.")
    return {"open_attempt": ""}


def _tourniquet_on(item: Draw, event: Event) -> dict[str, Any]:
    if item.tourniquet_on_at is not None:
        raise EventRefused(f"Draw {item.code}: the tourniquet is already on.")
    return {"tourniquet_on_at": event.happened_at}


def _tourniquet_off(item: Draw, event: Event) -> dict[str, Any]:
    if item.tourniquet_on_at is None:
        raise EventRefused(f"Draw {item.code}: the tourniquet is not on.")
    return {"tourniquet_on_at": None}


def _ended(item: Draw, event: Event) -> dict[str, Any]:
    if item.open_attempt:
        raise EventRefused(
            f"Draw {item.code}: the needle of attempt {item.open_attempt} is still in;"
            " end the attempt first."
        )
    if item.tourniquet_on_at is not None:
        raise EventRefused(f"Draw {item.code}: the tourniquet is still on.")
    finished = event.kind == "draw_finished"
    return {
        "state": DrawState.FINISHED if finished else DrawState.NOT_OBTAINED,
        "ended_at": event.happened_at,
        "reason": str(event.payload.get("reason") or ""),
    }


CHANGES: dict[str, Callable[[Draw, Event], dict[str, Any]]] = {
    "identity_confirmed": lambda item, event: {"identified": item.identified + 1},
    "identity_mismatch": lambda item, event: {"state": DrawState.STOPPED},
    "attempt_begun": _attempt_begun,
    "attempt_ended": _attempt_ended,
    "tourniquet_on": _tourniquet_on,
    "tourniquet_off": _tourniquet_off,
    "tube_scanned": lambda item, event: {"specimens": (*item.specimens, _code(event))},
    "draw_handed_over": lambda item, event: {"who": str(event.payload["to"])},
    "draw_finished": _ended,
    "draw_not_obtained": _ended,
}


def attempt_after(item: Attempt | None, event: Event, code: str) -> Attempt:
    """
    Fold one event into an attempt.

    Raises:
        EventRefused: it cannot have happened to this attempt as it stands.
    """
    said = event.payload
    if event.kind == "attempt_begun":
        if item is not None:
            raise EventRefused(f"Attempt {code} has already begun.")
        gauge = said.get("gauge")
        return Attempt(
            code=code,
            site=event.site,
            draw=str(said["draw"]),
            who=event.who,
            begun_at=event.happened_at,
            body_site=str(said.get("body_site") or ""),
            side=str(said.get("side") or ""),
            device=str(said.get("device") or ""),
            gauge=gauge if isinstance(gauge, int) else None,
        )
    if item is None:
        raise EventRefused(f"There is no attempt {code} in the record yet.")
    if item.draw != said["draw"] or item.site != event.site:
        raise EventRefused(f"Attempt {code} belongs to draw {item.draw} at {item.site}.")
    if item.ended_at is not None:
        raise EventRefused(f"Attempt {code} has already ended.")
    return replace(
        item,
        ended_at=event.happened_at,
        success=bool(said["success"]),
        reason=str(said.get("reason") or ""),
    )


def _code(event: Event) -> str:
    return event.subject.partition(":")[2]
