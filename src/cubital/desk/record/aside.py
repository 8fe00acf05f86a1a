"""Writes: a new, empty database in place of the one there is, which is set aside."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.db import connection, connections

from cubital.errors import RecordError

SIGNS_OF_LIFE = ("record_event", "record_person", "record_place")
IN_USE = "The desk is still in use: stop it ('cubital desk' and whatever else reads its database)."


@dataclass(slots=True)
class Kept:
    """Where what was there before is now; "" when nothing was."""

    name: str = ""


def holds_something() -> bool:
    """Whether the database has anybody, any place or any event in it."""
    if connection.vendor == "sqlite" and not Path(str(connection.settings_dict["NAME"])).exists():
        return False
    with connection.cursor() as cursor:
        there = set(connection.introspection.table_names(cursor))
        for table in SIGNS_OF_LIFE:
            if table in there:
                cursor.execute(f"SELECT 1 FROM {table} LIMIT 1")  # noqa: S608 - our own name
                if cursor.fetchone():
                    return True
    return False


@contextmanager
def new_database() -> Iterator[Kept]:
    """
    Let Django work on an empty database in place of the one there is.

    Afterwards that is the desk's, and the one before is kept beside it; after an error the one
    before is the desk's again.

    Raises:
        RecordError: somebody else is connected to it.
    """
    by_vendor = _new_file if connection.vendor == "sqlite" else _new_schema
    with by_vendor() as kept:
        yield kept


def _stamp() -> str:
    return datetime.now(UTC).strftime("%Y%m%d_%H%M%S_%f")


@contextmanager
def _new_file() -> Iterator[Kept]:
    """Fill another file, and give it the name when it is whole."""
    settings = connection.settings_dict
    path = Path(str(settings["NAME"]))
    path.parent.mkdir(parents=True, exist_ok=True)
    new = path.with_name(f"{path.name}.restoring")
    _remove(new)
    connection.close()
    if path.exists():
        _must_be_alone(path)
    kept = Kept()
    settings["NAME"] = str(new)
    try:
        yield kept
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        connection.close()
    except BaseException:
        connection.close()
        _remove(new)
        raise
    finally:
        settings["NAME"] = str(path)
    if path.exists():
        _must_be_alone(path)
        old = path.with_name(f"{path.name}.before_{_stamp()}")
        os.link(path, old)
        kept.name = str(old)
    new.replace(path)
    _remove(new)


def _must_be_alone(path: Path) -> None:
    """
    Make sure that nobody else has the file open.

    Leaving the write-ahead log needs the file to oneself; it also brings all of the log into it.

    Raises:
        RecordError: somebody has.
    """
    alone = sqlite3.connect(path, timeout=1)
    try:
        (mode,) = alone.execute("PRAGMA journal_mode=DELETE").fetchone()
    except sqlite3.OperationalError:
        mode = "locked"
    except sqlite3.DatabaseError:
        mode = "delete"  # no database at all: it is set aside as it is
    finally:
        alone.close()
    if mode != "delete":
        raise RecordError(IN_USE)


def _remove(path: Path) -> None:
    """Remove a SQLite file with what belongs to it."""
    for ending in ("", "-wal", "-shm", "-journal"):
        path.with_name(path.name + ending).unlink(missing_ok=True)


@contextmanager
def _new_schema() -> Iterator[Kept]:
    """Give the schema another name, and fill a new one in its place."""
    _must_be_alone_there()
    schema = _one("SELECT current_schema()")
    old = f"before_{_stamp()}"
    _run(f'ALTER SCHEMA "{schema}" RENAME TO "{old}"', f'CREATE SCHEMA "{schema}"')
    kept = Kept()
    try:
        yield kept
    except BaseException:
        connections.close_all()
        _run(f'DROP SCHEMA "{schema}" CASCADE', f'ALTER SCHEMA "{old}" RENAME TO "{schema}"')
        raise
    if _one(f"SELECT count(*) FROM pg_tables WHERE schemaname = '{old}'"):  # noqa: S608
        kept.name = f"schema {old}"
    else:
        _run(f'DROP SCHEMA "{old}" CASCADE')


def _must_be_alone_there() -> None:
    """
    Make sure that nobody else is connected to the PostgreSQL database.

    Raises:
        RecordError: somebody is.
    """
    others = _one(
        "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database()"
        " AND pid <> pg_backend_pid() AND backend_type = 'client backend'"
    )
    if others:
        raise RecordError(IN_USE)


def _one(query: str) -> Any:
    with connection.cursor() as cursor:
        cursor.execute(query)
        (value,) = cursor.fetchone()
        return value


def _run(*statements: str) -> None:
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
