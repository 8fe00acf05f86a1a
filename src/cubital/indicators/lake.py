"""
The lake: a folder of Parquet files, one a table, month and place.

::

    sites.csv
    specimens/shape.parquet                                     no rows, only the columns
    specimens/year=2026/month=03/site=valley/part-0.parquet
    draws/…                                                     the same

Only this module of the room touches files.  A file is written under another name and renamed when
it is whole, so a reader sees the old one or the new one.  Each file says in its own metadata which
part of which table it is: one that is cut off, strange, copied or in the wrong place is refused in
one sentence, because a figure from half a lake would be wrong without looking wrong.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

from cubital.errors import InputError
from cubital.indicators.schema import DRAWS, SCHEMAS, SPECIMENS, VERSION, arrow
from cubital.indicators.values import DrawRow, LakeRows, LakeSite, SpecimenRow

SITES = "sites.csv"
SITE_COLUMNS = ("code", "name", "time_zone", "now")
SHAPE = "shape.parquet"
UNFINISHED = ".unfinished"
PART = re.compile(r"year=(\d{4})/month=(\d{2})/site=([A-Za-z0-9_-]{1,32})/part-0\.parquet")
AGAIN = "Export the events again: cubital events export."


@dataclass(frozen=True, slots=True)
class Part:
    """One file of the lake: a table's rows of one month at one place."""

    table: str
    month: int
    site: str

    @property
    def name(self) -> str:
        """Where it lies in the lake."""
        return (
            f"{self.table}/year={self.month // 100:04}/month={self.month % 100:02}"
            f"/site={self.site}/part-0.parquet"
        )


@dataclass(frozen=True, slots=True)
class Files:
    """
    What lies in a lake.

    Args:
        sites: by code.
        parts: every part with its number of rows.
        unfinished: names of files that an export left behind half-written; they are not read.
    """

    folder: Path
    sites: Mapping[str, LakeSite]
    parts: Mapping[Part, int]
    unfinished: tuple[str, ...]

    def paths(self, table: str, months: tuple[int, int] | None) -> list[Path]:
        """
        Files of a table, its empty shape first.

        Args:
            table: ``specimens`` or ``draws``.
            months: first and last, ``202603``; None for all.
        """
        chosen = [
            self.folder / part.name
            for part in self.parts
            if part.table == table and (months is None or months[0] <= part.month <= months[1])
        ]
        return [self.folder / table / SHAPE, *sorted(chosen)]


# ------------------------------------------------------------------ writing


def write_lake(
    folder: Path, rows: LakeRows, *, sites: Iterable[LakeSite], edition: str
) -> tuple[Part, ...]:
    """
    Write a whole lake: every part anew, and no part that the rows do not have.

    Args:
        folder: of the lake, made when it is not there.
        rows: all rows that the events give.
        sites: places, with the names that are shown.
        edition: of the catalogue by which the rows were made; stamped on every file.

    Raises:
        InputError: the folder holds something else than a lake, or cannot be written.
    """
    try:
        begin_lake(folder, sites=sites, edition=edition)
        written = [
            part
            for table, each in ((SPECIMENS, rows.specimens), (DRAWS, rows.draws))
            for part in _write_table(folder, table, each, edition)
        ]
        kept = {part.name for part in written}
        for old in sorted(folder.glob("*/year=*/month=*/site=*/part-0.parquet*")):
            if old.relative_to(folder).as_posix() not in kept:
                old.unlink()
    except OSError as bad:
        raise InputError(
            f"the lake cannot be written ({bad.strerror})", str(folder), "Choose another folder."
        ) from None
    return tuple(written)


def begin_lake(folder: Path, *, sites: Iterable[LakeSite], edition: str) -> None:
    """
    Write what a lake has besides its parts: the places and the empty shapes.

    Raises:
        InputError: the folder holds something else than a lake.
    """
    if folder.exists() and any(folder.iterdir()) and not (folder / SITES).exists():
        raise InputError(
            "the folder holds something else than a lake", str(folder), "Name a folder of its own."
        )
    folder.mkdir(parents=True, exist_ok=True)
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(SITE_COLUMNS)
    for site in sorted(sites, key=lambda site: site.code):
        writer.writerow((site.code, site.name, site.time_zone, site.now))
    _whole(folder / SITES, text.getvalue().encode())
    for table, schema in SCHEMAS.items():
        _write(folder / table / SHAPE, schema.empty_table(), Part(table, 0, ""), edition)


def write_part(folder: Path, part: Part, rows: pa.Table, edition: str) -> None:
    """Write one part of a lake that was begun; ``rows`` have the columns of its table."""
    _write(folder / part.name, rows, part, edition)


