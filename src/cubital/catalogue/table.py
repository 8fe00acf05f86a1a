"""
One CSV file as typed rows: the annotations of the row's dataclass say how a cell is read.

``str`` as it stands (outer blanks dropped), ``int`` and ``float`` in plain digits with a point,
``bool`` as ``yes`` or ``no``.  An empty cell takes the field's default; a column whose field has a
default may be left out.
"""

from __future__ import annotations

import csv
import dataclasses
import difflib
import io
import math
from collections.abc import Callable, Iterable
from typing import Any, Generic, TypeVar

from cubital.catalogue.model import ROWS, Row
from cubital.errors import CatalogueError

R = TypeVar("R", bound=Row)

LARGEST_BYTES = 4_000_000
"""A table of facts is far smaller; what is larger was put here by mistake."""
WITHDRAWN = "withdrawn"
"""A laboratory's row with this source takes the row of the same key out."""
NOT_COLUMNS = ("layer", "line")

Cell = str | int | float | bool


@dataclasses.dataclass(slots=True)
class Table(Generic[R]):
    """What one file held: its rows, the keys it withdraws with their line, and its problems."""

    rows: list[R] = dataclasses.field(default_factory=list)
    withdrawn: dict[tuple[Cell, ...], int] = dataclasses.field(default_factory=dict)
    problems: list[CatalogueError] = dataclasses.field(default_factory=list)


@dataclasses.dataclass(frozen=True, slots=True)
class Column:
    """A field of a row class: its name, how a cell becomes a value, and its default."""

    name: str
    kind: str
    read: Callable[[str], Cell]
    default: Cell | None


def _integer(cell: str) -> int:
    if not (cell.isascii() and cell.removeprefix("-").isdigit()) or len(cell) > 12:
        raise ValueError(cell)
    return int(cell)


def _decimal(cell: str) -> float:
    number = float(cell)
    if not math.isfinite(number) or "_" in cell:
        raise ValueError(cell)
    return number


def _yes_no(cell: str) -> bool:
    return {"yes": True, "no": False}[cell]


READERS: dict[str, Callable[[str], Cell]] = {
    "str": str,
    "int": _integer,
    "float": _decimal,
    "bool": _yes_no,
}
MENDS = {
    "str": "Write it.",
    "int": "Write a whole number, for example 12.",
    "float": "Write a number with a point, for example 0.7.",
    "bool": "Write yes or no.",
}


def _columns(cls: type[Row]) -> dict[str, Column]:
    found = {}
    for field in dataclasses.fields(cls):
        if field.name not in NOT_COLUMNS:
            default = None if field.default is dataclasses.MISSING else field.default
            kind = str(field.type)
            found[field.name] = Column(field.name, kind, READERS[kind], default)
    found["source"] = found.pop("source")
    return found


COLUMNS: dict[type[Row], dict[str, Column]] = {cls: _columns(cls) for cls in ROWS}
"""The columns of each table, by name, in the order of its class, the source last."""


def place(cls: type[Row], layer: str, line: int = 0, field: str = "") -> str:
    """Where something is: ``tests.csv, row 4, loinc``; a laboratory's layer is named first."""
    file = cls.FILE if layer == "shipped" else f"{layer}/{cls.FILE}"
    return file + (f", row {line}" if line else "") + (f", {field}" if field else "")


def key_of(row: Row) -> tuple[Cell, ...]:
    """What identifies the row in its table."""
    return tuple(getattr(row, name) for name in row.KEY)


def decode(data: bytes, where: str) -> str:
    """
    The text of a file.

    Raises:
        CatalogueError: too large, empty, or not UTF-8 (a leading byte-order mark is dropped).
    """
    if len(data) > LARGEST_BYTES:
        raise CatalogueError(
            f"the file has more than {LARGEST_BYTES / 1e6:.0f} MB, and no table is so large",
            where,
            "Give the table alone, one row a fact.",
        )
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise CatalogueError("the file is in UTF-16", where, "Save it as CSV in UTF-8.")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as bad:
        line = data.count(b"\n", 0, bad.start) + 1
        raise CatalogueError(
            f"line {line} holds a byte (0x{data[bad.start]:02x}) that is not UTF-8",
            where,
            "Save the file as CSV in UTF-8.",
        ) from None
    if not text.strip():
        raise CatalogueError("the file is empty", where, "Write a header row, or delete the file.")
    return text


def nearest(word: str, known: Iterable[str]) -> str:
    """The known word most like this one, or ""."""
    close = difflib.get_close_matches(word, [*known], n=1, cutoff=0.6)
    return close[0] if close else ""


