"""
``cubital plan --batch``: every row of a long CSV on all cores, in the file's order.

Rows are read, planned and written as a stream: a bad one is reported in the output and at the end,
and does not stop the rest.
"""

from __future__ import annotations

import os
import sys
import time
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from io import TextIOWrapper
from itertools import chain
from pathlib import Path
from typing import TextIO

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

from cubital.cli.batch_rows import Batch, Done, Row, plan_rows, read_rows, start
from cubital.cli.common import cannot_read, whole_file
from cubital.errors import CubitalError, InputError, RequisitionError
from cubital.requisition.table import read_header

ROWS_A_TASK = 200
TASKS_A_JOB = 4
"""Tasks handed out ahead, so that memory does not grow with the file."""
SHOWN = 10
"""Refused rows told at the end; all of them are in the output."""

Advance = Callable[[int, int], None]
"""Told after each task: bytes read, rows refused so far."""


def run_batch(path: Path, out: Path | None, batch: Batch, jobs: int | None = None) -> int:
    """
    Plan a file.

    Args:
        path: a CSV of requisitions, of any length.
        out: written whole or not at all; standard output when None.
        batch: what holds for every row.
        jobs: processes; as many as cores when None.

    Returns:
        How many rows were refused.

    Raises:
        InputError: the file or its header cannot be used.
        CubitalError: a process was killed.
    """
    try:
        size = path.stat().st_size
        source = path.open("rb")
    except OSError as bad:
        raise cannot_read(path, bad) from None
    workers = jobs or os.cpu_count() or 1
    started = time.perf_counter()
    with source:
        rows = read_rows(source, path.name)
        header = _header(path.name, rows)
        rows = _begun(path.name, rows)
        if out is not None:
            _must_be_another(out, path)
        arguments = (batch, header, path.name)
        with (
            _output(out) as sink,
            ProcessPoolExecutor(workers, initializer=start, initargs=arguments) as pool,
            _progress(size) as advance,
        ):
            try:
                planned, refused = _stream(pool, _tasks(rows, header), workers, sink, advance)
            except BrokenProcessPool:
                raise CubitalError(
                    "A process was killed while it planned, perhaps for want of memory: nothing "
                    "was kept; try again with fewer --jobs."
                ) from None
    _tell(planned, refused, time.perf_counter() - started)
    return len(refused)


def _header(name: str, rows: Iterator[Row]) -> tuple[str, ...]:
    first = next(rows, None)
    if first is None:
        raise RequisitionError("the file is empty", name, "Give requisitions in CSV.")
    if first.refused:
        raise RequisitionError(first.refused, f"{name}, row 1")
    return read_header(first.cells, name)


def _begun(name: str, rows: Iterator[Row]) -> Iterator[Row]:
    """The rows, once it is known that there is one."""
    first = next(rows, None)
    if first is None:
        raise RequisitionError("no requisition is in the file", name, "Give at least one.")
    return chain([first], rows)


def _tasks(rows: Iterator[Row], header: tuple[str, ...]) -> Iterator[list[Row]]:
    """Rows in handfuls; a number that came before is refused here, where all numbers are seen."""
    at = header.index("number")
    seen: dict[str, int] = {}
    task: list[Row] = []
    for row in rows:
        number = row.cells[at].strip() if len(row.cells) > at else ""
        before = seen.setdefault(number, row.number)
        if number and before != row.number:
            sentence = f"row {before} already has the number {number}. Give each its own."
            task.append(Row(row.number, (), row.size, sentence))
        else:
            task.append(row)
        if len(task) == ROWS_A_TASK:
            yield task
            task = []
    if task:
        yield task


def _stream(
    pool: ProcessPoolExecutor,
    tasks: Iterator[list[Row]],
    workers: int,
    sink: TextIO,
    advance: Advance,
) -> tuple[int, list[str]]:
    """Hand out tasks a little ahead, and write what comes back in its order."""
    planned, refused = 0, list[str]()
    ahead: deque[Future[Done]] = deque()

    def write(done: Done) -> int:
        sink.writelines(f"{line}\n" for line in done.lines)
        refused.extend(done.refused)
        advance(done.size, len(refused))
        return len(done.lines) - len(done.refused)

    for task in tasks:
        ahead.append(pool.submit(plan_rows, task))
        if len(ahead) >= workers * TASKS_A_JOB:
            planned += write(ahead.popleft().result())
    while ahead:
        planned += write(ahead.popleft().result())
    return planned, refused


def _must_be_another(out: Path, path: Path) -> None:
    """Refuse to put the plans in place of the requisitions."""
    if out.exists() and path.samefile(out):
        raise InputError(
            "the plans would take the place of the requisitions", str(out), "Name another file."
        )


@contextmanager
def _output(out: Path | None) -> Iterator[TextIO]:
    """A file that is there only once it is whole, or standard output."""
    if out is None:
        yield sys.stdout
        return
    with whole_file(out) as sink, TextIOWrapper(sink, encoding="utf-8") as text:
        yield text


@contextmanager
def _progress(size: int) -> Iterator[Advance]:
    """A bar on standard error; nothing where that is no terminal."""
    columns = (
        TextColumn("planning"),
        BarColumn(),
        TextColumn("{task.percentage:>3.0f} %"),
        TimeRemainingColumn(),
        TextColumn("{task.fields[refused]} refused"),
    )
    console = Console(stderr=True)
    with Progress(*columns, console=console, disable=not console.is_terminal) as bar:
        task = bar.add_task("", total=size, refused=0)
        yield lambda done, refused: bar.update(task, advance=done, refused=refused)


def _tell(planned: int, refused: list[str], seconds: float) -> None:
    for sentence in refused[:SHOWN]:
        sys.stderr.write(f"cubital: {sentence}\n")
    if len(refused) > SHOWN:
        sys.stderr.write(f"cubital: … and {len(refused) - SHOWN} more, all in the output.\n")
    rate = planned / seconds if seconds else 0
    sys.stderr.write(
        f"{planned} planned, {len(refused)} refused, in {seconds:.1f} s ({rate:.0f} a second)\n"
    )
