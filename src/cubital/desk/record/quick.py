"""
Rows read and written with SQL that is put together once a table, not once a call.

For the path that every scan takes: Django's own query sets spend longer on writing a statement than
the database on answering it.  Values go through the fields' own types, so that both ways agree.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any

from django.db import connection, models

Row = tuple[Any, ...]
AT_ONCE = 500
"""Rows, or values of a condition, in one statement."""


class Table:
    """
    Some columns of a model's table, in a fixed order.

    Args:
        model: whose table.
        names: columns, in the order in which rows hold their values.
    """

    def __init__(self, model: type[models.Model], names: Sequence[str]) -> None:
        self.name = model._meta.db_table
        self.names = tuple(names)
        fields = [by_column(model, name) for name in self.names]
        self.columns = ", ".join(f'"{name}"' for name in self.names)
        self.readers = tuple(reader(field) for field in fields)
        self.writers = tuple(writer(field) for field in fields)

    def ask(self, column: str, values: Iterable[Any]) -> Asked:
        """Ask for the rows whose column holds one of these values."""
        wanted = list(values)
        asked = Asked(self)
        for at in range(0, len(wanted), AT_ONCE):
            some = wanted[at : at + AT_ONCE]
            asked.add(select_from(self.name, self.columns, column, len(some)), some)
        return asked

    def select(self, column: str, values: Iterable[Any]) -> list[Row]:
        """Rows whose column holds one of these values."""
        return self.ask(column, values).rows()

    def ask_all(self) -> Asked:
        """Ask for every row."""
        return Asked(self).add(f'SELECT {self.columns} FROM "{self.name}"', [])  # noqa: S608

    def insert(self, rows: Sequence[Row]) -> None:
        """Add rows."""
        self.write(rows)

    def put(self, rows: Sequence[Row], key: str) -> None:
        """Add rows, or put them over those with the same key."""
        self.write(rows, key=key)

    def write(self, rows: Sequence[Row], *, key: str = "") -> None:
        """Write rows, several in one statement."""
        vendor = connection.vendor
        for at in range(0, len(rows), AT_ONCE):
            some = rows[at : at + AT_ONCE]
            text = insert_into(self.name, self.names, len(some), key)
            values = [
                value if write is None else write(value, vendor)
                for row in some
                for write, value in zip(self.writers, row, strict=True)
            ]
            with connection.cursor() as cursor:
                cursor.execute(text, values)

    def read(self, row: Row) -> Row:
        """The values of a row as the fields' own types."""
        return tuple(
            value if read is None or value is None else read(value)
            for read, value in zip(self.readers, row, strict=True)
        )


class Asked:
    """
    Questions on their way to the database; the answers are read when they are wanted.

    Args:
        table: whose columns the rows hold, None for rows as they come.
    """

    def __init__(self, table: Table | None = None) -> None:
        self.table = table
        self.cursors: list[Any] = []

    def add(self, text: str, values: Sequence[Any]) -> Asked:
        """Ask one more."""
        cursor = connection.cursor()
        cursor.execute(text, values)
        self.cursors.append(cursor)
        return self

    def rows(self) -> list[Row]:
        """All rows of the answers."""
        found: list[Row] = []
        for cursor in self.cursors:
            with cursor:
                rows = cursor.fetchall()
                found += rows if self.table is None else map(self.table.read, rows)
        self.cursors = []
        return found


@contextmanager
def together() -> Iterator[None]:
    """
    Send statements one after another without waiting for each answer.

    On PostgreSQL each wait is a way to the server and back; SQLite is in the same process.  An
    error of any of them is raised at the end at the latest.
    """
    if connection.vendor != "postgresql":
        yield
        return
    connection.ensure_connection()
    with connection.connection.pipeline():
        yield


# Only names of our own tables and columns are put into the texts below; values never are.


@lru_cache(maxsize=4096)
def select_from(table: str, columns: str, column: str, count: int) -> str:
    """The text of a SELECT with so many values in its condition."""
    marks = ", ".join(["%s"] * count)
    return f'SELECT {columns} FROM "{table}" WHERE "{column}" IN ({marks})'  # noqa: S608


@lru_cache(maxsize=4096)
def insert_into(table: str, names: tuple[str, ...], count: int, key: str) -> str:
    """The text of an INSERT of so many rows."""
    columns = ", ".join(f'"{name}"' for name in names)
    row = f"({', '.join(['%s'] * len(names))})"
    text = f'INSERT INTO "{table}" ({columns}) VALUES {", ".join([row] * count)}'  # noqa: S608
    if key:
        changes = ", ".join(f'"{name}" = EXCLUDED."{name}"' for name in names if name != key)
        text += f' ON CONFLICT ("{key}") DO UPDATE SET {changes}'
    return text


def by_column(model: type[models.Model], name: str) -> Any:
    """The field that is kept in a column."""
    return next(field for field in model._meta.concrete_fields if field.column == name)


def reader(field: Any) -> Callable[[Any], Any] | None:
    """How a column's value becomes the field's; None when it is that already."""
    if isinstance(field, models.DateTimeField):
        return aware
    if isinstance(field, models.JSONField):
        return from_json
    if isinstance(field, models.BooleanField):
        return bool
    return None


def writer(field: Any) -> Callable[[Any, str], Any] | None:
    """How a field's value goes into its column; None when it goes as it is."""
    if isinstance(field, models.DateTimeField):
        return stored_time
    if isinstance(field, models.JSONField):
        return stored_json
    return None


def aware(value: datetime) -> datetime:
    """A time in UTC: SQLite keeps it without saying so."""
    return value.replace(tzinfo=UTC) if value.tzinfo is None else value


def from_json(value: Any) -> Any:
    """A value out of its JSON text."""
    return json.loads(value) if isinstance(value, str) else value


def stored_time(value: datetime | None, vendor: str) -> Any:
    """A time as Django itself stores it."""
    if value is None or vendor == "postgresql":
        return value
    return str(value.astimezone(UTC).replace(tzinfo=None))


def stored_json(value: Any, vendor: str) -> str:
    """A value as its JSON text."""
    return json.dumps(value)
