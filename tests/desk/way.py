"""Specimens on their way in the invented clinic, made by the events that a chair sends."""

from __future__ import annotations

import os
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

from django.db import transaction

from cubital.accession import accession_number
from cubital.custody import Event, Verdict, uuid7
from cubital.desk.record.events import append_events
from cubital.desk.record.models import Requisition
from cubital.desk.record.numbers import next_number

VALLEY, PASS = "ostrel-valley", "ostrel-pass"
LETTERS = {VALLEY: "OL", PASS: "OP"}
USUAL = ("gel-3.5", ("sodium", "potassium", "creatinine"))


def made(kind: str, subject: str, *, site: str, who: str, at: datetime, **payload: Any) -> Event:
    """An event at a time of its own."""
    return Event(
        id=uuid7(at, os.urandom(10)), site=site, kind=kind, happened_at=at, who=who,
        device="tablet-1", subject=subject, payload=payload,
    )  # fmt: skip


def stored(*events: Event) -> None:
    """Store events; each must be taken."""
    for answer in append_events(events=events, person=events[0].who):
        assert answer.verdict is not Verdict.REFUSED, answer.sentence


def requisition(serial: int) -> Requisition:
    """One of the morning's requisitions."""
    return Requisition.objects.get(number__endswith=f"D{serial:02d}")


def drawn(
    row: Requisition,
    *tubes: tuple[str, Sequence[str]],
    ago: timedelta = timedelta(minutes=30),
    site: str = VALLEY,
    fill: str = "full",
    volume_ul: int | None = None,
    ended: bool = True,
) -> list[str]:
    """A draw with these tubes, each a container with its tests; gives their numbers."""
    at = datetime.now(UTC) - ago
    code = f"D-{os.urandom(4).hex()}"
    attempt = f"attempt:A-{code}"
    common: dict[str, Any] = {"site": site, "who": "mira", "at": at}
    events = [
        made("draw_begun", f"draw:{code}", patient=row.patient.number, requisition=row.number,
             **common),
        made("identity_confirmed", f"draw:{code}", identifiers=["name"], scanned=True, **common),
        made("attempt_begun", attempt, draw=code, device="straight", gauge=21, **common),
    ]  # fmt: skip
    numbers = []
    for container, tests in tubes or (USUAL,):
        with transaction.atomic():
            serial = 5000 + next_number(f"tests {site}")
        number = accession_number(LETTERS[site], at.date(), serial)
        numbers.append(number)
        subject = f"specimen:{number}"
        volume = {} if volume_ul is None else {"volume_ul": volume_ul}
        events += [
            made("tube_scanned", subject, draw=code, patient=row.patient.number,
                 container=container, tests=list(tests), requisition=row.number, **common),
            made("tube_filled", subject, fill=fill, **volume, **common),
        ]  # fmt: skip
        if fill != "none":
            events.append(made("label_matched", subject, label=number, **common))
    events.append(made("attempt_ended", attempt, draw=code, success=True, **common))
    if ended:
        events.append(made("draw_finished", f"draw:{code}", **common))
    stored(*events)
    return numbers


def boxed(
    box: str,
    numbers: Sequence[str],
    *,
    site: str = PASS,
    to: str = VALLEY,
    cooling: str = "ambient",
    ago: timedelta = timedelta(minutes=20),
    sent: bool = True,
) -> None:
    """Put specimens into a box and, unless told otherwise, let it leave."""
    at = datetime.now(UTC) - ago
    common: dict[str, Any] = {"site": site, "who": "mira", "at": at}
    events = [made("specimen_boxed", f"specimen:{n}", box=box, **common) for n in numbers]
    if sent:
        events.append(
            made("box_sent", f"box:{box}", to=to, specimens=list(numbers), cooling=cooling,
                 courier="the mail van", **common)
        )  # fmt: skip
    stored(*events)
