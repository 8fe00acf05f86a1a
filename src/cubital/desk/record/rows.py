"""Rows of the event tables and values of the custody room, each way."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from dataclasses import fields
from typing import Any, get_type_hints

from django.db import models

from cubital.custody import (
    Attempt,
    Box,
    Draw,
    Event,
    Incident,
    Item,
    Recorded,
    Specimen,
    Spin,
    Waste,
    canonical,
)
from cubital.desk.record.models import (
    AttemptNow,
    BoxNow,
    DrawNow,
    IncidentNow,
    SpecimenNow,
    SpinNow,
    WasteNow,
)
from cubital.desk.record.models import Event as EventRow
from cubital.desk.record.quick import Asked, Table

EVENT_COLUMNS = (
    "uuid", "site", "sequence", "kind", "happened_at", "recorded_at", "who", "sent_by", "device",
    "subject", "payload", "corrects", "previous", "hash",
)  # fmt: skip

NOW: dict[str, tuple[type[Item], type[models.Model]]] = {
    "draw": (Draw, DrawNow),
    "attempt": (Attempt, AttemptNow),
    "specimen": (Specimen, SpecimenNow),
    "box": (Box, BoxNow),
    "spin": (Spin, SpinNow),
    "incident": (Incident, IncidentNow),
    "waste": (Waste, WasteNow),
}
"""Subject type -> value and table."""


EVENTS = Table(EventRow, EVENT_COLUMNS)
"""How events are kept."""
NEW_EVENTS = Table(EventRow, ("position", *EVENT_COLUMNS))
"""The same with their position."""


def event_row(record: Recorded, position: int) -> tuple[Any, ...]:
    """The row of ``NEW_EVENTS`` that holds a record."""
    event = record.event
    return (
        position,
        event.id,
        event.site,
        record.sequence,
        event.kind,
        event.happened_at,
        record.recorded_at,
        event.who,
        record.sent_by,
        event.device,
        event.subject,
        canonical(event.payload).decode(),
        event.corrects or "",
        record.previous,
        record.hash,
    )


def recorded_from(row: Iterable[Any]) -> Recorded:
    """The record that a row of ``EVENT_COLUMNS`` holds."""
    said = dict(zip(EVENT_COLUMNS, row, strict=True))
    event = Event(
        id=said["uuid"],
        site=said["site"],
        kind=said["kind"],
        happened_at=said["happened_at"],
        who=said["who"],
        device=said["device"],
        subject=said["subject"],
        payload=json.loads(said["payload"]),
        corrects=said["corrects"] or None,
    )
    return Recorded(
        event=event,
        recorded_at=said["recorded_at"],
        sent_by=said["sent_by"],
        sequence=said["sequence"],
        previous=said["previous"],
        hash=said["hash"],
    )


class Columns:
    """How one kind of item is kept: the names of its columns, and how each value is read back."""

    def __init__(self, item: type[Item], model: type[models.Model]) -> None:
        self.item = item
        self.model = model
        self.names = tuple(each.name for each in fields(item))
        self.table = Table(model, self.names)
        hints = get_type_hints(item)
        self.readers: tuple[Callable[[Any], Any] | None, ...] = tuple(
            item_reader(hints[name]) for name in self.names
        )

    def read(self, values: Iterable[Any]) -> Item:
        """The item that a row of ``names`` holds."""
        return self.item(
            **{
                name: value if read is None or value is None else read(value)
                for name, read, value in zip(self.names, self.readers, values, strict=True)
            }
        )

    def row(self, item: Item) -> tuple[Any, ...]:
        """The row of ``names`` that holds an item."""
        return tuple(getattr(item, name) for name in self.names)


def item_reader(hint: Any) -> Callable[[Any], Any] | None:
    """How a column's value becomes the field's own type; None when it is that already."""
    if getattr(hint, "__origin__", None) is tuple:
        return tuple
    if isinstance(hint, type) and hasattr(hint, "__members__"):
        return hint
    return None


COLUMNS: dict[str, Columns] = {what: Columns(*pair) for what, pair in NOW.items()}
"""Subject type -> how its items are kept."""


def items_load(subjects: Iterable[str]) -> dict[str, Item]:
    """Load the items of these subjects, as far as there are any: one query a type."""
    return items_told(items_ask(subjects))


def items_ask(subjects: Iterable[str]) -> dict[str, Asked]:
    """Ask for the items of these subjects."""
    by_type: dict[str, set[str]] = {}
    for subject in subjects:
        what, _, code = subject.partition(":")
        if what in COLUMNS:
            by_type.setdefault(what, set()).add(code)
    return {what: COLUMNS[what].table.ask("code", codes) for what, codes in by_type.items()}


def items_told(asked: dict[str, Asked]) -> dict[str, Item]:
    """Read the items that were asked for."""
    items: dict[str, Item] = {}
    for what, answer in asked.items():
        columns = COLUMNS[what]
        for values in answer.rows():
            item = columns.read(values)
            items[f"{what}:{item.code}"] = item
    return items


def items_save(items: Iterable[tuple[str, Item | None]]) -> None:
    """Write items as they stand now: one statement a type; None takes one away."""
    rows: dict[str, list[tuple[Any, ...]]] = {}
    gone: dict[str, list[str]] = {}
    for subject, item in items:
        what, _, code = subject.partition(":")
        if item is None:
            gone.setdefault(what, []).append(code)
        else:
            rows.setdefault(what, []).append(COLUMNS[what].row(item))
    for what, codes in gone.items():
        COLUMNS[what].model._default_manager.filter(code__in=codes).delete()
    for what, several in rows.items():
        COLUMNS[what].table.put(several, "code")


def portions(several: list[Any], size: int = 500) -> Iterable[list[Any]]:
    """Cut a list so that a query takes no more parameters than a database allows."""
    for at in range(0, len(several), size):
        yield several[at : at + size]
