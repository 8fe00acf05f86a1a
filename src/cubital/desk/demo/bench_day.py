"""
The bench of the invented clinic today: tubes that clot, wait, run and were spun; and its stores.

Pure invention, as if the events had come in as they happened; nobody in it is real.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, time, timedelta
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings

from cubital.custody import Offer, Specimen, State
from cubital.desk.bench.facts import facts_of
from cubital.desk.demo.past import Book, record_by_day
from cubital.desk.demo.past_day import BENCH, LETTERS, PASS, VALLEY, Asked, Past, Tube, draw
from cubital.desk.record import selectors, selectors_bench
from cubital.desk.record.events import append_offers

GEL, EDTA, CITRATE, SUGAR, PLAIN = "gel-5", "edta-3", "citrate-2.7-alt2000", "fluoride-2", "plain-4"
MORNING: tuple[tuple[int, tuple[Tube, ...]], ...] = (
    (118, ((GEL, ("tsh", "hiv-ag-ab", "protein-electrophoresis", "sodium")), (EDTA, ("fbc",)))),
    (112, ((GEL, ("ferritin", "vitamin-b12", "hbsag")),)),
    (74, ((CITRATE, ("pt-inr", "aptt")), (GEL, ("sodium", "creatinine", "tsh")))),
    (66, ((GEL, ("alt", "alp", "ggt")), (SUGAR, ("glucose",)))),
    (58, ((CITRATE, ("pt-inr",)), (EDTA, ("fbc",)))),
    (47, ((GEL, ("potassium", "sodium", "urea")), (EDTA, ("fbc",)))),
    (38, ((PLAIN, ("digoxin",)), (GEL, ("creatinine", "tsh")))),
    (24, ((GEL, ("potassium", "crp")), (SUGAR, ("glucose",)))),
    (16, ((GEL, ("sodium", "ferritin")), (CITRATE, ("d-dimer",)))),
)
"""Minutes ago, and tubes; the first two draws are spun already, the next two run."""
FROM_THE_PASS: tuple[Tube, ...] = ((GEL, ("sodium", "creatinine")), (EDTA, ("fbc",)))
TO_THE_BENCH = timedelta(minutes=9)
SHELVES = {"gel": ("FR-A", "fridge"), "edta": ("FR-B", "fridge"), "": ("RK-1", "room")}
KEPT = timedelta(days=8)


def bench_fill(*, now: datetime) -> bool:
    """
    Put away what past days left at the bench, and bring this morning's tubes there; once a day.

    Args:
        now: of the demo, whose people, places and past are there already.

    Returns:
        Whether this morning's tubes were not there yet.
    """
    zone = ZoneInfo(settings.TIME_ZONE)
    here = now.astimezone(zone)
    first = number(VALLEY, here, 1)
    if selectors.requisition_by_number(first) is not None:
        return False
    put_away_past(here)
    past = Past(here.date(), zone, Random(f"bench {here.date()}"))  # noqa: S311 - invented
    book = Book(zone, here.date(), here.date())
    morning(past, book, here)
    from_the_pass(past, book, here)
    events = sorted(past.events, key=lambda event: event.happened_at)
    append_offers([[Offer(event, event.who) for event in events]], now=now)
    return True


def number(site: str, day: datetime, nth: int) -> str:
    """Of one of this morning's requisitions."""
    return f"{LETTERS[site]}-{day:%y%m%d}-B{nth:02d}"


def morning(past: Past, book: Book, now: datetime) -> None:
    """Draws of this morning, accepted at the bench; two spun, two in the rotor."""
    asked = [
        Asked(number(VALLEY, now, nth), VALLEY, 4 + nth, "Walk-in", tubes,
              now - timedelta(minutes=ago))
        for nth, (ago, tubes) in enumerate(MORNING, start=1)
    ]  # fmt: skip
    book.store(asked, VALLEY)
    drawn = [draw(past, each) for each in asked]
    for each, tubes in zip(asked, drawn, strict=True):
        at = each.at + TO_THE_BENCH
        for code, _, _ in tubes:
            past.add("specimen_received", f"specimen:{code}", at, BENCH, VALLEY)
            past.add("specimen_accepted", f"specimen:{code}", at, BENCH, VALLEY)
    spun = [code for tubes in drawn[:2] for code, tube, _ in tubes if tube[0] == GEL]
    running = [code for tubes in drawn[2:4] for code, tube, _ in tubes if tube[0] == GEL]
    run(past, now, "B1", spun, begun=now - timedelta(minutes=55), over=True)
    run(past, now, "B2", running, begun=now - timedelta(minutes=4), over=False)


