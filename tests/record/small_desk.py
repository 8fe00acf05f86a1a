"""The valley's laboratory and the pass post in a database: four people, two requisitions."""

from __future__ import annotations

import os
from datetime import UTC, datetime
from typing import Any

from cubital.custody import Event, uuid7
from cubital.desk.record.models import Patient, Person, Place, Requisition, Role

PEOPLE = {"mira": Role.COLLECTOR, "tove": Role.COLLECTOR, "ilan": Role.BENCH, "vera": Role.QUALITY}
WORD = "many-eyed-gneiss-41"


def fill() -> None:
    """Put the desk into an empty database."""
    valley = Place.objects.create(code="valley", name="Ostrel laboratory", letters="OL",
                                  altitude_m=1900)  # fmt: skip
    beyond = Place.objects.create(code="pass", name="Pass post", letters="PP", altitude_m=3400)
    for name, role in PEOPLE.items():
        person = Person(username=name, role=role, place=valley)
        person.set_password(WORD)
        person.save()
    for number, place in (("1", valley), ("2", beyond)):
        patient = Patient.objects.create(number=f"P-{number}", family_name=f"Name{number}")
        Requisition.objects.create(number=f"R-{number}", place=place, patient=patient,
                                   collect_at=datetime.now(UTC))  # fmt: skip


def event(kind: str, subject: str, *, site: str = "valley", who: str = "mira",
          corrects: str | None = None, **payload: Any) -> Event:  # fmt: skip
    """An event that happens now."""
    now = datetime.now(UTC)
    return Event(
        id=uuid7(now, os.urandom(10)),
        site=site,
        kind=kind,
        happened_at=now,
        who=who,
        device="tablet-1",
        subject=subject,
        payload=payload,
        corrects=corrects,
    )


def draw(code: str = "D-1", *tubes: str) -> list[Event]:
    """A whole draw with these tubes, from its beginning to its end."""
    attempt = f"attempt:{code}-A"
    events = [
        event("draw_begun", f"draw:{code}", patient="P-1", requisition="R-1"),
        event("identity_confirmed", f"draw:{code}", identifiers=["name"], scanned=True),
        event("attempt_begun", attempt, draw=code, device="straight", gauge=21),
    ]
    for tube in tubes:
        subject = f"specimen:{tube}"
        events += [
            event("tube_scanned", subject, draw=code, patient="P-1", container="edta-30"),
            event("tube_filled", subject, fill="full"),
            event("label_matched", subject, label=tube),
        ]
    return [
        *events,
        event("attempt_ended", attempt, draw=code, success=True),
        event("draw_finished", f"draw:{code}"),
    ]
