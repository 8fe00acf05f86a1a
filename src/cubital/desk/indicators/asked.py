"""Which month, and of which lake: what every page of the indicators asks first."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from django.utils import timezone

from cubital.catalogue import Catalogue
from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.indicators.kept import KEPT
from cubital.desk.indicators.lake import MAKER, Made, folder, made
from cubital.desk.people.request import DeskRequest
from cubital.desk.record import selectors_quality as quality
from cubital.errors import InputError
from cubital.indicators.engine import Engine, duckdb_engine
from cubital.indicators.lake import SITES, Files, read_files
from cubital.indicators.plots import pictures, svg
from cubital.indicators.report import report
from cubital.indicators.report_values import Report
from cubital.indicators.say import add_months, month_words

MONTH = re.compile(r"(\d{4})-(\d{2})")
MEMORY_MB = 400
"""What counting may take beside the desk itself."""


def engine() -> Engine:
    """What counts, beside a desk that goes on working."""
    return duckdb_engine(memory_mb=MEMORY_MB)


@dataclass(frozen=True, slots=True)
class Asked:
    """
    A month of the lake.

    Args:
        files: what lies in the lake.
        made: what it was made from, None where nobody can tell.
        months: that have something, in order.
        month: the one asked for, ``202603``.
        catalogue: by which it is counted.
        choices: of the place.
        going: whether the figures were being made, looked at before anything else: if they were
            not, what was read afterwards is whole.
        said: why another month is shown than the one asked for.
    """

    files: Files
    made: Made | None
    months: tuple[int, ...]
    month: int
    catalogue: Catalogue
    choices: tuple[tuple[str, str], ...]
    going: dict[str, Any]
    said: str = ""

    @property
    def key(self) -> tuple[Any, ...]:
        """What a report of it hangs on."""
        written = (self.files.folder / SITES).stat().st_mtime_ns
        stamp = (written, self.made.stamp if self.made else "")
        tables = (self.catalogue.edition, self.catalogue.layers)
        return (str(self.files.folder), stamp, self.month, self.choices, tables)

    def report(self) -> Report:
        """The report of the month."""

        def make() -> Report:
            with engine() as opened:
                return report(
                    self.files.folder,
                    self.month,
                    self.catalogue,
                    opened,
                    choices=dict(self.choices),
                )

        return KEPT.get(("report", *self.key), make)

    def picture(self, name: str) -> bytes | None:
        """A chart of the report as SVG, None where there is none of that name."""
        found = next((each for each in pictures(self.report()) if each.name == name), None)
        if found is None:
            return None
        return KEPT.get(("chart", name, *self.key), lambda: svg(found))


def asked(request: DeskRequest) -> Asked:
    """
    The month that an address asks for, or the last one with something in it.

    Raises:
        InputError: there is no lake, or one that cannot be used.
    """
    going = under_way()
    files = read_files(folder())
    months = tuple(sorted({part.month for part, rows in files.parts.items() if rows}))
    text = request.GET.get("month", "")
    shape = MONTH.fullmatch(text)
    month = int(shape[1]) * 100 + int(shape[2]) if shape else 0
    last = months[-1] if months else timezone.localdate().year * 100 + timezone.localdate().month
    said = ""
    if text and not (shape and 1 <= month % 100 <= 12 and month >= 190001):
        said = f"“{text[:20]}” is no month; shown is {month_words(last)}."
        month = last
    return Asked(
        files=files,
        made=made(),
        months=months,
        month=month or last,
        catalogue=catalogue_at(""),
        choices=tuple(sorted(request.place.choices.items())),
        going=going,
        said=said,
    )


def around(found: Asked) -> dict[str, Any]:
    """What every page of a month shows: its name, the other months, how fresh the figures are."""
    now = timezone.localtime()
    this_month = now.year * 100 + now.month
    return {
        "month": found.month,
        "month_text": month_text(found.month),
        "month_words": month_words(found.month),
        "months": [(month_text(each), month_words(each)) for each in reversed(listed(found))],
        "before": month_text(add_months(found.month, -1)),
        "after": month_text(add_months(found.month, 1)),
        "may_go_on": found.month < this_month,
        "under_way": found.month == this_month,
        "made": found.made,
        "newer": quality.events_after(found.made.upto) if found.made else None,
        "said": found.said,
        "confidence": f"{found.catalogue.decimal('indicator_confidence_percent'):g} %",
        **found.going,
    }


def listed(found: Asked) -> list[int]:
    """Months to choose from: those with something, and the one that is shown."""
    return sorted({*found.months, found.month})


def under_way() -> dict[str, Any]:
    """Whether the figures are being made, and how far that is."""
    return {"making": MAKER.running, "making_words": MAKER.words, "making_failed": MAKER.failed}


def month_text(month: int) -> str:
    """``202603`` as an address writes it."""
    return f"{month // 100}-{month % 100:02}"


def no_lake(refused: InputError) -> dict[str, Any]:
    """
    What a page shows where there are no figures.

    Figures that were finished since the page looked for them are shown at its next look.
    """
    going = under_way()
    if not going["making"] and readable():
        going |= {"making": True, "making_words": "They are made."}
    none_yet = not (folder() / SITES).is_file()
    return {"none_yet": none_yet, "refused": str(refused), **going}


def readable() -> bool:
    """Whether there is a lake that can be used."""
    try:
        read_files(folder())
    except InputError:
        return False
    return True
