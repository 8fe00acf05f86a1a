"""A few invented days for the tests of the logbook: a draw with two needles, slips, incidents."""

from __future__ import annotations

import os
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

from cubital.custody import Event, Offer, uuid7
from cubital.desk.record.events import append_offers
from cubital.desk.record.models import Patient, Place, Requisition

VALLEY, PASS = "ostrel-valley", "ostrel-pass"


def event(kind: str, subject: str, at: datetime, *, who: str = "mira", site: str = VALLEY,
          corrects: str | None = None, **said: Any) -> Event:  # fmt: skip
    """One event of the valley."""
    return Event(
        id=uuid7(at, os.urandom(10)),
        site=site,
        kind=kind,
        happened_at=at,
        who=who,
        device="tablet-1",
        subject=subject,
        payload=said,
        corrects=corrects,
    )


def store(events: Sequence[Event], now: datetime | None = None) -> None:
    """Record events that must all be taken, each sent by whoever made it."""
    moment = now or datetime.now(UTC)
    (answers,) = append_offers([[Offer(each, each.who) for each in events]], now=moment)
    wrong = [a.sentence for a in answers if a.verdict != "stored"]
    assert not wrong, wrong


def asked(number: str = "R-71", site: str = VALLEY, patient: str = "OV-10001") -> Requisition:
    """A requisition to draw for."""
    return Requisition.objects.create(
        number=number,
        place=Place.objects.get(code=site),
        patient=Patient.objects.get(number=patient),
        collect_at=datetime.now(UTC),
    )


def pricked_twice(begun: datetime, draw: str = "D-71", number: str = "R-71") -> list[Event]:
    """A draw whose first needle found no flow."""
    subject = f"draw:{draw}"
    at = [begun + timedelta(seconds=20 * n) for n in range(20)]
    return [
        event("draw_begun", subject, at[0], patient="OV-10001", requisition=number),
        event("identity_confirmed", subject, at[1], identifiers=["name", "birth_date"]),
        event("tourniquet_on", subject, at[2]),
        event("attempt_begun", f"attempt:{draw}-1", at[3], draw=draw, body_site="cephalic",
              side="left", device="straight", gauge=21),
        event("attempt_ended", f"attempt:{draw}-1", at[4], draw=draw, success=False,
              reason="no_flow"),
        event("tourniquet_off", subject, at[5]),
        event("tube_refused", subject, at[6], finding="tube-expired", container="edta-3"),
        event("attempt_begun", f"attempt:{draw}-2", at[10], draw=draw, body_site="median_cubital",
              side="right", device="winged", gauge=23),
        event("tube_scanned", f"specimen:{draw}-T1", at[11], draw=draw, patient="OV-10001",
              container="edta-3"),
        event("tube_filled", f"specimen:{draw}-T1", at[12], fill="full"),
        event("attempt_ended", f"attempt:{draw}-2", at[13], draw=draw, success=True),
        event("label_matched", f"specimen:{draw}-T1", at[14], label=f"{draw}-T1"),
        event("draw_finished", subject, at[15]),
    ]  # fmt: skip


def refused(received: datetime, specimen: str = "D-71-T1", reason: str = "clotted") -> list[Event]:
    """The specimen arrives, and is refused."""
    subject = f"specimen:{specimen}"
    return [
        event("specimen_received", subject, received, who="joren"),
        event("specimen_refused", subject, received + timedelta(seconds=40), who="joren",
              reason=reason),
    ]  # fmt: skip


def incident(code: str, what: str, at: datetime, **more: Any) -> Event:
    """An incident in the valley."""
    return event("incident_recorded", f"incident:{code}", at, what=what, **more)
