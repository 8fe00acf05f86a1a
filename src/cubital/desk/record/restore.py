"""
Writes: the whole record out of a backup, into a database of either kind.

What was there before is set aside, not thrown away: a SQLite file under another name, on PostgreSQL
a schema under another name.  If anything fails on the way, it is put back.
"""

from __future__ import annotations

import gzip
import json
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import Any

from django.core.management.color import no_style
from django.db import connection, transaction
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader

from cubital.desk.record import aside, triggers
from cubital.desk.record.backup import FORMAT
from cubital.desk.record.quick import stored_json, stored_time
from cubital.desk.record.verify import Verified, verify
from cubital.errors import ChainBroken, RecordError

AT_ONCE = 500
FIRST_LINE = {"format", "made_at", "cubital", "migrations"}
"""What the first line of a backup says."""


@dataclass(frozen=True, slots=True)
class Restored:
    """
    What came out of the backup.

    Args:
        rows: that were read.
        made_at: when the backup was made.
        kept: where what was there before is now, "" when nothing was.
        verified: the walk along the chains afterwards.
    """

    rows: int
    made_at: str
    kept: str
    verified: Verified


def restore(path: Path, *, overwrite: bool = False, broken: bool = False) -> Restored:
    """
    Put a backup in place of what the database holds.

    Args:
        path: of the backup; it is read from end to end before anything is changed.
        overwrite: whether a database with something in it may be set aside.
        broken: whether to go on although a chain in the backup does not hold.

    Raises:
        RecordError: the file is no whole backup of this or an earlier cubital; something is in the
            database and ``overwrite`` is not given; or the desk is still in use.
        ChainBroken: a chain in the backup does not hold; nothing was changed.
    """
    head = check(path)
    if aside.holds_something() and not overwrite:
        raise RecordError(
            "The database already holds people, places or events. Restore with --overwrite to set"
            " them aside, or name another database."
        )
    with aside.new_database() as kept:
        migrate_to([(app, name) for app, name in head["migrations"]])
        rows = load(path)
        migrate_to(leaves())
        verified = verify()
        if not verified.holds and not broken:
            raise ChainBroken(
                f"{verified.sentence} Nothing was changed; with --broken it is restored as it is."
            )
    return Restored(rows, str(head["made_at"]), kept.name, verified)


# ------------------------------------------------------------------ the file


def check(path: Path) -> dict[str, Any]:
    """
    Read a backup from end to end; give its first line.

    Raises:
        RecordError: it is no backup, is cut off or changed, or is of a newer cubital.
    """
    lines = read(path)
    head = next(lines, None)
    if not isinstance(head, dict) or head.get("format") != FORMAT or not set(head) >= FIRST_LINE:
        raise RecordError(f"{path} is no backup of cubital ({FORMAT}).")
    for _ in lines:
        pass
    known = set(MigrationLoader(None, ignore_no_migrations=True).disk_migrations)
    newer = sorted(f"{app} {name}" for app, name in head["migrations"] if (app, name) not in known)
    if newer:
        raise RecordError(
            f"{path} was made by a newer cubital ({head['cubital']}), whose tables this one does"
            f" not know ({newer[0]}). Restore it with that one."
        )
    return head


def read(path: Path) -> Iterator[Any]:
    """
    Read the lines of a backup, without its last.

    Raises:
        RecordError: it cannot be read, ends too early, or is not as it was written.
    """
    digest, ended = sha256(), False
    try:
        with gzip.open(path, "rb") as file:
            for raw in file:
                value = json.loads(raw)
                if isinstance(value, dict) and value.get("end"):
                    ended = value.get("sha256") == digest.hexdigest()
                    break
                digest.update(raw.rstrip(b"\n"))
                yield value
    except FileNotFoundError as error:
        raise RecordError(f"There is no file {path}.") from error
    except (OSError, EOFError, ValueError, RecursionError, zlib.error) as error:
        raise RecordError(f"{path} cannot be read as a backup: {error}.") from error
    if not ended:
        raise RecordError(f"{path} is not whole: it was cut off or changed. Take another backup.")