def _write_table(
    folder: Path, table: str, rows: Iterable[SpecimenRow | DrawRow], edition: str
) -> list[Part]:
    def where(row: SpecimenRow | DrawRow) -> tuple[int, str]:
        return row.month, row.site

    written = []
    for (month, site), each in groupby(sorted(rows, key=where), key=where):
        part = Part(table, month, site)
        write_part(folder, part, arrow(table, each), edition)
        written.append(part)
    return written


def _write(path: Path, rows: pa.Table, part: Part, edition: str) -> None:
    said = _said(part) | {b"cubital.edition": edition.encode()}
    buffer = pa.BufferOutputStream()
    pq.write_table(rows.replace_schema_metadata(said), buffer, compression="zstd")
    _whole(path, buffer.getvalue().to_pybytes())


def _said(part: Part) -> dict[bytes, bytes]:
    return {b"cubital.lake": VERSION.encode(), b"cubital.part": part.name.encode()}


def _whole(path: Path, data: bytes) -> None:
    """Write a file so that nobody ever sees half of it."""
    path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_name(path.name + UNFINISHED)
    unfinished.write_bytes(data)
    unfinished.replace(path)


# ------------------------------------------------------------------ reading


def read_files(folder: Path) -> Files:
    """
    Look at what lies in a lake, and at the end of every file.

    Raises:
        InputError: the folder is no lake, or one of its files cannot be used; what and where.
    """
    if not (folder / SITES).is_file():
        raise InputError("the folder is no lake", str(folder), AGAIN)
    parts: dict[Part, int] = {}
    unfinished = []
    for table in SCHEMAS:
        _check(folder, table, Part(table, 0, ""), folder / table / SHAPE)
        for path in sorted((folder / table).rglob("*")):
            name = path.relative_to(folder).as_posix()
            if path.is_dir() or path.name == SHAPE or path.name.startswith("."):
                continue
            if path.name.endswith(UNFINISHED):
                unfinished.append(name)
                continue
            part = _part(table, name)
            parts[part] = _check(folder, table, part, path)
    return Files(folder, _read_sites(folder / SITES), parts, tuple(unfinished))


def _part(table: str, name: str) -> Part:
    shape = PART.fullmatch(name.removeprefix(f"{table}/"))
    if shape is None or not 1 <= int(shape[2]) <= 12:
        raise InputError("this file does not belong to the lake", name, "Take it out.")
    return Part(table, int(shape[1]) * 100 + int(shape[2]), shape[3])


def _check(folder: Path, table: str, part: Part, path: Path) -> int:
    """Look at the end of a file and give its number of rows."""
    name = path.relative_to(folder).as_posix()
    try:
        footer = pq.read_metadata(path)
        schema = footer.schema.to_arrow_schema()
    except (pa.ArrowInvalid, OSError):
        raise InputError("the file is half-written or no Parquet file", name, AGAIN) from None
    said = footer.metadata or {}
    version = said.get(b"cubital.lake", b"").decode("utf-8", "replace")
    if version != VERSION:
        what = (
            f"is of version {version[:20]} of the lake" if version else "was not written by cubital"
        )
        raise InputError(f"the file {what}", name, AGAIN)
    if said.get(b"cubital.part") != part.name.encode() and part.month:
        other = said.get(b"cubital.part", b"").decode("utf-8", "replace")
        raise InputError(f"the file is a copy of {other[:200]}", name, "Take it out.")
    if not schema.equals(SCHEMAS[table], check_metadata=False):
        raise InputError("the file has other columns than the lake", name, AGAIN)
    return int(footer.num_rows)


def _read_sites(path: Path) -> dict[str, LakeSite]:
    try:
        rows = list(csv.reader(io.StringIO(path.read_text("utf-8"))))
    except (OSError, UnicodeDecodeError, csv.Error):
        raise InputError("the file cannot be read", SITES, AGAIN) from None
    if not rows or tuple(rows[0]) != SITE_COLUMNS:
        columns = ", ".join(SITE_COLUMNS)
        raise InputError("the header is not as it should be", SITES, f"Write {columns}.")
    sites = {}
    for line, cells in enumerate(rows[1:], start=2):
        if len(cells) != len(SITE_COLUMNS) or not cells[0]:
            raise InputError(
                f"the row has {len(cells)} cells or no code", f"{SITES}, row {line}",
                f"Write {len(SITE_COLUMNS)} cells, the code first.",
            )  # fmt: skip
        code, name, zone, now = cells
        sites[code] = LakeSite(code, name or code, zone or "UTC", now=now)
    for site in sites.values():
        if site.now and (site.now not in sites or sites[site.now].now):
            raise InputError(
                f"{site.code} goes on as {site.now}, which is not a place that is in use",
                f"{SITES}, now",
                "Write the code of the place as it is called now.",
            )
    return sites
