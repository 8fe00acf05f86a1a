"""
The rows of a long CSV, read one by one, and planned some at a time in a process of their own.
"""

from __future__ import annotations

import csv
import io
import json
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from cubital.catalogue import Catalogue
from cubital.cli.common import catalogue_of
from cubital.draw import DrawPlan, Place, plan_draw
from cubital.draw.shape import plan_to
from cubital.errors import InputError, RequisitionError
from cubital.requisition.read import decode
from cubital.requisition.table import read_row

SHAPE = "cubital.batch/1"
MOST_LINES = 40
"""Of one row: a quote that stays open longer was never meant to span lines."""


@dataclass(frozen=True, slots=True)
class Batch:
    """
    What holds for every row.

    Args:
        folders: the laboratory's own tables.
        place: where and with what.
        now: one time for all rows.
        whole: write the shape cubital.plan/1 with all reasons, not the short line.
    """

    folders: tuple[Path, ...]
    place: Place
    now: datetime
    whole: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """A row as read: its number (the header is 1), its cells, its bytes, or why it is none."""

    number: int
    cells: tuple[str, ...]
    size: int
    refused: str = ""


@dataclass(frozen=True, slots=True)
class Done:
    """Lines of output, the sentences of refused rows, and how many bytes were read for them."""

    lines: tuple[str, ...]
    refused: tuple[str, ...]
    size: int


def read_rows(lines: Iterator[bytes], name: str) -> Iterator[Row]:
    """
    The rows of a CSV, each by itself, so that an open quote spoils its own row only.

    Args:
        lines: of the file, with their ends.
        name: of the file.
    """
    waiting: deque[bytes] = deque()
    number = 0
    while first := waiting.popleft() if waiting else next(lines, b""):
        number += 1
        taken = [first]
        quotes = first.count(b'"')
        while quotes % 2 and len(taken) < MOST_LINES:
            line = waiting.popleft() if waiting else next(lines, b"")
            if not line:
                break
            taken.append(line)
            quotes += line.count(b'"')
        if quotes % 2:
            waiting.extendleft(reversed(taken[1:]))
            yield Row(number, (), len(first), "a quote stays open. Close it.")
            continue
        row = _row(number, b"".join(taken), name)
        if row is not None:
            yield row


def _row(number: int, data: bytes, name: str) -> Row | None:
    """One row, or None when it is blank."""
    try:
        text = decode(data, name)
        found = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    except RequisitionError:
        mend = "the row holds a byte that is not UTF-8. Save the file in UTF-8."
        return Row(number, (), len(data), mend)
    except csv.Error as bad:
        return Row(number, (), len(data), f"the row is not CSV ({bad}). Close its quotes.")
    if len(found) > 1:  # what follows must not be dropped unseen
        mend = "its lines end in a carriage return alone. Save the file with ordinary line ends."
        return Row(number, (), len(data), mend)
    cells = found[0] if found else []
    if not any(map(str.strip, cells)):
        return None
    return Row(number, tuple(cells), len(data))


_here: dict[str, tuple[Catalogue, Batch, tuple[str, ...], str]] = {}
"""What this process plans with; set once by :func:`start`."""


def start(batch: Batch, header: tuple[str, ...], name: str) -> None:
    """Load the tables, once a process."""
    _here["all"] = (catalogue_of(batch.folders), batch, header, name)


def plan_rows(rows: list[Row]) -> Done:
    """Plan some rows; refuse those that cannot be."""
    lines, refused = [], []
    for row in rows:
        document, sentence = _plan_row(row)
        lines.append(json.dumps(document, ensure_ascii=False, separators=(",", ":")))
        if sentence:
            refused.append(sentence)
    return Done(tuple(lines), tuple(refused), sum(row.size for row in rows))


def _plan_row(row: Row) -> tuple[dict[str, object], str]:
    catalogue, batch, header, name = _here["all"]
    where = f"{name}, row {row.number}"
    try:
        if row.refused:
            raise RequisitionError(row.refused, where)
        requisition = read_row(header, row.cells, where=where, catalogue=catalogue, now=batch.now)
        plan = plan_draw(requisition, catalogue, batch.place, now=batch.now)
        body = {"plan": plan_to(plan, catalogue)} if batch.whole else short_line(plan)
    except InputError as bad:
        sentence = str(bad)
    except Exception as bad:  # noqa: BLE001 - one row must not stop a night's work
        sentence = f"{where}: the draw cannot be planned ({type(bad).__name__}: {bad})."
    else:
        head = {"schema": SHAPE, "row": row.number, "number": requisition.number}
        return {**head, **body}, ""
    return {"schema": SHAPE, "row": row.number, "error": sentence}, sentence


def short_line(plan: DrawPlan) -> dict[str, object]:
    """A plan in one short line: the rack, the device, the blood, what is found."""
    return {
        "edition": plan.edition,
        "route": plan.route,
        "device": plan.device.device,
        "gauge": plan.device.gauge,
        "planned_ul": plan.allowance.planned_ul,
        "limit_ul": plan.allowance.limit_ul,
        "containers": [
            {
                "container": one.container,
                "purpose": one.purpose,
                "fill_ul": one.fill_ul,
                "tests": [test.code for test in one.tests],
            }
            for one in plan.containers
        ],
        "not_drawn": [one.test for one in plan.not_drawn],
        "findings": [
            {"code": one.code, "severity": str(one.severity), "subject": one.subject}
            for one in plan.findings
        ],
    }
