"""The database itself refuses to change or take away an event."""

from __future__ import annotations

import pytest
from django.db import DatabaseError, connection, transaction

from cubital.desk.record import triggers
from cubital.desk.record.events import append_events
from tests.record.small_desk import draw, event

COLUMNS = (
    "uuid", "site", "sequence", "kind", "happened_at", "recorded_at", "who", "sent_by", "device",
    "subject", "payload", "corrects", "previous", "hash", "position",
)  # fmt: skip


@pytest.fixture(autouse=True)
def _some_events(database: str) -> None:
    """A draw, and one refusal."""
    append_events(events=[*draw("D-1"), event("tourniquet_on", "draw:D-9")], person="mira")


def refused(statement: str) -> None:
    """Run a statement that the database must refuse."""
    with (
        pytest.raises(DatabaseError, match="Events are only ever added"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(statement)


def test_no_column_of_an_event_changes() -> None:
    """Not even to what it was."""
    for column in COLUMNS:
        refused(f"UPDATE record_event SET {column} = {column} WHERE sequence = 2")


def test_no_event_goes_away() -> None:
    """One, all, or with the whole table."""
    refused("DELETE FROM record_event WHERE sequence = 5")
    refused("DELETE FROM record_event")
    if connection.vendor == "postgresql":
        refused("TRUNCATE record_event")
        refused("TRUNCATE record_event CASCADE")


def test_no_event_is_replaced() -> None:
    """SQLite's REPLACE deletes without a delete trigger; PostgreSQL's upsert is an update."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT * FROM record_event WHERE sequence = 2")
        assert cursor.description
        names = ", ".join(column[0] for column in cursor.description)
    copy = f"INTO record_event ({names}) SELECT {names} FROM record_event WHERE sequence = 2"
    if connection.vendor == "sqlite":
        refused(f"INSERT OR REPLACE {copy}")
        refused(f"REPLACE {copy}")
        refused("UPDATE OR REPLACE record_event SET sequence = 3 WHERE sequence = 2")
    else:
        refused(f"INSERT {copy} ON CONFLICT (uuid) DO UPDATE SET who = 'x'")


def test_no_refusal_changes_or_goes_away() -> None:
    """What was refused stays on record too."""
    refused("UPDATE record_refusedevent SET sentence = 'nothing'")
    refused("DELETE FROM record_refusedevent")


def test_a_missing_trigger_is_named() -> None:
    """All are there after the migrations; one taken away is told."""
    assert triggers.missing(connection) == ()
    last = triggers.wanted(connection)[-1]
    on = "" if connection.vendor == "sqlite" else " ON record_event"
    with connection.cursor() as cursor:
        cursor.execute(f"DROP TRIGGER record_event_{last}{on}")
    assert triggers.missing(connection) == (f"record_event_{last}",)


def test_a_trigger_that_is_switched_off_counts_as_missing() -> None:
    """PostgreSQL can switch a trigger off without dropping it."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ALTER TABLE record_event DISABLE TRIGGER record_event_no_change")
        assert triggers.missing(connection) == ("record_event_no_change",)
    else:
        assert triggers.missing(connection) == ()
