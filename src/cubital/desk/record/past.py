"""Reads: what came before a correction, as far as it matters to it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django.db.models import QuerySet

from cubital.custody import Event, Recorded, check_event
from cubital.custody.fold import replaced
from cubital.custody.mending import originals, touched_by_mending
from cubital.desk.record.models import Event as EventRow
from cubital.desk.record.models import Touch
from cubital.desk.record.rows import EVENT_COLUMNS, portions, recorded_from
from cubital.errors import EventRefused


def past_of(mends: Sequence[Event]) -> tuple[Recorded, ...]:
    """
    Load the events that these mend, all that touch the same subjects, and what mends any of them.

    Returns:
        In the order in which they were recorded.
    """
    found: dict[int, Recorded] = {}
    load(found, "uuid", originals(mends))
    if not found:
        return ()
    mended = {record.event.id: record.event for record in found.values()}
    load(found, "corrects", mended)
    subjects: set[str] = set()
    for mend in (*mends, *(record.event for record in found.values())):
        if mend.corrects in mended and well_formed(mend):
            subjects.update(touched_by_mending(mend, mended[mend.corrects]))
    touching: set[int] = set()
    for part in portions(sorted(subjects)):
        rows = Touch.objects.filter(subject__in=part)
        touching.update(rows.values_list("position", flat=True))
    load(found, "position", touching - found.keys())
    load(found, "uuid", {r.event.corrects for r in found.values() if r.event.corrects})
    load(found, "corrects", {record.event.id for record in found.values()})
    return tuple(found[position] for position in sorted(found))


def load(found: dict[int, Recorded], column: str, values: Iterable[object]) -> None:
    """Add the records whose column holds one of these values."""
    for part in portions(sorted(values, key=str)):
        rows: QuerySet[EventRow] = EventRow.objects.filter(**{f"{column}__in": part})
        for position, *columns in rows.values_list("position", *EVENT_COLUMNS):
            found[position] = recorded_from(columns)


def touched_as_mended(mends: Sequence[Event], past: Sequence[Recorded]) -> list[Event]:
    """Give the mended events as they would stand, as far as they are well formed."""
    by_id = {record.event.id: record.event for record in past}
    stand = []
    for mend in mends:
        original = by_id.get(mend.corrects or "")
        after = replaced(original, mend) if original is not None else None
        if after is not None and well_formed(after):
            stand.append(after)
    return stand


def well_formed(event: Event) -> bool:
    """Whether an event is one of its kind, so that it can be asked what it touches."""
    try:
        check_event(event)
    except EventRefused:
        return False
    return True
