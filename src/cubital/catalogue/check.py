"""
What must hold of each row by itself and between rows, beyond that each cell can be read.

Every check gives sentences with the file, the row, the field and what to write instead.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from cubital.catalogue import model, vocabulary
from cubital.catalogue.catalogue import Catalogue
from cubital.catalogue.check_whole import check_whole
from cubital.catalogue.model import Row
from cubital.catalogue.table import COLUMNS, nearest, place
from cubital.errors import CatalogueError

CODE = re.compile(r"[a-z0-9][a-z0-9_.-]*")
TEST_CODE = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
HEX_COLOUR = re.compile(r"#[0-9a-f]{6}")
LOINC = re.compile(r"[1-9][0-9]{0,6}-[0-9]")
SHORT_MOST = 12
NAMED = ("code", "topic", "option", "key", "condition")
"""Fields that hold codes of their own table."""

Problems = Iterator[CatalogueError]


def check_rows(catalogue: Catalogue) -> list[CatalogueError]:
    """All problems, table by table, then those between tables."""
    problems: list[CatalogueError] = []
    known = {cls: _firsts(catalogue, cls) for cls in model.ROWS}
    for cls in model.ROWS:
        rows = catalogue.rows(cls)
        problems += _sources(catalogue, cls, rows)
        problems += _words(cls, rows)
        problems += _references(cls, rows, known)
        problems += _codes(cls, rows)
        problems += _numbers(cls, rows)
        problems += _choices(catalogue, cls, rows)
    problems += _ranges(catalogue)
    problems += _tests(catalogue)
    problems += _colours(catalogue)
    return problems or list(check_whole(catalogue))


def _firsts(catalogue: Catalogue, cls: type[Row]) -> set[object]:
    first = cls.KEY[0]
    return {getattr(row, first) for row in catalogue.rows(cls)}


def _at(row: Row, field: str) -> str:
    return place(type(row), row.layer, row.line, field)


def _sources(catalogue: Catalogue, cls: type[Row], rows: tuple[Row, ...]) -> Problems:
    for row in rows:
        if row.source not in catalogue.sources:
            close = nearest(row.source, catalogue.sources)
            mend = f"Write {close}, or add [{row.source}]" if close else f"Add [{row.source}]"
            yield CatalogueError(
                f"no source is called “{row.source}”",
                _at(row, "source"),
                f"{mend} to sources.toml.",
            )


def _words(cls: type[Row], rows: tuple[Row, ...]) -> Problems:
    for (owner, field), words in vocabulary.WORDS.items():
        if owner is not cls:
            continue
        for row in rows:
            value = getattr(row, field)
            if value not in words:
                close = nearest(value, words)
                mend = f"Write {close}" if close else f"Write one of {', '.join(words)}"
                yield CatalogueError(f"“{value}” is not known here", _at(row, field), f"{mend}.")


def _references(
    cls: type[Row], rows: tuple[Row, ...], known: dict[type[Row], set[object]]
) -> Problems:
    for (owner, field), targets in vocabulary.REFERENCES.items():
        if owner is not cls:
            continue
        there = set().union(*(known[target] for target in targets))
        files = " or ".join(target.FILE for target in targets)
        for row in rows:
            value = getattr(row, field)
            if value not in there:
                close = nearest(str(value), map(str, there))
                mend = f"Write {close}, or add it to {files}" if close else f"Add it to {files}"
                yield CatalogueError(f"“{value}” is not in {files}", _at(row, field), f"{mend}.")


def _codes(cls: type[Row], rows: tuple[Row, ...]) -> Problems:
    shape = TEST_CODE if cls in (model.Test, model.Panel) else CODE
    signs = "letters, digits and hyphens" if shape is TEST_CODE else "letters, digits, _ . and -"
    for field in NAMED:
        if field not in cls.KEY:
            continue
        for row in rows:
            value = getattr(row, field)
            if not shape.fullmatch(value):
                yield CatalogueError(
                    f"“{value}” is not a code", _at(row, field), f"Write lower-case {signs}."
                )


def _numbers(cls: type[Row], rows: tuple[Row, ...]) -> Problems:
    positive = vocabulary.POSITIVE.get(cls, ())
    fields = [
        name
        for name, column in COLUMNS[cls].items()
        if column.kind in ("int", "float") and not name.endswith("_c")  # degrees may be negative
    ]
    for field in fields:
        least = "above 0" if field in positive else "of 0 or more"
        for row in rows:
            value = getattr(row, field)
            if value < 0 or (value == 0 and field in positive):
                yield CatalogueError(
                    f"{value} cannot be", _at(row, field), f"Write a number {least}."
                )


def _choices(catalogue: Catalogue, cls: type[Row], rows: tuple[Row, ...]) -> Problems:
    field = "policy" if cls is model.BloodLimit else "choice"
    if field not in COLUMNS[cls]:
        return
    topic = vocabulary.TOPICS.get((cls, field), "")
    whole = [
        option if topic else f"{row_topic}:{option}"
        for row_topic, options in catalogue.options.items()
        for option in options
        if not topic or row_topic == topic
    ]
    for row in rows:
        value = getattr(row, field)
        if value not in whole and (value or topic):
            close = nearest(value, whole)
            mend = f"Write {close}, or add" if close else "Add"
            yield CatalogueError(
                f"“{value}” is no option of choices.csv",
                _at(row, field),
                f"{mend} the option there{'' if topic else '; the form is topic:option'}.",
            )


def _ranges(catalogue: Catalogue) -> Problems:
    for cls, low, high, strict in vocabulary.RANGES:
        for row in catalogue.rows(cls):
            least, most = getattr(row, low), getattr(row, high)
            if least > most or (strict and least == most):
                yield CatalogueError(
                    f"{low} {least} is not below {high} {most}",
                    _at(row, high),
                    f"Write a number above {least}.",
                )
            elif high == "age_to_days" and most > vocabulary.EVERYBODY_DAYS:
                yield CatalogueError(
                    f"{most} days are more than 150 years",
                    _at(row, high),
                    f"Write at most {vocabulary.EVERYBODY_DAYS}.",
                )
    for row in catalogue.rows(model.Preparation):
        if row.high and row.low > row.high and row.need != "clock_from_to":
            yield CatalogueError(
                f"low {row.low} is above high {row.high}",
                _at(row, "high"),
                "Write a larger number, or 0 for no upper end.",
            )
    for limit in catalogue.rows(model.FillLimit):
        if limit.maximum_percent > 200:
            yield CatalogueError(
                f"{limit.maximum_percent} percent cannot be",
                _at(limit, "maximum_percent"),
                "Write percent of the nominal volume, for example 110.",
            )
    for expected in catalogue.rows(model.Haematocrit):
        if expected.percent >= 100:
            yield CatalogueError(
                f"{expected.percent} percent cannot be", _at(expected, "percent"), "Write percent."
            )


def loinc_check_digit(stem: str) -> int:
    """
    The mod 10 check digit of a LOINC code's stem.

    Source: LOINC Users' Guide, appendix on the check digit (mod 10, every second digit from the
    right doubled).
    """
    total = 0
    for at, digit in enumerate(map(int, reversed(stem))):
        doubled = digit * 2 if at % 2 == 0 else digit
        total += doubled - 9 if doubled > 9 else doubled
    return -total % 10


def _tests(catalogue: Catalogue) -> Problems:
    named: list[model.Test | model.Panel] = [*catalogue.rows(model.Test)]
    named += catalogue.rows(model.Panel)
    for row in named:
        if row.loinc:
            stem = row.loinc.partition("-")[0]
            if not LOINC.fullmatch(row.loinc):
                yield CatalogueError(
                    f"“{row.loinc}” is not a LOINC code",
                    _at(row, "loinc"),
                    "Write digits, a hyphen and the check digit, or leave the cell empty.",
                )
            elif f"{stem}-{loinc_check_digit(stem)}" != row.loinc:
                yield CatalogueError(
                    f"the check digit of {row.loinc} does not fit",
                    _at(row, "loinc"),
                    f"Look the code up again ({stem} would end in {loinc_check_digit(stem)}).",
                )
    for test in catalogue.rows(model.Test):
        if len(test.short) > SHORT_MOST:
            yield CatalogueError(
                f"“{test.short}” has {len(test.short)} signs",
                _at(test, "short"),
                f"Write at most {SHORT_MOST}.",
            )


def _colours(catalogue: Catalogue) -> Problems:
    for colour in catalogue.rows(model.ClosureColour):
        if not HEX_COLOUR.fullmatch(colour.rgb):
            yield CatalogueError(
                f"“{colour.rgb}” is no colour", _at(colour, "rgb"), "Write it like #9fd3f0."
            )
