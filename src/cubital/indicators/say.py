"""
Numbers and times in words, the same in every sentence of a report.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from math import floor, log10

from cubital.indicators.intervals import Interval

MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip


def month_words(month: int) -> str:
    """``202603`` as March 2026."""
    return f"{MONTHS[month % 100 - 1]} {month // 100}"


def period_label(period: int, by: str) -> str:
    """``202603`` as 2026-03, or as the week 2026-W10."""
    mark = "W" if by == "week" else ""
    return f"{period // 100}-{mark}{period % 100:02}"


def add_months(month: int, more: int) -> int:
    """A month so many months later, or earlier."""
    count = month // 100 * 12 + month % 100 - 1 + more
    return count // 12 * 100 + count % 12 + 1


def months_between(first: int, last: int) -> list[int]:
    """Every month from one to another, both included."""
    found = []
    while first <= last:
        found.append(first)
        first = add_months(first, 1)
    return found


def weeks_between(first: int, last: int) -> list[int]:
    """Every ISO week from one to another, both included."""
    day = date.fromisocalendar(first // 100, first % 100, 1).toordinal()
    end = date.fromisocalendar(last // 100, last % 100, 1).toordinal()
    found = []
    for each in range(day, end + 1, 7):
        year, week, _ = date.fromordinal(each).isocalendar()
        found.append(year * 100 + week)
    return found


def number(value: float) -> str:
    """Three significant digits, never in powers of ten; whole numbers with thousands apart."""
    if value == int(value) and abs(value) < 1e15:
        return f"{int(value):,}"
    digits = max(0, 2 - floor(log10(abs(value))))
    text = f"{value:,.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def percent(share: float) -> str:
    """A share in percent."""
    return f"{number(round(share * 100, 12))} %"


def percent_range(interval: Interval) -> str:
    """An interval of shares in percent."""
    low, high = round(interval.low * 100, 12), round(interval.high * 100, 12)
    return f"{number(low)} to {number(high)} %"


def points(difference: float) -> str:
    """A difference of two shares in percentage points, with its sign."""
    value = round(difference * 100, 12)
    return f"{'+' if value > 0 else '−' if value < 0 else ''}{number(abs(value))}"


def some(count: int, one: str, more: str = "") -> str:
    """A count with its word: 1 specimen, 2 specimens."""
    return f"{count:,} {one if count == 1 else more or one + 's'}"


def joined(words: Sequence[str]) -> str:
    """One, two and three."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"
