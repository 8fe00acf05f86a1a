"""
The way to the bench in the invented clinic today: boxes, a tray, refusals, something unknown.

Pure invention, as if the events had come in as they happened; nobody in it is real.
"""

from __future__ import annotations

import math
from datetime import datetime, timedelta
from random import Random
from zoneinfo import ZoneInfo

from django.conf import settings

from cubital.custody import Offer
from cubital.desk.demo.past import Book, record_by_day
from cubital.desk.demo.past_day import BENCH, LETTERS, PASS, VALLEY, Asked, Past, Tube
from cubital.desk.demo.past_people import patient_number
from cubital.desk.record import boxes, receptions, selectors, selectors_way
from cubital.desk.record.events import append_offers
from cubital.desk.record.models import Person
from cubital.desk.transport.known import here_at
from cubital.desk.transport.load import contents_of, travelled
from cubital.transport import Reading, TemperatureLog, judge_journey

FIRST = 9001
"""Accession numbers of the way; those of past days and of the bench begin lower."""
GEL, EDTA, SUGAR, CITRATE = "gel-3.5", "edta-3", "fluoride-2", "citrate-2.7-alt2000"
TRAY: tuple[tuple[int, Tube, str, int | None], ...] = (
    (34, (GEL, ("sodium", "creatinine", "crp")), "full", None),
    (33, (EDTA, ("fbc",)), "full", None),
    (29, (CITRATE, ("pt-inr", "aptt")), "short", 1_300),
    (26, (GEL, ("tsh", "ferritin")), "full", None),
    (22, (SUGAR, ("glucose",)), "full", None),
    (600, (EDTA, ("fbc",)), "full", None),
    (18, (EDTA, ("fbc", "hba1c")), "full", None),
)
"""Minutes ago, tube, how full and with how many µL: the third is too short, the sixth is old."""
DOWN: tuple[Tube, ...] = ((GEL, ("sodium", "crp")), (EDTA, ("fbc",)), (GEL, ("tsh",)))
UP: tuple[Tube, ...] = ((EDTA, ("fbc",)), (GEL, ("creatinine",)))
CARRIER = "bero"


def way_fill(*, now: datetime) -> bool:
    """
    Bring this morning's tubes, boxes and questions on their way; once a day.

    Args:
        now: of the demo, whose people and places are there already.

    Returns:
        Whether they were not there yet.
    """
    zone = ZoneInfo(settings.TIME_ZONE)
    here = now.astimezone(zone)
    if selectors.requisition_by_number(number(VALLEY, here, 1)) is not None:
        return False
    told_past(here)
    past = Past(here.date(), zone, Random(f"way {here.date()}"))  # noqa: S311 - invented
    past.serials = {VALLEY: FIRST, PASS: FIRST}
    book = Book(zone, here.date(), here.date())
    tray(past, book, here)
    opened(past, book, here)
    packing(past, book, here)
    events = sorted(past.events, key=lambda event: event.happened_at)
    append_offers([[Offer(event, event.who) for event in events]], now=now)
    log(here)
    unknown(here)
    return True


def number(site: str, day: datetime, nth: int) -> str:
    """Of one of these requisitions."""
    return f"{LETTERS[site]}-{day:%y%m%d}-W{nth:02d}"


def box(day: datetime, letter: str) -> str:
    """Code of one of the boxes."""
    return f"BOX-{day:%y%m%d}-{letter}"


def drawn(
    past: Past, asked: Asked, who: str, fills: tuple[tuple[str, int | None], ...] = ()
) -> list[str]:
    """A plain draw, for one requisition; gives the numbers of its tubes."""
    code, at, site = f"{asked.number}-draw", asked.at, asked.site
    person = patient_number(asked.patient)
    about = f"draw:{code}"
    past.add("draw_begun", about, at, who, site, patient=person, requisition=asked.number)
    past.add("identity_confirmed", about, at, who, site, identifiers=["name", "birth_date"])
    past.add("attempt_begun", f"attempt:{code}-1", at, who, site, draw=code, gauge=21,
             device="straight")  # fmt: skip
    codes = []
    for nth, (container, tests) in enumerate(asked.tubes):
        code_ = past.accession(site)
        fill, volume_ul = fills[nth] if fills else ("full", None)
        subject = f"specimen:{code_}"
        past.add("tube_scanned", subject, at, who, site, draw=code, patient=person,
                 container=container, tests=list(tests))  # fmt: skip
        said = {} if volume_ul is None else {"volume_ul": volume_ul}
        past.add("tube_filled", subject, at, who, site, fill=fill, **said)
        past.add("label_matched", subject, at, who, site, label=code_)
        codes.append(code_)
    past.add("attempt_ended", f"attempt:{code}-1", at, who, site, draw=code, success=True)
    past.add("draw_finished", about, at, who, site)
    return codes