# ------------------------------------------------------------------ into the tables


def leaves() -> list[tuple[str, str]]:
    """The newest migrations of this cubital."""
    nodes: list[tuple[str, str]] = MigrationExecutor(connection).loader.graph.leaf_nodes()
    return nodes


def migrate_to(migrations: list[tuple[str, str]]) -> None:
    """Bring the tables to where exactly these migrations and those before them were applied."""
    executor = MigrationExecutor(connection)
    graph = executor.loader.graph
    wanted = set(migrations)
    latest = [
        node
        for node in wanted
        if not any(
            child.key in wanted and child.key[0] == node[0]
            for child in graph.node_map[node].children
        )
    ]
    executor.migrate(sorted(latest))


Reader = Callable[[Any], Any]


def load(path: Path) -> int:
    """Fill the tables; gives how many rows. All of it, or nothing."""
    count = 0
    with transaction.atomic(), triggers.lifted(connection):
        emptied: set[str] = set()
        for table, columns, rows in tables(path):
            if table not in emptied:
                emptied.add(table)
                execute(f'DELETE FROM "{table}"', [])  # noqa: S608 - a name that has just been checked
            insert(table, columns, rows)
            count += len(rows)
        reset_sequences(emptied)
    return count


def tables(path: Path) -> Iterator[tuple[str, list[str], list[list[Any]]]]:
    """
    Read a backup as parts of tables: name, columns, and rows ready to be inserted.

    Raises:
        RecordError: it names a table or column that is not there.
    """
    table = ""
    columns: list[str] = []
    ways: list[Reader | None] = []
    rows: list[list[Any]] = []
    lines = read(path)
    next(lines)
    for line in lines:
        if isinstance(line, dict):
            if table:
                yield table, columns, rows
            table, columns, ways, rows = line["table"], *columns_of(line), []
        else:
            rows.append(
                [v if w is None or v is None else w(v) for w, v in zip(ways, line, strict=True)]
            )
            if len(rows) == AT_ONCE:
                yield table, columns, rows
                rows = []
    if table:
        yield table, columns, rows


def columns_of(line: dict[str, Any]) -> tuple[list[str], list[Reader | None]]:
    """
    Give the columns of a table and how their values are read.

    Raises:
        RecordError: the database has no such table or column.
    """
    with connection.cursor() as cursor:
        there = set(connection.introspection.table_names(cursor))
        if line["table"] not in there:
            raise RecordError(f"The backup holds a table {line['table']!r} that this desk lacks.")
        described = connection.introspection.get_table_description(cursor, line["table"])
    names = {column.name for column in described}
    columns = [name for name, _ in line["columns"]]
    if not set(columns) <= names:
        missing = min(set(columns) - names)
        raise RecordError(f"The backup holds {line['table']}.{missing}, which this desk lacks.")
    return columns, [WAYS.get(kind) for _, kind in line["columns"]]


WAYS: dict[str, Reader] = {
    "time": lambda value: stored_time(datetime.fromisoformat(value), connection.vendor),
    "json": lambda value: stored_json(value, connection.vendor),
    "flag": bool,
}
"""How a value of the file becomes one of the database."""


def insert(table: str, columns: list[str], rows: list[list[Any]]) -> None:
    """Insert rows as they are."""
    if not rows:
        return
    names = ", ".join(f'"{column}"' for column in columns)
    marks = f"({', '.join(['%s'] * len(columns))})"
    text = f'INSERT INTO "{table}" ({names}) VALUES {", ".join([marks] * len(rows))}'  # noqa: S608
    execute(text, [value for row in rows for value in row])


def execute(text: str, values: list[Any]) -> None:
    """Run one statement."""
    with connection.cursor() as cursor:
        cursor.execute(text, values)


def reset_sequences(names: set[str]) -> None:
    """Let the next numbers that the database gives follow on those that were restored."""
    from cubital.desk.record.backup import models_kept

    several = [model for model in models_kept() if model._meta.db_table in names]
    for statement in connection.ops.sequence_reset_sql(no_style(), several):
        execute(statement, [])
