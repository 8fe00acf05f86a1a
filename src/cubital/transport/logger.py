"""
Reading a temperature logger's CSV: understood, or refused in one sentence, or asked about.

Columns are known by their headings; a heading that is not known is asked for, never guessed.  A
comma as the decimal sign, a semicolon or tab between cells, Fahrenheit in the heading and a gap in
the readings are understood.  Times that go back are refused: which of two hours is meant cannot be
known.
"""

from __future__ import annotations

import csv
import io
import itertools
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

from cubital.catalogue import Catalogue
from cubital.errors import InputError
from cubital.finding import Finding, Severity
from cubital.transport.values import Reading, TemperatureLog

LARGEST_BYTES = 20 * 1024 * 1024
TIME_HEADINGS = ("time", "timestamp", "datetime", "date time", "date/time", "date and time")
TEMPERATURE_HEADINGS = ("temperature", "temp", "t")
CELSIUS = ("c", "°c", "celsius", "degc", "deg c")
FAHRENHEIT = ("f", "°f", "fahrenheit", "degf", "deg f")
_UNIT = re.compile(
    r"[\s_]*[\[(]?\s*(°?\s?[cf]|celsius|fahrenheit|deg\s?[cf])\s*[\])]?\s*$", re.IGNORECASE
)
COLDEST_C, WARMEST_C = -200.0, 150.0


class ColumnsUnclear(InputError):
    """
    The headings do not say which column is which; ``columns`` lists them.

    Ask, and read again with ``columns={"time": heading, "temperature": heading, "unit": "C"}``.
    """

    def __init__(self, what: str, name: str, columns: Sequence[str]) -> None:
        super().__init__(
            what, name, "Say which column is the time, which the temperature, in °C or °F."
        )
        self.columns = tuple(columns)


@dataclass(frozen=True, slots=True)
class Columns:
    """Which column is which."""

    time: int
    temperature: int
    fahrenheit: bool


