"""
A mistake is mended by a later event, never by changing an earlier one.

``event_corrected`` says how it was instead, ``event_withdrawn`` that it was not.  The items that
are concerned are folded again with the mending in place; if that makes a later event impossible,
the mending is refused and says which one must be mended with it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from cubital.custody.chain import Recorded
from cubital.custody.door import Door, check_patient
from cubital.custody.event import Event
from cubital.custody.fold import Items, fold_one, has_item, mended, mendings, replaced
from cubital.custody.items import Item
from cubital.custody.kinds import KINDS, MENDING, QUALITY, check_event, touched
from cubital.errors import EventRefused


@dataclass(frozen=True, slots=True)
class Mended:
    """
    What mending does.

    Args:
        items: that it changes, as they stand now; None when one is no longer there.
        touched: the subjects that each mending event touches, by its id.
    """

    items: Mapping[str, Item | None]
    touched: Mapping[str, tuple[str, ...]]


def originals(mends: Sequence[Event]) -> tuple[str, ...]:
    """Give the ids of the events that are mended."""
    return tuple(event.corrects for event in mends if event.corrects is not None)


def touched_by_mending(mend: Event, original: Event) -> tuple[str, ...]:
    """Give every subject that the original touches, and those it touches as mended."""
    subjects = [*touched(original)]
    after = replaced(original, mend)
    if after is not None:
        subjects += touched(after)
    return tuple(dict.fromkeys(subjects))


def mend(
    mends: Sequence[Event],
    past: Sequence[Recorded],
    items: Items,
    door: Door,
    sent_by: Mapping[str, str],
) -> Mended:
    """
    Judge mending events together.

    Args:
        mends: the events, offered side by side.
        past: the events that they mend; every event that touches a subject these touch, as
            recorded or as mended; and the events that mend any of those; in the order recorded.
        items: those that the mended events look at (see ``door.wanted``).
        door: of the desk.
        sent_by: who sends each, by its id.

    Raises:
        EventRefused: there is no such event, it may not be mended (so), or a later event would
            be impossible.
    """
    by_id = {record.event.id: record.event for record in past}
    subjects: list[str] = []
    each: dict[str, tuple[str, ...]] = {}
    for event in mends:
        original = _original(event, by_id)
        roles = KINDS[original.kind].roles | {QUALITY}
        door.check_role(event, roles, sent_by[event.id])
        _check_after(event, original, items, door)
        each[event.id] = touched_by_mending(event, original)
        subjects += each[event.id]
        for earlier in by_id.values():
            if earlier.corrects == original.id:
                subjects += touched_by_mending(earlier, original)
    return Mended(_folded(dict.fromkeys(subjects), [*by_id.values(), *mends]), each)


def _original(event: Event, by_id: Mapping[str, Event]) -> Event:
    """Find the event that is mended, and check that it may be."""
    original = by_id.get(event.corrects or "")
    if original is None:
        raise EventRefused(f"corrects: there is no event {event.corrects} in the record.")
    if original.kind in MENDING:
        raise EventRefused(
            "corrects: this is itself a correction; correct the first event again instead."
        )
    if not KINDS[original.kind].mendable:
        raise EventRefused(f"corrects: {original.kind} is never corrected or withdrawn.")
    if (original.subject, original.site) != (event.subject, event.site):
        raise EventRefused(
            f"subject: the event that it mends happened to {original.subject} at {original.site}."
        )
    return original


def _check_after(event: Event, original: Event, items: Items, door: Door) -> None:
    """Check the event as it will stand, as if it were offered so."""
    after = replaced(original, event)
    if after is None:
        return
    check_event(after)
    if after.happened_at > door.now + door.ahead:
        raise EventRefused("payload.happened_at: this time is still to come.")
    if after.kind == "draw_begun":
        door.check_requisition(after)
    check_patient(after, items)


def _folded(subjects: Mapping[str, None], events: Sequence[Event]) -> dict[str, Item | None]:
    """Fold each subject again with the last word on every event."""
    latest = mendings(events)
    stand = [after for event in events if (after := mended(event, latest)) is not None]
    try:
        return {subject: fold_one(subject, stand) for subject in subjects if has_item(subject)}
    except EventRefused as error:
        raise EventRefused(
            f"With this correction a later event could not have happened: {error}"
            " Mend that one in the same step."
        ) from error