def run(
    past: Past, now: datetime, name: str, codes: Sequence[str], *, begun: datetime, over: bool
) -> None:
    """A run of the big centrifuge, its tubes across from one another."""
    if not codes:
        return
    subject = f"spin:R{LETTERS[VALLEY]}{now:%y%m%d}{name}"
    places = [1, 13, 2, 14][: len(codes)]
    balance = [13] if len(codes) == 1 else []
    said: dict[str, Any] = {"balance": balance} if balance else {}
    past.add("spin_begun", subject, begun, BENCH, VALLEY, centrifuge="big", specimens=list(codes),
             programme="serum", rcf_g=2008, speed_rpm=3250, seconds=600, places=places,
             **said)  # fmt: skip
    if over:
        past.add("spin_ended", subject, begun + timedelta(minutes=12), BENCH, VALLEY,
                 specimens=list(codes), outcome="done")  # fmt: skip


def from_the_pass(past: Past, book: Book, now: datetime) -> None:
    """A box that has left the pass and is on its way."""
    asked = Asked(number(PASS, now, 1), PASS, 21, "Pass post", FROM_THE_PASS,
                  now - timedelta(minutes=63))  # fmt: skip
    book.store([asked], PASS)
    codes = [code for code, _, _ in draw(past, asked)]
    box, sent = f"BOX-{now:%y%m%d}-B", now - timedelta(minutes=25)
    for code in codes:
        past.add("specimen_boxed", f"specimen:{code}", sent - timedelta(minutes=4), "bero", PASS,
                 box=box)  # fmt: skip
    if codes:
        past.add("box_sent", f"box:{box}", sent, "bero", PASS, to=VALLEY, cooling="cool_packs",
                 specimens=codes, courier="the mail van")  # fmt: skip


def put_away_past(now: datetime) -> None:
    """What earlier days left at the bench was measured, put away, and thrown away in time."""
    midnight = datetime.combine(now.date(), time.min, tzinfo=now.tzinfo)
    place = selectors.place_at(VALLEY)
    states = (State.ACCEPTED, State.SPUN)
    left = [
        one for one in selectors_bench.specimens_at(place, *states) if one.changed_at < midnight
    ]
    past = Past(now.date(), ZoneInfo(settings.TIME_ZONE), Random("stores"))  # noqa: S311 - invented
    put_away(past, left, now)
    record_by_day(past.events)


def put_away(past: Past, specimens: Iterable[Specimen], now: datetime) -> None:
    """The events that put these away, each on the evening of its own day."""
    several = list(specimens)
    events = selectors_bench.events_by_subject(f"specimen:{one.code}" for one in several)
    for one in several:
        subject = f"specimen:{one.code}"
        day = one.changed_at.astimezone(now.tzinfo)
        evening = max(day, day.replace(hour=16, minute=0, second=0, microsecond=0))
        if evening > now:
            continue
        tests = facts_of(one.code, events[subject]).named
        if tests:
            past.add("tests_done", subject, evening, BENCH, VALLEY, tests=list(tests))
        shelf, condition = SHELVES.get(one.container.partition("-")[0], SHELVES[""])
        past.add("specimen_stored", subject, evening, BENCH, VALLEY, storage=shelf,
                 condition=condition)  # fmt: skip
        if evening + KEPT < now:
            past.add("specimen_discarded", subject, evening + KEPT, BENCH, VALLEY,
                     stream="plastic")  # fmt: skip
