"""
A waste bag or sharps box: opened, filled, closed, weighed, handed over.

What goes where, when it must be closed and how long it may stand are rules of the logbook room;
here is only what cannot have happened.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum

from cubital.custody.event import Event
from cubital.errors import EventRefused


class WasteState(StrEnum):
    """How a bag or box stands."""

    OPEN = "open"
    CLOSED = "closed"
    HANDED_OVER = "handed_over"


@dataclass(frozen=True, slots=True, kw_only=True)
class Waste:
    """
    A bag or box, by its bar code.

    Args:
        scheme, stream: by whose rules, and what goes in.
        fill_percent: as last said.
        weight_g: None until weighed.
    """

    code: str
    site: str
    state: WasteState
    scheme: str
    stream: str
    opened_at: datetime
    opened_by: str
    fill_percent: int = 0
    closed_at: datetime | None = None
    weight_g: int | None = None
    handed_over_at: datetime | None = None
    handed_to: str = ""


def waste_after(item: Waste | None, event: Event, code: str) -> Waste:
    """
    Fold one event into a bag or box.

    Raises:
        EventRefused: it cannot have happened to it as it stands.
    """
    if event.kind == "waste_opened":
        return _opened(item, event, code)
    if item is None:
        raise EventRefused(f"There is no waste bag or box {code} in the record yet.")
    if event.site != item.site:
        raise EventRefused(f"{code} stands at {item.site}, not at {event.site}.")
    said = event.payload
    if event.kind == "waste_filled":
        _must_be(item, WasteState.OPEN, "nothing more goes in")
        return replace(item, fill_percent=_whole(said["percent"]))
    if event.kind == "waste_closed":
        _must_be(item, WasteState.OPEN, "it cannot be closed again")
        if event.happened_at < item.opened_at:
            raise EventRefused(f"{code} cannot be closed before it was opened.")
        return replace(item, state=WasteState.CLOSED, closed_at=event.happened_at)
    if event.kind == "waste_weighed":
        _must_be(item, WasteState.CLOSED, "it is weighed closed, before it goes")
        return replace(item, weight_g=_whole(said["weight_g"]))
    if event.kind == "waste_handed_over":
        _must_be(item, WasteState.CLOSED, "it is handed over closed, once")
        return replace(
            item,
            state=WasteState.HANDED_OVER,
            handed_over_at=event.happened_at,
            handed_to=str(said["to"]),
        )
    return item


def _opened(item: Waste | None, event: Event, code: str) -> Waste:
    if item is not None:
        raise EventRefused(f"{code} is already in the record; take another bar code.")
    return Waste(
        code=code,
        site=event.site,
        state=WasteState.OPEN,
        scheme=str(event.payload["scheme"]),
        stream=str(event.payload["stream"]),
        opened_at=event.happened_at,
        opened_by=event.who,
    )


def _must_be(item: Waste, state: WasteState, why: str) -> None:
    if item.state is not state:
        raise EventRefused(f"{item.code} is {item.state.replace('_', ' ')}: {why}.")


def _whole(value: object) -> int:
    assert isinstance(value, int)
    return value
