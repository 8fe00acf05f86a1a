"""
Reads: the whole record into one file, while the desk is in use.

The file restores to either database.  It is a gzip of JSON lines, format ``cubital.backup/1``::

    {"format": "cubital.backup/1", "made_at": …, "cubital": …, "migrations": [[app, name], …]}
    {"table": "record_event", "columns": [["uuid", "plain"], ["happened_at", "time"], …]}
    [ … ]                     one row a line, in the order of the columns
    {"end": true, "rows": 12345, "sha256": …}

All of it is from one moment: one snapshot of the database is read from beginning to end.  Left out
are sessions (who is signed in now) and what the migrations write themselves.
"""

from __future__ import annotations

import gzip
import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from hashlib import sha256
from pathlib import Path
from typing import IO, Any

from django.apps import apps
from django.db import connections, models
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.recorder import MigrationRecorder
from django.utils import timezone

from cubital import __version__
from cubital.desk.record.quick import reader
from cubital.errors import RecordError

FORMAT = "cubital.backup/1"
LEFT_OUT = frozenset({"sessions", "contenttypes", "auth"})
"""Apps without anything of the laboratory's: roles are the desk's own, not Django's groups."""
KINDS = (
    (models.DateTimeField, "time"),
    (models.DateField, "date"),
    (models.JSONField, "json"),
    (models.BooleanField, "flag"),
    (models.Field, "plain"),
)
AT_ONCE = 2000


@dataclass(frozen=True, slots=True)
class BackedUp:
    """How much went into the file."""

    tables: int
    rows: int
    events: int
    size: int


def models_kept() -> list[type[models.Model]]:
    """The models of a backup, those that join two others included."""
    several = apps.get_models(include_auto_created=True)
    return [m for m in several if m._meta.managed and not m._meta.proxy and kept(m)]


def kept(model: type[models.Model]) -> bool:
    """Whether a table belongs to the record: not Django's own, nor a link to one of those."""
    if model._meta.app_label in LEFT_OUT:
        return False
    if not model._meta.auto_created:
        return True
    ends = [f.related_model for f in model._meta.concrete_fields if f.is_relation]
    return all(end is None or end._meta.app_label not in LEFT_OUT for end in ends)


def kind_of(field: Any) -> str:
    """How the values of a column are written."""
    while field.is_relation:
        field = field.target_field
    return next(kind for kinds, kind in KINDS if isinstance(field, kinds))


def backup(path: Path, *, overwrite: bool = False) -> BackedUp:
    """
    Write the record, as it is at this moment, to a file that only its owner can read.

    Args:
        path: of the file; it appears when it is whole and on the disk.
        overwrite: whether a file that is there may be replaced.

    Raises:
        RecordError: there is such a file, it is the record itself, or it cannot be written.
    """
    must_not_harm(path)
    if path.exists() and not overwrite:
        raise RecordError(f"There is already a file {path}; choose another name, or --overwrite.")
    part = path.with_name(f".{path.name}.part")
    try:
        handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(handle, "wb") as file, snapshot() as connection:
            tables, rows, events = write(file, connection)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
        sync_folder(path.parent)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise RecordError(f"{path} cannot be written ({error.strerror}).") from error
    return BackedUp(tables, rows, events, path.stat().st_size)


def must_not_harm(path: Path) -> None:
    """
    Refuse what a backup must never take the place of, whatever was asked for.

    Raises:
        RecordError: a folder, a device or a pipe stands there, or the database itself.
    """
    if not path.exists():
        return
    if not path.is_file():
        raise RecordError(f"{path} is no plain file: name a file for the backup.")
    settings = connections["default"].settings_dict
    if connections["default"].vendor != "sqlite":
        return
    own = [Path(f"{settings['NAME']}{end}") for end in ("", "-wal", "-shm", "-journal")]
    if any(each.exists() and path.samefile(each) for each in own):
        raise RecordError(f"{path} is the record itself: name another file for the backup.")


