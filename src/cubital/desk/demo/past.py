"""
A few past weeks of the invented clinic, so that logbook, charts and report have something to show.

Every working day is recorded as if it had been then: requisitions, draws by three collectors, a
box from the pass, the reception, and what went wrong.  Nobody in it is real.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from itertools import groupby
from random import Random
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import transaction

from cubital.catalogue import shipped
from cubital.custody import Event, Offer
from cubital.desk.demo.past_day import (
    LETTERS,
    PASS,
    VALLEY,
    Asked,
    Drawn,
    Past,
    carry,
    draw,
    menus,
    receive,
)
from cubital.desk.demo.past_people import COUNT, MORE_PEOPLE, WARDS, patient
from cubital.desk.demo.past_trouble import trouble
from cubital.desk.demo.staff import staff_put
from cubital.desk.record import selectors
from cubital.desk.record.events import append_offers
from cubital.desk.record.models import Patient
from cubital.desk.record.past_requisitions import requisitions_past_add
from cubital.desk.record.patients import patient_meet
from cubital.requisition import requisition_from, requisition_to
from cubital.requisition.values import Requisition

WEEKS = 9
SUNDAY = 6
A_DAY = {VALLEY: 8, PASS: 3}
"""Draws of a working day; at the pass every other day."""


def past_fill(*, now: datetime, weeks: int = WEEKS) -> int:
    """
    Record the working days before the day of ``now`` that are missing; gives how many they were.

    Args:
        now: of the demo, whose people and places are there already.
        weeks: how far back.
    """
    zone = ZoneInfo(settings.TIME_ZONE)
    today = now.astimezone(zone).date()
    days = [today - timedelta(days=back) for back in range(weeks * 7, 0, -1)]
    days = [day for day in days if day.weekday() != SUNDAY]
    missing = [
        day for day in days if selectors.requisition_by_number(number(VALLEY, day, 1)) is None
    ]
    with transaction.atomic():
        staff_put(MORE_PEOPLE)
        book = Book(zone, today, days[0])
        for day in missing:
            book.fill_day(day)
    return len(missing)


def number(site: str, day: date, nth: int) -> str:
    """Of a past day's requisition."""
    return f"{LETTERS[site]}-{day:%y%m%d}-P{nth:02d}"


def record_by_day(events: Iterable[Event]) -> None:
    """Record what happened on earlier days as if it had been written down on each of them."""
    ordered = sorted(events, key=lambda event: event.happened_at)
    for _, some in groupby(ordered, key=lambda event: event.happened_at.date()):
        offers = [Offer(event, event.who) for event in some]
        append_offers([offers], now=max(offer.event.happened_at for offer in offers))


@dataclass(slots=True)
class Book:
    """The past under way: what every day needs, looked up once."""

    zone: ZoneInfo
    today: date
    first: date
    patients: dict[str, Patient] = field(default_factory=dict)

    def fill_day(self, day: date) -> None:
        """One past day, recorded that evening."""
        events = self.day(day).events
        evening = datetime.combine(day, time(23), tzinfo=self.zone)
        append_offers([[Offer(event, event.who) for event in events]], now=evening)

    def day(self, day: date) -> Past:
        """One past day: asked for, drawn, carried, received, and what went wrong."""
        past = Past(day, self.zone, Random(f"ostrel {day}"))  # noqa: S311 - invented
        carried: list[Drawn] = []
        for asked in self.asked_for(past):
            filled = draw(past, asked)
            if asked.site == PASS:
                carried += filled
            else:
                receive(past, filled, asked.at + timedelta(minutes=past.random.randint(18, 45)))
        carry(past, carried)
        receive(past, carried, past.at(12, 55))
        trouble(past, self.today, self.first)
        return past

    def asked_for(self, past: Past) -> list[Asked]:
        """The requisitions of the day, stored; at the pass every other day."""
        found: list[Asked] = []
        for site, count in A_DAY.items():
            if site == PASS and past.day.weekday() % 2:
                continue
            at = past.at(7) if site == VALLEY else past.at(8, 30)
            here = []
            for nth in range(1, count + past.random.randint(0, 2) + 1):
                at += timedelta(minutes=past.random.randint(9, 24))
                here.append(
                    Asked(
                        number=number(site, past.day, nth),
                        site=site,
                        patient=past.random.randint(1, COUNT),
                        ward=past.random.choice(WARDS[site]),
                        tubes=past.random.choice(menus(site)),
                        at=at,
                    )
                )
            self.store(here, site)
            found += here
        return found

    def store(self, several: list[Asked], site: str) -> None:
        """Keep requisitions as if they had come in that morning."""
        made = [self.requisition(asked) for asked in several]
        for each in made:
            if each.patient.number not in self.patients:
                self.patients[each.patient.number] = patient_meet(patient=each.patient)
        requisitions_past_add(
            requisitions=[(each, requisition_to(each)) for each in made],
            place=selectors.place_at(site),
            patients=self.patients,
        )

    def requisition(self, asked: Asked) -> Requisition:
        """One requisition."""
        return requisition_from(
            {
                "schema": "cubital.requisition/1",
                "number": asked.number,
                "patient": patient(asked.patient),
                "tests": [{"code": test} for _, tests in asked.tubes for test in tests],
                "collect_at": asked.at.isoformat(),
                "requester": "Dr Halvek",
                "ward": asked.ward,
            },
            catalogue=shipped(),
            now=asked.at,
        )