def tray(past: Past, book: Book, now: datetime) -> None:
    """Tubes of the valley that wait to be scanned in, and one refused that nobody has phoned."""
    asked = [
        Asked(number(VALLEY, now, nth), VALLEY, 30 + nth, "Surgery 2", (tube,),
              now - timedelta(minutes=ago))
        for nth, (ago, tube, _, _) in enumerate(TRAY, start=1)
    ]  # fmt: skip
    refused = Asked(number(VALLEY, now, 20), VALLEY, 44, "Lung clinic",
                    ((GEL, ("potassium", "sodium")),), now - timedelta(minutes=95))  # fmt: skip
    book.store([*asked, refused], VALLEY)
    for each, (_, _, fill, volume_ul) in zip(asked, TRAY, strict=True):
        drawn(past, each, "mira", ((fill, volume_ul),))
    (code,) = drawn(past, refused, "mira")
    subject, at = f"specimen:{code}", now - timedelta(minutes=80)
    past.add("specimen_received", subject, at, BENCH, VALLEY)
    past.add("specimen_refused", subject, at, BENCH, VALLEY, reason="leaking",
             note="It leaks or is broken: gloves, and wipe down the rest.")  # fmt: skip


def opened(past: Past, book: Book, now: datetime) -> None:
    """A box from the pass, open at the valley; its tubes are still to be scanned out of it."""
    asked = Asked(number(PASS, now, 2), PASS, 52, "Pass post", DOWN, now - timedelta(hours=4))
    book.store([asked], PASS)
    codes = drawn(past, asked, CARRIER)
    sent, code = now - timedelta(hours=3), box(now, "W")
    for each in codes:
        past.add("specimen_boxed", f"specimen:{each}", sent - timedelta(minutes=9), CARRIER, PASS,
                 box=code)  # fmt: skip
    past.add("box_sent", f"box:{code}", sent, CARRIER, PASS, to=VALLEY, cooling="ambient",
             specimens=codes, courier="the mail van")  # fmt: skip
    past.add("box_opened", f"box:{code}", now - timedelta(minutes=6), BENCH, VALLEY)


def packing(past: Past, book: Book, now: datetime) -> None:
    """A box that is being packed at the pass."""
    asked = Asked(number(PASS, now, 3), PASS, 53, "Pass post", UP, now - timedelta(minutes=25))
    book.store([asked], PASS)
    first, *_ = drawn(past, asked, CARRIER)
    past.add("specimen_boxed", f"specimen:{first}", now - timedelta(minutes=12), CARRIER, PASS,
             box=box(now, "X"))  # fmt: skip


def log(now: datetime) -> None:
    """The logger of the opened box: warm in the sun of the pass road, cool in the gorge."""
    code, place = box(now, "W"), selectors.place_at(VALLEY)
    here, travel = here_at(place), selectors_way.travels_of(code)[0]
    begin = now - timedelta(hours=3)
    readings = tuple(
        Reading(begin + timedelta(minutes=5 * n), round(21 + 9 * math.sin(n / 5.5), 1))
        for n in range(35)
    )
    items, _ = travelled(contents_of(travel.listed, here, ""))
    made = TemperatureLog("pass-road.csv", readings)
    journey = judge_journey(made, "room", items, here.catalogue)
    boxes.box_log_keep(
        box=code,
        sent=travel.sent.id,
        log=made,
        data=code.encode(),
        condition="room",
        columns={},
        flights=journey.flights,
        edition=here.catalogue.edition,
        place=place,
        by=Person.objects.get(username=BENCH),
        now=now,
    )


def unknown(now: datetime) -> None:
    """A tube from somewhere, with a number that nobody knows."""
    receptions.stranger_keep(
        text="GORGE-0417",
        why="GORGE-0417 is not known here: keep it, and ask.",
        place=selectors.place_at(VALLEY),
        by=Person.objects.get(username=BENCH),
        now=now - timedelta(minutes=50),
    )


def told_past(now: datetime) -> None:
    """What was refused on earlier days was told on those days."""
    midnight = now.replace(hour=0, minute=0, second=0, microsecond=0)
    place = selectors.place_at(VALLEY)
    while True:
        left = [e for e in selectors_way.refusals_to_tell(place) if e.happened_at < midnight]
        if not left:
            return
        past = Past(now.date(), ZoneInfo(settings.TIME_ZONE), Random("told"))  # noqa: S311
        for event in left:
            past.add("requester_told", event.subject, event.happened_at + timedelta(minutes=40),
                     BENCH, VALLEY, told="the ward’s nurse", how="phone")  # fmt: skip
        record_by_day(past.events)
