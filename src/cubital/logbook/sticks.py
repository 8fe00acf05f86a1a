"""Needle sticks per patient: the log that comes out of the attempts by itself."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import timedelta, tzinfo

from cubital.custody import Event
from cubital.logbook.values import Sticks


def _tourniquet(events: list[Event]) -> timedelta | None:
    """How long the tourniquet was on in all, None when it was never timed."""
    total, since = None, None
    for event in events:
        if event.kind == "tourniquet_on":
            since = event.happened_at
        elif event.kind == "tourniquet_off" and since is not None:
            total = (total or timedelta(0)) + max(event.happened_at - since, timedelta(0))
            since = None
    return total


def _sticks(draw: str, events: list[Event], zone: tzinfo) -> Sticks | None:
    begun = next((e for e in events if e.kind == "draw_begun"), None)
    attempts = [e for e in events if e.kind == "attempt_begun"]
    if begun is None or not attempts:
        return None
    ended = [e for e in events if e.kind == "attempt_ended"]
    places = [
        " ".join(str(e.payload.get(k) or "") for k in ("side", "body_site")).strip()
        for e in attempts
    ]
    return Sticks(
        day=begun.happened_at.astimezone(zone).date(),
        draw=draw,
        patient=str(begun.payload["patient"]),
        requisition=str(begun.payload["requisition"]),
        attempts=len(attempts),
        obtained=any(e.payload.get("success") for e in ended),
        collectors=tuple(dict.fromkeys(e.who for e in attempts)),
        sites=tuple(dict.fromkeys(p for p in places if p)),
        reasons=tuple(str(e.payload["reason"]) for e in ended if e.payload.get("reason")),
        tourniquet=_tourniquet(events),
    )


def stick_log(events: Iterable[Event], zone: tzinfo) -> tuple[Sticks, ...]:
    """
    Give one line a draw in which a needle went in, in the order in which the draws began.

    Args:
        events: effective events, any order.
        zone: of the place, for the day.
    """
    by_draw: dict[str, list[Event]] = defaultdict(list)
    for event in sorted(events, key=lambda e: (e.happened_at, e.id)):
        what, _, code = event.subject.partition(":")
        draw = code if what == "draw" else str(event.payload.get("draw") or "")
        if draw:
            by_draw[draw].append(event)
    found = (_sticks(draw, own, zone) for draw, own in by_draw.items())
    return tuple(sticks for sticks in found if sticks is not None)
