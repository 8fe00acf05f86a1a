"""Specimens at the bench of the invented clinic, made by the events that bring them there."""

from __future__ import annotations

import os
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from cubital.desk.record.models import Place, Requisition
from tests.desk.way import VALLEY, drawn, made, stored

SERUM = ("gel-5", ("sodium", "potassium", "creatinine"))
WHO = "joren"


def minutes(number: float) -> timedelta:
    """A length of time."""
    return timedelta(minutes=number)


def noon() -> None:
    """Set the valley's clocks so that it is about noon there: no test ends on another day."""
    hours = (12 - datetime.now(UTC).hour + 11) % 24 - 11
    zone = f"Etc/GMT{-hours:+d}" if hours else "UTC"
    Place.objects.filter(code=VALLEY).update(time_zone=zone)


def valley(moment: datetime | None = None) -> datetime:
    """A moment, or now, by the valley's clocks."""
    zone = ZoneInfo(Place.objects.get(code=VALLEY).time_zone)
    return (moment or datetime.now(UTC)).astimezone(zone)


def accepted(
    row: Requisition,
    *tubes: tuple[str, Sequence[str]],
    ago: timedelta = timedelta(minutes=40),
    site: str = VALLEY,
    **more: Any,
) -> list[str]:
    """Drawn so long ago, received and accepted ten minutes later; gives their numbers."""
    codes = drawn(row, *(tubes or (SERUM,)), ago=ago, site=site, **more)
    at = datetime.now(UTC) - ago + minutes(10)
    common: dict[str, Any] = {"site": site, "who": WHO, "at": at}
    for code in codes:
        stored(
            made("specimen_received", f"specimen:{code}", **common),
            made("specimen_accepted", f"specimen:{code}", **common),
        )
    return codes


def spun(codes: Sequence[str], *, ago: timedelta = timedelta(minutes=5), site: str = VALLEY) -> str:
    """A run with these tubes that ended so long ago; gives its number."""
    run = f"R-{os.urandom(4).hex()}"
    at = datetime.now(UTC) - ago
    stored(
        made("spin_begun", f"spin:{run}", site=site, who=WHO, at=at - minutes(12),
             centrifuge="small", specimens=list(codes), programme="serum", seconds=600),
        made("spin_ended", f"spin:{run}", site=site, who=WHO, at=at, specimens=list(codes),
             outcome="done"),
    )  # fmt: skip
    return run
