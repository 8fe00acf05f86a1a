"""Put the invented clinic into an empty database, and today's morning into it once a day."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import transaction

from cubital.catalogue import shipped
from cubital.desk.demo.bench import bench_furnish
from cubital.desk.demo.morning import CASES, Case
from cubital.desk.demo.staff import staff_put
from cubital.desk.demo.valley import (
    EXPIRED,
    MADE_FOR_THE_VALLEY,
    PEOPLE,
    PER_LOT,
    PLACES,
    RECALLED,
    DemoPlace,
)
from cubital.desk.record import selectors
from cubital.desk.record.models import Place
from cubital.desk.record.places import place_add
from cubital.desk.record.requisitions import (
    requisition_add,
    requisition_cancel,
    requisition_drawn,
)
from cubital.desk.record.stock import lot_add
from cubital.draw import Place as DrawPlace
from cubital.draw import plan_draw
from cubital.errors import CubitalError
from cubital.requisition import requisition_from, requisition_to


class NotTheDemo(CubitalError):
    """Invented people were about to go among real ones."""


def demo_fill(*, now: datetime) -> None:
    """
    Make the clinic where it is missing, and the requisitions of the day of ``now``.

    Raises:
        NotTheDemo: the desk does not run as the demo.
    """
    if not settings.DEMO:
        raise NotTheDemo("Invented people belong in the demo only; set CUBITAL_DEMO=1.")
    with transaction.atomic():
        for each in PLACES:
            if selectors.place_by_code(each.code) is None:
                open_place(each, now)
            bench_furnish(selectors.place_at(each.code))
        staff_put(PEOPLE)
        for serial, case in enumerate(CASES, start=1):
            ask_for(case, serial, now)


def open_place(demo: DemoPlace, now: datetime) -> None:
    """Set up a place with its stock: one lot expired and one recalled among the others."""
    place = place_add(
        code=demo.code,
        letters=demo.letters,
        name=demo.name,
        altitude_m=demo.altitude_m,
        time_zone=settings.TIME_ZONE,
        order_profile=demo.order_profile,
        keeps_stock=True,
    )
    catalogue = shipped()
    codes = demo.stock or (
        *(row.code for row in catalogue.containers.values() if row.in_use),
        *MADE_FOR_THE_VALLEY,
    )
    today = now.date()
    for number, code in enumerate(dict.fromkeys((*codes, EXPIRED)), start=1):
        days = -12 if code == EXPIRED else 90 + 17 * number
        lot_add(
            place=place,
            container=code,
            number=f"{demo.letters}{24100 + number}",
            expires_on=today + timedelta(days=days),
            count=PER_LOT,
            catalogue=catalogue,
            recalled=code == RECALLED,
        )


def ask_for(case: Case, serial: int, now: datetime) -> None:
    """One requisition of the morning, unless it is there already."""
    place = selectors.place_at(case.place)
    zone = ZoneInfo(place.time_zone)
    number = f"{place.letters}-{now.astimezone(zone):%y%m%d}-D{serial:02d}"
    if selectors.requisition_by_number(number) is not None:
        return
    requisition = requisition_from(
        known_birth(case.to_mapping(number, now, zone)),
        catalogue=shipped(),
        now=now.astimezone(zone),
    )
    row = requisition_add(
        requisition=requisition, document=requisition_to(requisition), place=place
    )
    if case.state == "drawn":
        plan = plan_draw(requisition, shipped(), domain_place(place), now=now)
        taken = plan.allowance.planned_ul
        requisition_drawn(requisition=row, taken_at=requisition.collect_at, volume_ul=taken)
    if case.state == "cancelled":
        requisition_cancel(requisition=row, why="asked for twice by mistake", now=now)


def known_birth(mapping: dict[str, Any]) -> dict[str, Any]:
    """Keep the birth date that the record has from an earlier morning of the demo."""
    row = selectors.patient_by_number(mapping["patient"]["number"])
    if row is not None and row.birth_date is not None:
        mapping["patient"]["birth_date"] = row.birth_date.isoformat()
    return mapping


def domain_place(place: Place) -> DrawPlace:
    """The place with its stock, for the draw room."""
    return place.to_domain(selectors.lots(place))
