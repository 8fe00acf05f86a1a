"""Reads: whether every chain holds, byte for byte, and the guards are in place."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from django.db import connection

from cubital.custody import ChainReport, Event, Head, Recorded, Unreadable, canonical, verify_chain
from cubital.desk.record import triggers
from cubital.desk.record.models import ChainHead
from cubital.desk.record.models import Event as EventRow
from cubital.desk.record.rows import EVENT_COLUMNS
from cubital.errors import InputError

AT_ONCE = 2000


@dataclass(frozen=True, slots=True)
class Verified:
    """
    What a walk through the record found.

    Args:
        chains: one report a site.
        triggers_missing: guards that are not in place.
    """

    chains: tuple[ChainReport, ...]
    triggers_missing: tuple[str, ...]

    @property
    def holds(self) -> bool:
        """Whether nothing was found."""
        return all(chain.holds for chain in self.chains) and not self.triggers_missing

    @property
    def sentence(self) -> str:
        """The first thing that was found, "" when nothing was."""
        for chain in self.chains:
            if not chain.holds:
                named = (
                    f"event {chain.event} (number {chain.sequence})" if chain.event else "its end"
                )
                return f"The chain of {chain.site} does not hold at {named}. {chain.sentence}"
        if self.triggers_missing:
            return f"Guards of the event tables are missing: {', '.join(self.triggers_missing)}."
        return ""

    @property
    def count(self) -> int:
        """Events that hold."""
        return sum(chain.count for chain in self.chains)


def verify() -> Verified:
    """Walk every chain from its first event to its head, reading the stored text itself."""
    heads = {row.site: row for row in ChainHead.objects.order_by("site")}
    sites = {*heads, *EventRow.objects.order_by().values_list("site", flat=True).distinct()}
    return Verified(
        chains=tuple(verify_site(site, heads.get(site)) for site in sorted(sites)),
        triggers_missing=triggers.missing(connection),
    )


def verify_site(site: str, head: ChainHead | None) -> ChainReport:
    """Walk the chain of one site; a chain without a head has lost it."""
    kept = Head(site) if head is None else Head(site, head.sequence, head.hash)
    return verify_chain(site, stored(site), kept)


def stored(site: str) -> Iterator[Recorded | Unreadable]:
    """Read the records of a site as the texts that are stored, in the order of their sequence."""
    last = None
    while True:
        rows = portion(site, last)
        for row in rows:
            yield read(row)
        if len(rows) < AT_ONCE:
            return
        last = rows[-1][EVENT_COLUMNS.index("sequence")]


def portion(site: str, last: Any) -> list[tuple[Any, ...]]:
    """Read the next rows of a site past Django's own reading of columns, which hides changes."""
    columns = ", ".join(map(as_stored, EVENT_COLUMNS))
    after = "" if last is None else " AND sequence > %s"
    # only the names of our own columns are put into the text
    query = f"SELECT {columns} FROM record_event WHERE site = %s{after} ORDER BY sequence LIMIT %s"  # noqa: S608
    with connection.cursor() as cursor:
        cursor.execute(query, [site, *([] if last is None else [last]), AT_ONCE])
        rows: list[tuple[Any, ...]] = cursor.fetchall()
        return rows


def as_stored(column: str) -> str:
    """A column as its stored text: Django reads SQLite's times for us, and forgives too much."""
    is_time = column.endswith("_at") and connection.vendor == "sqlite"
    return f"{column} || ''" if is_time else column


def read(row: tuple[Any, ...]) -> Recorded | Unreadable:
    """Make a record of a stored row, or say why it is none."""
    said = dict(zip(EVENT_COLUMNS, row, strict=True))
    number = said["sequence"] if isinstance(said["sequence"], int) else 0
    try:
        return whole(said)
    except (ValueError, TypeError, ArithmeticError, RecursionError, InputError) as error:
        return Unreadable(str(said["uuid"]), number, f"It cannot be read any more: {error}")


def whole(said: dict[str, Any]) -> Recorded:
    """
    Make a record of a stored row.

    Raises:
        ValueError: a text that is not as the desk writes it.
    """
    for name, value in said.items():
        if name not in ("sequence", "happened_at", "recorded_at") and not isinstance(value, str):
            raise ValueError(f"{name} is no text.")
    if not isinstance(said["sequence"], int):
        raise ValueError("sequence is no whole number.")
    payload = json.loads(said["payload"])
    if not isinstance(payload, dict) or canonical(payload).decode() != said["payload"]:
        raise ValueError("payload is not in the canonical form.")
    event = Event(
        id=said["uuid"],
        site=said["site"],
        kind=said["kind"],
        happened_at=moment(said["happened_at"]),
        who=said["who"],
        device=said["device"],
        subject=said["subject"],
        payload=payload,
        corrects=said["corrects"] or None,
    )
    return Recorded(
        event=event,
        recorded_at=moment(said["recorded_at"]),
        sent_by=said["sent_by"],
        sequence=said["sequence"],
        previous=said["previous"],
        hash=said["hash"],
    )


def moment(value: object) -> datetime:
    """
    Read a stored time: PostgreSQL gives one, SQLite its text, in UTC and with no zone written.

    Raises:
        ValueError: it is not as the desk writes it.
    """
    if isinstance(value, datetime):
        return value if value.tzinfo else value.replace(tzinfo=UTC)
    if not isinstance(value, str):
        raise ValueError("a time is missing.")
    read = datetime.fromisoformat(value)
    plain = str(read)
    if plain != value or read.tzinfo is not None:
        raise ValueError(f"{value!r} is no time as the desk writes it.")
    return read.replace(tzinfo=UTC)
