"""
Requisitions from a file: JSON (one object, or a list of them) or CSV (one row each).
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from datetime import datetime
from typing import NoReturn

from cubital.catalogue import Catalogue
from cubital.errors import RequisitionError
from cubital.requisition.shape import requisition_from
from cubital.requisition.table import read_header, read_row
from cubital.requisition.values import Requisition

LARGEST_BYTES = 10_000_000
"""Read at once; a longer list is read row by row, see ``cubital plan --batch``."""


def read_requisitions(
    data: bytes | str, *, name: str, catalogue: Catalogue, now: datetime
) -> tuple[Requisition, ...]:
    """
    Read all requisitions of a file, or none.

    Args:
        data: its content.
        name: of the file; ``.json`` or ``.csv`` say what it holds, else its first sign does.
        catalogue: whose tests and conditions are named.
        now: with the time zone of the place, which times written without one get.

    Raises:
        RequisitionError: the first thing that cannot be used: where, what, and the mend.
    """
    check_size(len(data), name)
    text = data if isinstance(data, str) else decode(data, name)
    if not text.strip():
        raise RequisitionError("the file is empty", name, "Give a requisition in JSON or CSV.")
    if name.casefold().endswith(".json"):
        is_json = True
    elif name.casefold().endswith(".csv"):
        is_json = False
    else:
        is_json = text.lstrip()[0] in "[{"
    found = tuple((_json if is_json else _csv)(text, name, catalogue, now))
    if not found:
        raise RequisitionError("no requisition is in the file", name, "Give at least one.")
    return found


def check_size(size: int, name: str) -> None:
    """
    Refuse a file before it is read.

    Args:
        size: in bytes.
        name: of the file.

    Raises:
        RequisitionError: too large to be read at once.
    """
    if size > LARGEST_BYTES:
        raise RequisitionError(
            f"the file has {size / 1e6:.0f} MB and at most {LARGEST_BYTES / 1e6:.0f} MB are read "
            "at once",
            name,
            "Split it, or plan a long CSV with cubital plan --batch.",
        )


def decode(data: bytes, name: str) -> str:
    """
    The text of a file; a leading byte-order mark is dropped.

    Raises:
        RequisitionError: not UTF-8, or it holds NUL bytes, as UTF-16 without its mark does.
    """
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise RequisitionError("the file is in UTF-16", name, "Save it in UTF-8.")
    try:
        text = data.decode("utf-8-sig")
        bad_at = data.find(0)
    except UnicodeDecodeError as bad:
        bad_at = bad.start
    if bad_at < 0:
        return text
    line = data.count(b"\n", 0, bad_at) + 1
    byte = f"a byte (0x{data[bad_at]:02x}) that is not UTF-8" if data[bad_at] else "a NUL byte"
    raise RequisitionError(f"line {line} holds {byte}", name, "Save the file in UTF-8.")


def _json(text: str, name: str, catalogue: Catalogue, now: datetime) -> Iterator[Requisition]:
    document = _parse(text, name)
    entries = document if isinstance(document, list) else [document]
    seen: dict[str, int] = {}
    for at, entry in enumerate(entries, start=1):
        where = f"{name}, requisition {at}" if isinstance(document, list) else name
        requisition = requisition_from(entry, catalogue=catalogue, now=now, where=where)
        _once(requisition.number, at, where, seen, "requisition")
        yield requisition


def _once(number: str, at: int, where: str, seen: dict[str, int], word: str) -> None:
    if number in seen:
        raise RequisitionError(
            f"{word} {seen[number]} already has the number {number}",
            f"{where}, number",
            "Give each requisition its own.",
        )
    seen[number] = at


def _parse(text: str, name: str) -> object:
    def once(pairs: list[tuple[str, object]]) -> dict[str, object]:
        fields = dict(pairs)
        if len(fields) < len(pairs):
            names = [key for key, _ in pairs]
            twice = next(key for key in names if names.count(key) > 1)
            raise RequisitionError(f"the field {twice} stands twice", name, "Take one out.")
        return fields

    def no_number(word: str) -> NoReturn:
        raise RequisitionError(f"{word} is no number", name, "Leave the field out.")

    mend = "Mend it, or write the requisitions as CSV."
    try:
        return json.loads(text, object_pairs_hook=once, parse_constant=no_number)
    except json.JSONDecodeError as bad:
        what = f"this is not JSON ({bad.msg})"
        raise RequisitionError(what, f"{name}, line {bad.lineno}", mend) from None
    except RequisitionError:
        raise
    except ValueError:
        raise RequisitionError("a number has too many digits", name, mend) from None
    except RecursionError:
        raise RequisitionError("the JSON is nested too deeply", name, mend) from None


def _csv(text: str, name: str, catalogue: Catalogue, now: datetime) -> Iterator[Requisition]:
    seen: dict[str, int] = {}
    header: tuple[str, ...] = ()
    for at, cells in csv_rows(io.StringIO(text, newline=""), name):
        if not header:
            header = read_header(cells, name)
            continue
        where = f"{name}, row {at}"
        requisition = read_row(header, cells, where=where, catalogue=catalogue, now=now)
        _once(requisition.number, at, where, seen, "row")
        yield requisition


def csv_rows(lines: Iterator[str], name: str) -> Iterator[tuple[int, list[str]]]:
    """
    The rows of a CSV file with their number (the header is 1), blank ones left out.

    Raises:
        RequisitionError: a row is not CSV.
    """
    at = 0
    rows = csv.reader(lines, strict=True)
    try:
        for at, cells in enumerate(rows, start=1):
            if any(map(str.strip, cells)):
                yield at, cells
    except csv.Error as bad:
        raise RequisitionError(
            f"the row is not CSV ({bad})",
            f"{name}, row {at + 1}",
            "Close quotes and take NUL bytes out.",
        ) from None