def _header(cls: type[Row], header: list[str], layer: str) -> list[Column]:
    """The columns in the file's order."""
    known = COLUMNS[cls]
    where = place(cls, layer, 1)
    if len(header) == 1 and len(header[0].split(";")) > 1:
        raise CatalogueError("the cells are separated by semicolons", where, "Write commas.")
    for name in header:
        if name not in known:
            close = nearest(name, known)
            mend = f"Write {close}" if close else "Take the column out"
            raise CatalogueError(
                f"no column is called “{name}”", where, f"{mend}; columns are {', '.join(known)}."
            )
        if header.count(name) > 1:
            raise CatalogueError(f"the column {name} stands twice", where, "Take one out.")
    for column in known.values():
        if column.default is None and column.name not in header:
            raise CatalogueError(f"the column {column.name} is missing", where, "Add it.")
    return [known[name] for name in header]


def _values(
    cls: type[Row], names: list[Column], cells: list[str], layer: str, line: int
) -> dict[str, Any]:
    """The values of a row, defaults left out; only the key's for a row that is withdrawn."""
    values: dict[str, Cell] = {}
    for column, raw in zip(names, cells, strict=True):
        cell = raw.strip()
        if not cell:
            if column.default is None:
                raise CatalogueError(
                    "the cell is empty", place(cls, layer, line, column.name), MENDS[column.kind]
                )
            continue
        try:
            values[column.name] = column.read(cell)
        except (ValueError, KeyError):
            raise CatalogueError(
                f"“{cell[:40]}” cannot be read",
                place(cls, layer, line, column.name),
                MENDS[column.kind],
            ) from None
    return values


def _withdrawal(
    cls: type[R], names: list[Column], cells: list[str], layer: str, line: int
) -> tuple[Cell, ...]:
    """The key of a row that a laboratory takes out."""
    if layer == "shipped":
        raise CatalogueError(
            "a shipped row cannot be withdrawn", place(cls, layer, line), "Delete the row."
        )
    keys = [(c, cell) for c, cell in zip(names, cells, strict=True) if c.name in cls.KEY]
    values = _values(cls, [c for c, _ in keys], [cell for _, cell in keys], layer, line)
    known = COLUMNS[cls]
    return tuple(values.get(name, known[name].default or "") for name in cls.KEY)


def read_table(cls: type[R], data: bytes, layer: str = "shipped") -> Table[R]:
    """
    Read one table; nothing is raised, problems are collected: one a row at most.

    Args:
        cls: class of its rows.
        data: bytes of the CSV file.
        layer: written on each row.
    """
    table: Table[R] = Table()
    try:
        text = decode(data, place(cls, layer))
        lines = csv.reader(io.StringIO(text, newline=""), strict=True)
        names = _header(cls, [name.strip() for name in next(lines)], layer)
    except CatalogueError as problem:
        table.problems.append(problem)
        return table
    except csv.Error as bad:
        table.problems.append(_broken(cls, layer, 1, bad))
        return table
    source_at = next((i for i, column in enumerate(names) if column.name == "source"), 0)
    line, seen = 1, dict[tuple[Cell, ...], int]()
    try:
        for line, cells in enumerate(lines, start=2):
            if not any(cells):
                continue
            try:
                _read_row(cls, names, cells, source_at, (layer, line), table, seen)
            except CatalogueError as problem:
                table.problems.append(problem)
    except csv.Error as bad:
        table.problems.append(_broken(cls, layer, line + 1, bad))
    return table


def _broken(cls: type[Row], layer: str, line: int, bad: csv.Error) -> CatalogueError:
    return CatalogueError(
        f"the row is not CSV ({bad})", place(cls, layer, line), "Close quotes and drop NUL bytes."
    )


def _read_row(
    cls: type[R],
    names: list[Column],
    cells: list[str],
    source_at: int,
    at: tuple[str, int],
    table: Table[R],
    seen: dict[tuple[Cell, ...], int],
) -> None:
    """Add one row, or one withdrawal, to the table."""
    layer, line = at
    if len(cells) != len(names):
        raise CatalogueError(
            f"the row has {len(cells)} cells and the header {len(names)}",
            place(cls, layer, line),
            "Put a cell that holds a comma in quotes, and leave no column out.",
        )
    row: R | None = None
    if cells[source_at].strip() == WITHDRAWN:
        key = _withdrawal(cls, names, cells, layer, line)
    else:
        row = cls(**_values(cls, names, cells, layer, line), layer=layer, line=line)
        key = key_of(row)
    if key in seen:
        raise CatalogueError(
            f"row {seen[key]} already holds {', '.join(cls.KEY)} {_shown(key)}",
            place(cls, layer, line),
            "Keep one of them.",
        )
    seen[key] = line
    if row is None:
        table.withdrawn[key] = line
    else:
        table.rows.append(row)


def _shown(key: tuple[Cell, ...]) -> str:
    return ", ".join(f"“{part}”" for part in key)
