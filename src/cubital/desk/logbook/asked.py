"""Days as an address asks for them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from cubital.desk.people.request import DeskRequest
from cubital.desk.record.models import Place
from cubital.desk.record.selectors import day_bounds

FIRST, LAST = date(1911, 1, 1), date(9989, 1, 1)


@dataclass(frozen=True, slots=True)
class Days:
    """
    Days from one to another, both included.

    Args:
        said: why what was asked for is not what is shown, "" when it is.
    """

    first: date
    last: date
    said: str = ""

    def bounds(self, place: Place) -> tuple[datetime, datetime]:
        """The first moment of the first day, and the first after the last, at a place."""
        zone = ZoneInfo(place.time_zone)
        return day_bounds(self.first, zone)[0], day_bounds(self.last, zone)[1]


def day_of(text: str) -> date | None:
    """A day as typed, None when it is none."""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return None
    return day if FIRST < day < LAST else None


def days_asked(request: DeskRequest, today: date, *, back: int, most: int) -> Days:
    """
    The days ``from`` and ``to`` of an address.

    Args:
        request: with the address.
        today: the last day when none is asked for.
        back: how many days are shown when none is asked for.
        most: days that can be shown at once.
    """
    usual = Days(today - timedelta(days=back - 1), today)
    asked = {name: request.GET.get(name, "") for name in ("from", "to")}
    found = {name: day_of(text) for name, text in asked.items() if text}
    for name, day in found.items():
        if day is None:
            return _but(usual, f"“{asked[name][:20]}” is no day; write one such as {today}.")
    last = found.get("to") or max(today, found.get("from") or today)
    first = found.get("from") or last - timedelta(days=back - 1)
    if first > last:
        return _but(usual, f"{first} is after {last}: turn the days round.")
    if (last - first).days >= most:
        return _but(
            usual, f"From {first} to {last} is too long: ask for {most} days or fewer at a time."
        )
    return Days(first, last)


def _but(usual: Days, said: str) -> Days:
    return Days(usual.first, usual.last, f"{said} Shown are {usual.first} to {usual.last}.")
