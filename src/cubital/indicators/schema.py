"""
The columns of the lake as Arrow types, made from the fields of the rows.

Times are written in microseconds of UTC, without a zone in the type: every engine reads them alike.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields
from datetime import UTC, datetime
from typing import Any

import pyarrow as pa

from cubital.indicators.values import DrawRow, SpecimenRow

VERSION = "1"
SPECIMENS, DRAWS = "specimens", "draws"

ROWS: dict[str, type[SpecimenRow] | type[DrawRow]] = {SPECIMENS: SpecimenRow, DRAWS: DrawRow}
"""Table -> class of its rows."""

TYPES: dict[str, pa.DataType] = {
    "str": pa.string(),
    "int": pa.int32(),
    "bool": pa.bool_(),
    "date": pa.date32(),
    "datetime": pa.timestamp("us"),
}


def _schema(row: type[SpecimenRow] | type[DrawRow]) -> pa.Schema:
    columns = []
    for each in fields(row):
        kind, _, rest = str(each.type).partition(" | ")
        columns.append(pa.field(each.name, TYPES[kind], nullable=rest == "None"))
    return pa.schema(columns)


SCHEMAS: dict[str, pa.Schema] = {name: _schema(row) for name, row in ROWS.items()}
"""Table -> its columns."""


def arrow(table: str, rows: Iterable[SpecimenRow | DrawRow]) -> pa.Table:
    """Rows of a table as Arrow columns, times turned to UTC."""
    schema = SCHEMAS[table]
    kept = list(rows)
    columns = [
        pa.array([_plain(getattr(row, each.name)) for row in kept], type=each.type)
        for each in schema
    ]
    return pa.Table.from_arrays(columns, schema=schema)


def _plain(value: Any) -> Any:
    return value.astimezone(UTC).replace(tzinfo=None) if isinstance(value, datetime) else value
