"""Writes: the projections, made again from the events."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.db import transaction

from cubital.custody import Event, Item, Recorded
from cubital.custody.fold import changes, mended, mendings
from cubital.custody.kinds import touched
from cubital.custody.mending import touched_by_mending
from cubital.desk.record.follow import follow_all
from cubital.desk.record.known import lock
from cubital.desk.record.models import Event as EventRow
from cubital.desk.record.models import Touch
from cubital.desk.record.rows import COLUMNS, EVENT_COLUMNS, items_save, recorded_from

AT_ONCE = 2000


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """
    What making the projections again found.

    Args:
        events: that were folded.
        items: that came out.
        different: subjects whose item was not what the events say, or was missing, or was there
            without any event; sorted; then the draws from which something else followed.
        touches_different: rows of the list of subjects that were missing or too many.
    """

    events: int
    items: int
    different: tuple[str, ...]
    touches_different: int

    @property
    def equal(self) -> bool:
        """Whether the projections were what the events say."""
        return not self.different and not self.touches_different


def rebuild(*, only_compare: bool = False) -> Rebuilt:
    """
    Fold every event again and put the projections right where they differ.

    The desk may go on meanwhile; what it writes waits until this is done.

    Args:
        only_compare: look, and change nothing.
    """
    with transaction.atomic():
        lock()
        items, touches, count = folded()
        kept = dict(items_kept())
        wrong = {
            subject: items.get(subject)
            for subject in items.keys() | kept.keys()
            if items.get(subject) != kept.get(subject)
        }
        there = set(Touch.objects.values_list("subject", "position"))
        if not only_compare:
            items_save(wrong.items())
            touches_save(touches, there)
        follows_wrong = follow_all(items, touches, only_compare=only_compare)
    different = (*sorted(wrong), *follows_wrong)
    return Rebuilt(count, len(items), different, len(there ^ touches))


def folded() -> tuple[dict[str, Item], set[tuple[str, int]], int]:
    """Fold the whole log: every item, every subject with its events, and how many events."""
    latest = mendings(record.event for _, record in records(only_mending=True))
    items: dict[str, Item] = {}
    touches: set[tuple[str, int]] = set()
    mended_ones: dict[str, Event] = {}
    count = 0
    for position, record in records():
        event = record.event
        count += 1
        if event.id in latest:
            mended_ones[event.id] = event
        original = mended_ones.get(event.corrects or "")
        subjects = touched(event) if original is None else touched_by_mending(event, original)
        touches.update((subject, position) for subject in subjects)
        stands = mended(event, latest)
        if stands is not None:
            items.update(changes(items, stands))
    return items, touches, count


def records(*, only_mending: bool = False) -> Iterator[tuple[int, Recorded]]:
    """Read the log in the order in which it was recorded."""
    last = 0
    rows = EventRow.objects.order_by("position").values_list("position", *EVENT_COLUMNS)
    if only_mending:
        rows = rows.exclude(corrects="")
    while True:
        some = list(rows.filter(position__gt=last)[:AT_ONCE])
        for position, *columns in some:
            yield position, recorded_from(columns)
        if len(some) < AT_ONCE:
            return
        last = some[-1][0]


def items_kept() -> Iterator[tuple[str, Item]]:
    """Every item as the projections hold it."""
    for what, columns in COLUMNS.items():
        rows = columns.model._default_manager.values_list(*columns.names)
        for values in rows.iterator(chunk_size=AT_ONCE):
            item = columns.read(values)
            yield f"{what}:{item.code}", item


def touches_save(wanted: set[tuple[str, int]], there: set[tuple[str, int]]) -> None:
    """Put the list of subjects right."""
    for subject, position in there - wanted:
        Touch.objects.filter(subject=subject, position=position).delete()
    missing = [Touch(subject=subject, position=position) for subject, position in wanted - there]
    Touch.objects.bulk_create(missing, batch_size=AT_ONCE)
