"""Reading what a person typed into a box: one clear sentence when it cannot be read."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from cubital.errors import InputError

UTC = ZoneInfo("UTC")


def number(text: str, what: str, example: str) -> float | None:
    """
    Read a decimal with a point or a comma; None where nothing was typed.

    Raises:
        InputError: it is no number.
    """
    text = text.strip().replace(",", ".")
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not abs(value) < 1e9:  # also true for "nan", which is no number either
        raise InputError(f"{text!r} is no number", what, f"Write it as {example}.")
    return value


def scaled(text: str, what: str, example: str, factor: int) -> int | None:
    """Read a decimal in a unit that people use, as whole small units: 3.2 kg as 3200 g."""
    value = number(text, what, example)
    return None if value is None else round(value * factor)


def yes_no(text: str) -> bool | None:
    """Read a three-way choice: yes, no, not asked."""
    return {"yes": True, "no": False}.get(text)


def moment(
    date_text: str, time_text: str, zone: ZoneInfo, what: str = "when to collect"
) -> datetime:
    """
    Read a local date and time.

    Raises:
        InputError: they are no date and time, or a clock change skips that hour.
    """
    try:
        local = datetime.fromisoformat(f"{date_text.strip()}T{time_text.strip()}")
    except ValueError as bad:
        raise InputError(
            f"{date_text} {time_text} is no date and time",
            what,
            "Write them as 2026-11-25 and 08:30.",
        ) from bad
    aware = local.replace(tzinfo=zone)
    if aware.astimezone(UTC).astimezone(zone).replace(tzinfo=None) != local:
        raise InputError(
            f"{date_text} {time_text} does not exist: the clock goes forward then",
            what,
            "Choose an hour later.",
        )
    return aware