def sync_folder(folder: Path) -> None:
    """Wait until the names in a folder are on the disk too."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextmanager
def snapshot() -> Iterator[BaseDatabaseWrapper]:
    """A connection of its own that sees the database as it is now, and keeps nobody waiting."""
    connection = connections.create_connection("default")
    begin = "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY"
    try:
        with connection.cursor() as cursor:
            cursor.execute(begin if connection.vendor == "postgresql" else "BEGIN DEFERRED")
            cursor.execute("SELECT count(*) FROM django_migrations")
            cursor.fetchone()  # the first look fixes the moment
        yield connection
        with connection.cursor() as cursor:
            cursor.execute("ROLLBACK")
    finally:
        connection.close()
        if connection.vendor == "postgresql":
            connection.close_pool()  # type: ignore[attr-defined]


class Lines:
    """JSON lines into a gzip, counted and hashed."""

    def __init__(self, file: IO[bytes]) -> None:
        self.zip = gzip.GzipFile(fileobj=file, mode="wb", compresslevel=4, mtime=0)
        self.hash = sha256()

    def write(self, value: object) -> None:
        """Write one line."""
        line = json.dumps(value, ensure_ascii=False, separators=(",", ":"), default=said).encode()
        self.hash.update(line)
        self.zip.write(line + b"\n")

    def close(self, rows: int) -> None:
        """Write the end, by which a cut file is told from a whole one."""
        end = {"end": True, "rows": rows, "sha256": self.hash.hexdigest()}
        self.zip.write(json.dumps(end).encode() + b"\n")
        self.zip.close()


def said(value: object) -> str:
    """
    Write a time or a date.

    Raises:
        TypeError: anything else that JSON does not know.
    """
    if isinstance(value, datetime | date):
        return value.isoformat()
    raise TypeError(f"{type(value).__name__} cannot be written to a backup.")


def write(file: IO[bytes], connection: BaseDatabaseWrapper) -> tuple[int, int, int]:
    """Write every table; gives how many tables, rows and events."""
    lines = Lines(file)
    done = MigrationRecorder(connection).applied_migrations()
    lines.write(
        {
            "format": FORMAT,
            "made_at": timezone.now(),
            "cubital": __version__,
            "migrations": sorted([app, name] for app, name in done),
        }
    )
    several = models_kept()
    counts = {model._meta.db_table: write_table(lines, connection, model) for model in several}
    rows = sum(counts.values())
    lines.close(rows)
    return len(several), rows, counts["record_event"]


def write_table(lines: Lines, connection: BaseDatabaseWrapper, model: type[models.Model]) -> int:
    """Write one table; gives how many rows it has."""
    fields = list(model._meta.concrete_fields)
    columns = [str(field.column) for field in fields]
    kinds = [kind_of(field) for field in fields]
    lines.write({"table": model._meta.db_table, "columns": list(zip(columns, kinds, strict=True))})
    readers = [reader(field) for field in fields]
    count = 0
    for row in rows_of(connection, model._meta.db_table, columns):
        count += 1
        lines.write(
            [
                value if read is None or value is None else read(value)
                for read, value in zip(readers, row, strict=True)
            ]
        )
    return count


def rows_of(
    connection: BaseDatabaseWrapper, table: str, columns: list[str]
) -> Iterator[tuple[Any, ...]]:
    """Read a table a part at a time, whatever its size."""
    names = ", ".join(f'"{column}"' for column in columns)
    query = f'SELECT {names} FROM "{table}"'  # noqa: S608 - only our own names are put in
    if connection.vendor == "postgresql":
        with connection.connection.cursor(name="backup") as cursor:
            cursor.itersize = AT_ONCE
            cursor.execute(query)
            yield from cursor
        return
    with connection.cursor() as cursor:
        cursor.execute(query)
        while rows := cursor.fetchmany(AT_ONCE):
            yield from rows
