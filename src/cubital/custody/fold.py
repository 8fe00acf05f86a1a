"""
The events, folded into what there is now.

The fold is *local*: how an item stands depends on the events that touch it, in their order, and on
no other item.  So one item can be folded again alone, after a correction or in a check.  What must
agree between items (the tube's patient and the draw's, say) is looked at once, at the door: see
``door.py``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from cubital.custody.chain import Recorded
from cubital.custody.draws import attempt_after, draw_after
from cubital.custody.event import Event, time_from
from cubital.custody.items import ITEMS, Item
from cubital.custody.kinds import MENDING, touched
from cubital.custody.others import box_after, incident_after, spin_after
from cubital.custody.specimens import specimen_after
from cubital.custody.waste import waste_after
from cubital.errors import EventRefused

Items = Mapping[str, Item]
"""Items by subject, ``type:code``."""

AFTER: dict[str, Callable[[Any, Event, str], Item]] = {
    "draw": draw_after,
    "attempt": attempt_after,
    "specimen": specimen_after,
    "box": box_after,
    "spin": spin_after,
    "incident": incident_after,
    "waste": waste_after,
}


def evolve(item: Item | None, event: Event, subject: str) -> Item:
    """
    Fold one event into one item that it touches.

    Raises:
        EventRefused: it cannot have happened to the item as it stands.
    """
    what, _, code = subject.partition(":")
    return AFTER[what](item, event, code)


def has_item(subject: str) -> bool:
    """Tell whether a subject is folded into an item (patients and requisitions are not)."""
    return subject.partition(":")[0] in ITEMS


def changes(items: Items, event: Event) -> dict[str, Item]:
    """
    Give the items that one event changes, as they stand after it.

    Raises:
        EventRefused: it is impossible for one of them; nothing is changed.
    """
    return {
        subject: evolve(items.get(subject), event, subject)
        for subject in touched(event)
        if has_item(subject)
    }


def effective(records: Iterable[Recorded]) -> Iterator[Event]:
    """
    Give the events as they stand after all mending, each at the place of the original.

    Args:
        records: in the order in which they were recorded; every mending event and the event that
            it mends, or neither.
    """
    kept = list(records)
    latest = mendings(record.event for record in kept)
    for record in kept:
        event = mended(record.event, latest)
        if event is not None:
            yield event


def mendings(events: Iterable[Event]) -> dict[str, Event]:
    """Give the last word on each mended event, by the id of that event."""
    return {
        event.corrects: event
        for event in events
        if event.kind in MENDING and event.corrects is not None
    }


def mended(event: Event, latest: Mapping[str, Event]) -> Event | None:
    """Give an event as it stands after mending; None when withdrawn or itself a mending."""
    if event.kind in MENDING:
        return None
    mend = latest.get(event.id)
    return event if mend is None else replaced(event, mend)


def replaced(event: Event, mend: Event) -> Event | None:
    """Give an event as one mending leaves it."""
    if mend.kind == "event_withdrawn":
        return None
    payload = mend.payload["payload"]
    assert isinstance(payload, Mapping)
    moment = mend.payload.get("happened_at")
    happened_at = event.happened_at if moment is None else time_from(moment, "happened_at")
    return replace(event, payload=payload, happened_at=happened_at)


def fold(events: Iterable[Event]) -> dict[str, Item]:
    """
    Fold effective events into every item there is.

    Raises:
        EventRefused: one of them is impossible, which the record never lets in.
    """
    items: dict[str, Item] = {}
    for event in events:
        items.update(changes(items, event))
    return items


def fold_one(subject: str, events: Iterable[Event]) -> Item | None:
    """
    Fold one item out of effective events, of which those that do not touch it count nothing.

    Raises:
        EventRefused: one of them is impossible.
    """
    item: Item | None = None
    for event in events:
        if subject in touched(event):
            try:
                item = evolve(item, event, subject)
            except EventRefused as error:
                raise EventRefused(f"{error} ({event.kind} {event.id})") from error
    return item