def _text(data: bytes, name: str) -> str:
    if len(data) > LARGEST_BYTES:
        raise InputError(
            f"The file has {len(data) // 1024 // 1024} MB", name, "A log of up to 20 MB is read."
        )
    for encoding in (
        ("utf-8-sig", "utf-16") if data[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig",)
    ):
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    return data.decode("latin-1")


def _table(text: str, name: str) -> tuple[list[str], list[list[str]]]:
    lines = [line for line in text.splitlines() if line.strip()]
    if len(lines) < 3:
        raise InputError("The log has fewer than two readings", name, "Export it again.")
    head = lines[0]
    between = max(";\t,", key=head.count)
    if head.count(between) == 0:
        raise ColumnsUnclear("The first line has one column only", name, [head.strip()])
    rows = list(csv.reader(io.StringIO("\n".join(lines)), delimiter=between))
    return [cell.strip() for cell in rows[0]], rows[1:]


def _heading(text: str) -> tuple[str, str]:
    """Split a heading into its name and its unit: ``c``, ``f`` or ""."""
    plain = text.strip().strip('"').lower()
    found = _UNIT.search(plain)
    if found and plain not in ("t", "time"):
        unit = found.group(1).replace("°", "").strip()
        name = plain[: found.start()].strip()
        return name or "temperature", "f" if unit.lstrip("deg ").startswith("f") else "c"
    return plain, ""


def _find_columns(headings: list[str], name: str) -> Columns:
    split = [_heading(h) for h in headings]
    times = [i for i, (title, _) in enumerate(split) if title in TIME_HEADINGS]
    warm = [i for i, (title, _) in enumerate(split) if title in TEMPERATURE_HEADINGS]
    if len(times) != 1 or len(warm) != 1:
        raise ColumnsUnclear(
            f"The headings {', '.join(headings)} do not say which column is which", name, headings
        )
    unit = split[warm[0]][1]
    if not unit:
        raise ColumnsUnclear(
            f"The heading {headings[warm[0]]!r} does not say °C or °F", name, headings
        )
    return Columns(times[0], warm[0], unit == "f")


def _asked_columns(headings: list[str], asked: dict[str, str], name: str) -> Columns:
    missing = [
        asked.get(key, "") for key in ("time", "temperature") if asked.get(key) not in headings
    ]
    if missing:
        raise ColumnsUnclear(f"There is no column {missing[0]!r}", name, headings)
    unit = asked.get("unit", "").strip().lower()
    if unit not in (*CELSIUS, *FAHRENHEIT):
        raise ColumnsUnclear(f"{unit!r} is neither °C nor °F", name, headings)
    return Columns(
        headings.index(asked["time"]), headings.index(asked["temperature"]), unit in FAHRENHEIT
    )


_DATES = {
    "iso": ("%Y-%m-%d %H:%M:%S", "%Y-%m-%d %H:%M"),
    "dmy": ("%d/%m/%Y %H:%M:%S", "%d/%m/%Y %H:%M"),
    "mdy": ("%m/%d/%Y %H:%M:%S", "%m/%d/%Y %H:%M"),
}


def _normal(cell: str) -> str:
    text = cell.strip().replace("T", " ").rstrip("Z")
    return re.sub(r"^(\d{1,2})[.-](\d{1,2})[.-](\d{4})", r"\1/\2/\3", text)


def _read_times(cells: list[str], zone: tzinfo, name: str) -> list[datetime]:
    """Read all times in one way; day and month must be clear from the file as a whole."""
    first = cells[0].strip()
    try:
        datetime.fromisoformat(first)
        return [_iso(cell, zone, name, row) for row, cell in enumerate(cells, start=2)]
    except ValueError:
        pass
    ways = {}
    for way in ("dmy", "mdy"):
        read = [_one_of(_normal(cell), _DATES[way]) for cell in cells]
        if None not in read:
            ways[way] = [moment.replace(tzinfo=zone) for moment in read if moment]
    if not ways:
        bad = next((c for c in cells if _one_of(_normal(c), _DATES["dmy"]) is None), first)
        raise InputError(
            f"{bad.strip()!r} is no time that is understood",
            name,
            "Export times as 2026-11-25 07:40.",
        )
    if len(ways) == 2 and ways["dmy"] != ways["mdy"]:
        raise InputError(
            f"{first!r} may be day/month or month/day and nothing in the file tells",
            name,
            "Export times as 2026-11-25 07:40.",
        )
    return next(iter(ways.values()))


def _iso(cell: str, zone: tzinfo, name: str, row: int) -> datetime:
    try:
        moment = datetime.fromisoformat(cell.strip())
    except ValueError as bad:
        raise InputError(f"{cell.strip()!r} is no time", f"{name}, row {row}") from bad
    return moment if moment.tzinfo else moment.replace(tzinfo=zone)


def _one_of(text: str, forms: tuple[str, ...]) -> datetime | None:
    for form in forms:
        try:
            return datetime.strptime(text, form)  # noqa: DTZ007 - the place's zone is added after
        except ValueError:
            continue
    return None


def _celsius(cell: str, columns: Columns, where: str) -> float | None:
    text = cell.strip().replace("−", "-")
    if text == "" or text.lower() in ("-", "nan", "err", "error", "open"):
        return None
    if text.count(",") == 1 and "." not in text:
        text = text.replace(",", ".")
    try:
        value = float(text)
    except ValueError as bad:
        raise InputError(f"{cell.strip()!r} is no temperature", where) from bad
    if columns.fahrenheit:
        value = (value - 32) / 1.8
    if not COLDEST_C <= value <= WARMEST_C:
        raise InputError(
            f"{cell.strip()} cannot be a temperature of a box", where, "Check the unit."
        )
    return value


def _check_order(readings: list[Reading], name: str) -> None:
    for before, after in itertools.pairwise(readings):
        if after.at < before.at:
            raise InputError(
                f"Times go back from {before.at:%Y-%m-%d %H:%M} to {after.at:%H:%M}",
                name,
                "The logger's clock was changed: export it in UTC, or as two files.",
            )


def _gaps(readings: list[Reading], missing: int, catalogue: Catalogue) -> tuple[Finding, ...]:
    steps = [b.at - a.at for a, b in itertools.pairwise(readings)]
    usual = sorted(steps)[len(steps) // 2]
    row = catalogue.setting("logger_gap_factor")
    factor = catalogue.decimal("logger_gap_factor")
    found = [
        Finding(
            "logger-gap",
            Severity.ASK,
            f"Nothing was logged between {a.at:%H:%M} and {b.at:%H:%M}: what happened then is not"
            " known.",
            row.source,
        )
        for a, b, step in zip(readings, readings[1:], steps, strict=False)
        if usual > timedelta(0) and step > factor * usual
    ]
    if missing:
        found.append(
            Finding(
                "logger-empty",
                Severity.NOTE,
                f"{missing} lines of the log have no temperature and were left out.",
                row.source,
            )
        )
    return tuple(found)


def read_log(
    data: bytes,
    *,
    name: str,
    catalogue: Catalogue,
    zone: tzinfo,
    columns: dict[str, str] | None = None,
) -> TemperatureLog:
    """
    Read a logger's CSV.

    Args:
        data: the file.
        name: of the file, for sentences.
        catalogue: for the settings.
        zone: of times that name none.
        columns: what was answered when columns were unclear.

    Raises:
        ColumnsUnclear: which column is which must be asked.
        InputError: one sentence.
    """
    headings, rows = _table(_text(data, name), name)
    found = _asked_columns(headings, columns, name) if columns else _find_columns(headings, name)
    cells: list[str] = []
    values: list[float] = []
    missing = 0
    for number, row in enumerate(rows, start=2):
        if len(row) <= max(found.time, found.temperature):
            raise InputError(
                f"The row has {len(row)} cells instead of {len(headings)}", f"{name}, row {number}"
            )
        value = _celsius(row[found.temperature], found, f"{name}, row {number}")
        if value is None:
            missing += 1
            continue
        cells.append(row[found.time])
        values.append(value)
    if len(values) < 2:
        raise InputError("The log has fewer than two readings", name, "Export it again.")
    times = _read_times(cells, zone, name)
    readings = [Reading(at, value) for at, value in zip(times, values, strict=True)]
    _check_order(readings, name)
    return TemperatureLog(name, tuple(readings), _gaps(readings, missing, catalogue))
