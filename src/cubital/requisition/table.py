"""
Requisitions as CSV: one row one requisition.

Columns, order free, ``number``, ``patient_number``, ``family_name`` and ``tests`` needed:

* ``number, patient_number, family_name, given_name, birth_date, sex, weight_g, height_mm,
  haematocrit_percent, veins``
* ``tests``: codes of tests or panels separated by ``;``, each with ``=1`` … ``=99`` behind it when
  it has a priority: ``potassium=1;renal;hba1c=9``
* ``conditions``: ``mastectomy:left;haematoma:right@cephalic;fainting``
* ``prior_draws``: ``2026-03-01T07:30=9000;…``, microlitres behind the time
* ``collect_at, requester, ward, urgent`` (yes or no), ``remarks``
* ``fasting_h, since_dose_h, next_dose_due`` (yes or no), ``seated_min, supine_min``
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from datetime import date, datetime

from cubital.catalogue import Catalogue
from cubital.catalogue.table import nearest
from cubital.errors import RequisitionError
from cubital.requisition import shape
from cubital.requisition.part import DATE, DATE_MEND, TIME, TIME_MEND, Part, shown
from cubital.requisition.patient import ANSWER_FIELDS, SEXES, VEINS
from cubital.requisition.values import Requisition

NEEDED = ("number", "patient_number", "family_name", "tests")
PATIENT_COLUMNS = (
    "patient_number", "family_name", "given_name", "birth_date", "sex", "weight_g", "height_mm",
    "haematocrit_percent", "veins", "conditions", "prior_draws",
)  # fmt: skip
COLUMNS = (
    "number", *PATIENT_COLUMNS, "tests", "collect_at", "requester", "ward", "urgent",
    *ANSWER_FIELDS, "remarks",
)  # fmt: skip
SHIFTED_FROM = 2
"""So many cells of one row that do not fit their column mean that the columns are shifted."""


def _whole(cell: str) -> int:
    if not (cell.isascii() and cell.removeprefix("-").isdigit()) or len(cell) > 12:
        raise ValueError(cell)
    return int(cell)


def _number(cell: str) -> float:
    if not cell.isascii() or "_" in cell:
        raise ValueError(cell)
    return float(cell)


def _yes_no(cell: str) -> bool:
    return {"yes": True, "no": False}[cell.casefold()]


def _day(cell: str) -> str:
    if not DATE.fullmatch(cell):
        raise ValueError(cell)
    return date.fromisoformat(cell).isoformat()


def _moment(cell: str) -> str:
    if not TIME.fullmatch(cell):
        raise ValueError(cell)
    datetime.fromisoformat(cell)
    return cell


def _one_of(words: tuple[str, ...]) -> Callable[[str], object]:
    def read(cell: str) -> str:
        if cell not in words:
            raise ValueError(cell)
        return cell

    return read


def _tests(cell: str) -> list[dict[str, object]]:
    found: list[dict[str, object]] = []
    for item in filter(None, map(str.strip, cell.split(";"))):
        code, equals, priority = item.rpartition("=")
        found.append({"code": code, "priority": _whole(priority)} if equals else {"code": item})
    return found


def _conditions(cell: str) -> list[dict[str, object]]:
    found: list[dict[str, object]] = []
    for item in filter(None, map(str.strip, cell.split(";"))):
        body, _, site = item.partition("@")
        code, _, side = body.partition(":")
        found.append({"code": code, "side": side, "site": site})
    return found


def _prior_draws(cell: str) -> list[dict[str, object]]:
    found: list[dict[str, object]] = []
    for item in filter(None, map(str.strip, cell.split(";"))):
        taken_at, _, volume = item.partition("=")
        found.append({"taken_at": _moment(taken_at), "volume_ul": _whole(volume)})
    return found


NUMBER_MEND = "Write a number with a point, for example 7.5."
YES_NO_MEND = "Write yes or no."
READERS: dict[str, tuple[Callable[[str], object], str]] = {
    "birth_date": (_day, DATE_MEND),
    "sex": (_one_of(SEXES), f"Write one of {', '.join(SEXES)}."),
    "weight_g": (_whole, "Write whole grams, for example 61000 for 61 kg."),
    "height_mm": (_whole, "Write whole millimetres, for example 1650."),
    "haematocrit_percent": (_number, "Write percent, for example 42."),
    "veins": (_one_of(VEINS), f"Write one of {', '.join(VEINS)}."),
    "conditions": (_conditions, "Write codes separated by ;"),
    "prior_draws": (_prior_draws, "Write 2026-03-01T07:30=9000, several separated by ;"),
    "tests": (_tests, "Write codes separated by ; with a priority such as potassium=1."),
    "collect_at": (_moment, TIME_MEND),
    "urgent": (_yes_no, YES_NO_MEND),
    "fasting_h": (_number, NUMBER_MEND),
    "since_dose_h": (_number, NUMBER_MEND),
    "next_dose_due": (_yes_no, YES_NO_MEND),
    "seated_min": (_number, NUMBER_MEND),
    "supine_min": (_number, NUMBER_MEND),
}
"""How a cell becomes what the JSON shape holds; columns without one are texts."""


@dataclasses.dataclass(frozen=True, slots=True)
class RowPart(Part):
    """A row's object: its fields are columns, so they are named without the path."""

    def at(self, field: str) -> str:
        """File, row, column."""
        column = (self.path + field).removeprefix("answers.")
        if column.startswith("patient."):
            column = column.removeprefix("patient.")
            column = "patient_number" if column == "number" else column
        return f"{self.where}, {column.partition('[')[0]}"


