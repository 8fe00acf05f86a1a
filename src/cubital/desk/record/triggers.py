"""
Triggers that keep the event tables append-only, in the database itself.

SQLite drops a table's triggers when a migration rebuilds the table: a migration that alters one of
these tables must call :func:`install` again, and ``cubital verify`` says when one is missing.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.db.backends.base.base import BaseDatabaseWrapper

TABLES = ("record_event", "record_refusedevent")
WHY = "Events are only ever added; send a correcting one."


def install(connection: BaseDatabaseWrapper) -> None:
    """Put the triggers in place, over any that are there."""
    remove(connection)
    script = ON_SQLITE if connection.vendor == "sqlite" else ON_POSTGRESQL
    with connection.cursor() as cursor:
        for table in TABLES:
            filled = script.format(table=table, why=WHY, same=SAME[table])
            for statement in filled.strip().split(";\n"):
                cursor.execute(statement)


def remove(connection: BaseDatabaseWrapper) -> None:
    """Take the triggers away: for a migration back, and for emptying a database of tests."""
    with connection.cursor() as cursor:
        for table in TABLES:
            for what in wanted(connection):
                name = f"{table}_{what}"
                on = "" if connection.vendor == "sqlite" else f" ON {table}"
                cursor.execute(f"DROP TRIGGER IF EXISTS {name}{on}")


def wanted(connection: BaseDatabaseWrapper) -> tuple[str, ...]:
    """The last part of the name of each trigger that a table must have."""
    if connection.vendor == "sqlite":
        return ("no_update", "no_delete", "no_replace")
    return ("no_change", "no_truncate")


def missing(connection: BaseDatabaseWrapper) -> tuple[str, ...]:
    """Name the triggers that are not there, or on PostgreSQL switched off."""
    names = {f"{table}_{what}" for table in TABLES for what in wanted(connection)}
    query = (
        "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        if connection.vendor == "sqlite"
        else "SELECT tgname FROM pg_trigger WHERE tgenabled = 'A' AND tgrelid IN"
        " ('record_event'::regclass, 'record_refusedevent'::regclass)"
    )
    with connection.cursor() as cursor:
        cursor.execute(query)
        return tuple(sorted(names - {name for (name,) in cursor.fetchall()}))


@contextmanager
def lifted(connection: BaseDatabaseWrapper) -> Iterator[None]:
    """Empty or reload the tables with the triggers away: only for tests and for restoring."""
    remove(connection)
    try:
        yield
    finally:
        install(connection)


SAME = {
    "record_event": "uuid = NEW.uuid OR position = NEW.position"
    " OR (site = NEW.site AND sequence = NEW.sequence)",
    "record_refusedevent": "id = NEW.id OR digest = NEW.digest",
}
"""What makes a new row the same as one that is there, on SQLite."""

ON_SQLITE = """
CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table} BEGIN SELECT RAISE(ABORT, '{why}'); END;
CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table} BEGIN SELECT RAISE(ABORT, '{why}'); END;
CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table}
 WHEN EXISTS (SELECT 1 FROM {table} WHERE {same}) BEGIN SELECT RAISE(ABORT, '{why}'); END;
"""
"""INSERT OR REPLACE deletes without firing a delete trigger, so it has a trigger of its own."""

ON_POSTGRESQL = """
CREATE OR REPLACE FUNCTION record_only_added() RETURNS trigger LANGUAGE plpgsql AS
 $$ BEGIN RAISE EXCEPTION '{why}'; END $$;
CREATE TRIGGER {table}_no_change BEFORE UPDATE OR DELETE ON {table}
 FOR EACH ROW EXECUTE FUNCTION record_only_added();
CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table}
 FOR EACH STATEMENT EXECUTE FUNCTION record_only_added();
ALTER TABLE {table} ENABLE ALWAYS TRIGGER {table}_no_change;
ALTER TABLE {table} ENABLE ALWAYS TRIGGER {table}_no_truncate;
"""
"""ALWAYS: also where a session calls itself a replica."""