def read_header(cells: Sequence[str], name: str) -> tuple[str, ...]:
    """
    The columns of a file, in its order.

    Raises:
        RequisitionError: a column is unknown, missing or stands twice.
    """
    where = f"{name}, row 1"
    header = tuple(cell.strip() for cell in cells)
    for sign, word in ((";", "semicolons"), ("\t", "tabs"), ("|", "upright strokes")):
        if len(header) == 1 and header[0].count(sign) > 1:
            raise RequisitionError(f"the cells are separated by {word}", where, "Write commas.")
    for column in header:
        if column not in COLUMNS:
            close = nearest(column, COLUMNS)
            mend = f"Write {close}." if close else f"Columns are {', '.join(COLUMNS)}."
            raise RequisitionError(f"no column is called {shown(column)}", where, mend)
        if header.count(column) > 1:
            raise RequisitionError(f"the column {column} stands twice", where, "Take one out.")
    for column in NEEDED:
        if column not in header:
            raise RequisitionError(f"the column {column} is missing", where, "Add it.")
    return header


def read_row(
    header: Sequence[str],
    cells: Sequence[str],
    *,
    where: str,
    catalogue: Catalogue,
    now: datetime,
) -> Requisition:
    """
    One requisition from one row.

    Args:
        header: from :func:`read_header`.
        cells: of the row.
        where: file and row, for the sentences.
        catalogue: whose tests and conditions it names.
        now: with the time zone of the place.

    Raises:
        RequisitionError: which column, what is wrong with it, and what to write.
    """
    if len(cells) != len(header):
        raise RequisitionError(
            f"the row has {len(cells)} cells and the header {len(header)}",
            where,
            "Put a cell that holds a comma in quotes, and leave no column out.",
        )
    values = _values(dict(zip(header, map(str.strip, cells), strict=True)), where)
    patient = {
        column.removeprefix("patient_"): values.pop(column)
        for column in PATIENT_COLUMNS
        if column in values
    }
    answers = {field: values.pop(field) for field in ANSWER_FIELDS if field in values}
    fields = {**values, "patient": patient, "answers": answers}
    return shape.read(RowPart(fields, where), catalogue, now)


def _values(row: dict[str, str], where: str) -> dict[str, object]:
    """The cells that hold something, read; several that cannot be mean shifted columns."""
    values: dict[str, object] = {}
    unread: list[tuple[str, str]] = []
    for column, cell in row.items():
        if not cell:
            continue
        reader = READERS.get(column)
        try:
            values[column] = reader[0](cell) if reader else cell
        except (ValueError, KeyError):
            unread.append((column, cell))
    if len(unread) >= SHIFTED_FROM:
        held = ", ".join(f"{column} holds {shown(cell)}" for column, cell in unread[:3])
        raise RequisitionError(
            f"the cells do not stand under their columns ({held})",
            where,
            "Move them under the header they belong to.",
        )
    for column, cell in unread:
        raise RequisitionError(
            f"{shown(cell)} cannot be used", f"{where}, {column}", READERS[column][1]
        )
    return values
