"""
One past day of the invented clinic as events: draws, the way to the bench, what went wrong, waste.

Pure: the same day gives the same events, but for their ids.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

from cubital.accession import accession_number
from cubital.custody import Event, uuid7
from cubital.desk.demo.past_people import patient_number

VALLEY, PASS = "ostrel-valley", "ostrel-pass"
LETTERS = {VALLEY: "OL", PASS: "OP"}
COLLECTORS = {VALLEY: ("mira", "mira", "tove"), PASS: ("bero",)}
BENCH = "joren"
FIRST_SERIAL = 7001
"""Accession numbers of past days; those that the desk gives itself begin at 1."""

Tube = tuple[str, tuple[str, ...]]
"""Container and tests."""
Drawn = tuple[str, Tube, float]
"""Accession number, tube, and how likely it is to be haemolysed."""
CITRATE: dict[str, Tube] = {
    VALLEY: ("citrate-2.7-alt2000", ("pt-inr",)),
    PASS: ("citrate-2.7-alt3500", ("pt-inr",)),
}
SALTS: Tube = ("gel-5", ("sodium", "potassium", "creatinine", "urea"))
LIVER: Tube = ("gel-5", ("alt", "alp", "ggt", "bilirubin-total"))
HORMONES: Tube = ("gel-3.5", ("tsh", "ferritin"))
BLOOD: Tube = ("edta-3", ("fbc",))
SUGAR: Tube = ("fluoride-2", ("glucose",))


EASY, HARD = ("straight", 21, 23, "median_cubital"), ("winged", 23, 21, "hand_back")
"""Device, usual and other gauge, site."""
OTHER_GAUGE = 0.2
THICKEST_THIN = 21


def menus(site: str) -> tuple[tuple[Tube, ...], ...]:
    """What is asked for, in the order of draw; the first ones most often."""
    citrate = CITRATE[site]
    return (
        (SALTS, BLOOD), (SALTS, BLOOD), (LIVER, BLOOD), (SALTS, BLOOD, SUGAR), (HORMONES, BLOOD),
        (citrate, SALTS, BLOOD), (citrate, BLOOD), (LIVER, BLOOD, SUGAR), (SALTS, LIVER, BLOOD),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Asked:
    """A requisition of the day: for which of the patients, where, what, when."""

    number: str
    site: str
    patient: int
    ward: str
    tubes: tuple[Tube, ...]
    at: datetime


@dataclass(slots=True)
class Past:
    """A day under way: its events in the order in which they are recorded."""

    day: date
    zone: ZoneInfo
    random: Random
    events: list[Event] = field(default_factory=list)
    serials: dict[str, int] = field(default_factory=dict)

    def at(self, hour: int, minute: int = 0) -> datetime:
        """A moment of the day by the clock on the wall."""
        return datetime.combine(self.day, time(hour, minute), tzinfo=self.zone)

    def add(self, kind: str, subject: str, at: datetime, who: str, site: str, **said: Any) -> None:
        """One more event."""
        self.events.append(
            Event(
                id=uuid7(at, self.random.randbytes(10)),
                site=site,
                kind=kind,
                happened_at=at,
                who=who,
                device="demo",
                subject=subject,
                payload=said,
            )
        )

    def accession(self, site: str) -> str:
        """The next number of a place."""
        serial = self.serials.get(site, FIRST_SERIAL)
        self.serials[site] = serial + 1
        return accession_number(LETTERS[site], self.day, serial)

    def chance(self, share: float) -> bool:
        """Whether something that happens so often happens now."""
        return self.random.random() < share


@dataclass(slots=True)
class Chair:
    """One draw under way: who draws, with what, and the time by the clock."""

    past: Past
    asked: Asked
    who: str
    clock: datetime
    hard: bool
    thin: bool = False
    sticks: int = 1
    long: bool = False

    @property
    def code(self) -> str:
        """Of the draw."""
        return f"{self.asked.number}-draw"

    def add(self, kind: str, seconds: int, subject: str = "", **said: Any) -> None:
        """What happens so many seconds later, to the draw where nothing else is named."""
        self.clock += timedelta(seconds=seconds)
        about = subject or f"draw:{self.code}"
        self.past.add(kind, about, self.clock, self.who, self.asked.site, **said)


def draw(past: Past, asked: Asked) -> list[Drawn]:
    """
    Draw for one requisition.

    Gives the tubes with how likely each is to be haemolysed: a thin needle, a second stick, a long
    tourniquet and the way from the pass make it likelier.
    """
    who = past.random.choice(COLLECTORS[asked.site])
    chair = Chair(past, asked, who, asked.at, hard=past.chance(0.22))
    patient = patient_number(asked.patient)
    chair.add("draw_begun", 0, requisition=asked.number, patient=patient)
    said = ["name", "birth_date", "number"]
    chair.add("identity_confirmed", 20, identifiers=said, scanned=True)
    if past.chance(0.02):
        chair.add("tube_refused", 10, finding="tube-expired", container="edta-3")
    needle = needles(chair)
    if past.chance(0.012):
        ended(chair, needle, "no_flow")
        chair.add("draw_not_obtained", 30, reason="policy_reached")
        return []
    filled = fill(chair, patient)
    chair.add("attempt_ended", 6, f"attempt:{needle}", draw=chair.code, success=True)
    for number, _, _ in filled:
        chair.add("label_matched", 5, f"specimen:{number}", label=number)
    chair.add("draw_finished", 20)
    return filled


def needles(chair: Chair) -> str:
    """One needle after another until one is in; gives that one."""
    past, random, hard = chair.past, chair.past.random, chair.hard
    device, usual, other, where = HARD if hard else EASY
    gauge = other if past.chance(OTHER_GAUGE) else usual
    chair.thin = gauge > THICKEST_THIN
    chair.sticks = 1 + past.chance(0.28 if hard else 0.07) + past.chance(0.03)
    chair.long = past.chance(0.25 if hard else 0.1)
    for stick in range(1, chair.sticks + 1):
        needle = f"{chair.code}-{stick}"
        chair.add("tourniquet_on", 130 if stick > 1 else 25)
        chair.add("attempt_begun", random.randint(15, 28), f"attempt:{needle}", draw=chair.code,
                  body_site=where, side=random.choice(("left", "right")), device=device,
                  gauge=gauge)  # fmt: skip
        if stick < chair.sticks:
            ended(chair, needle, random.choice(("no_flow", "collapsed", "moved", "no_vein")))
    return needle


def ended(chair: Chair, needle: str, reason: str) -> None:
    """A needle that did not do comes out."""
    chair.add("attempt_ended", 20, f"attempt:{needle}", draw=chair.code, success=False,
              reason=reason)  # fmt: skip
    chair.add("tourniquet_off", 2)


def fill(chair: Chair, patient: str) -> list[Drawn]:
    """The tubes, one after another; now and then the last two change places."""
    past, tubes, filled = chair.past, list(chair.asked.tubes), []
    if len(tubes) > 1 and past.chance(0.02):
        tubes[-2], tubes[-1] = tubes[-1], tubes[-2]
    likely = (
        0.06
        + 0.22 * chair.thin
        + 0.07 * (chair.sticks > 1)
        + 0.06 * chair.long
        + 0.05 * (chair.asked.site == PASS)
    )
    for nth, (container, tests) in enumerate(tubes):
        number = past.accession(chair.asked.site)
        specimen = f"specimen:{number}"
        chair.add("tube_scanned", 6, specimen, draw=chair.code, patient=patient,
                  container=container, tests=list(tests))  # fmt: skip
        full = "short" if past.chance(0.02) else "full"
        chair.add("tube_filled", 15 if chair.thin else 9, specimen, fill=full)
        if nth == 0:
            chair.add("tourniquet_off", 35 if chair.long else 3)
        filled.append((number, (container, tests), likely))
    return filled


def carry(past: Past, filled: list[Drawn]) -> None:
    """A box goes down from the pass."""
    box, sent = f"BOX-{past.day:%y%m%d}", past.at(10, 45)
    if not filled:
        return
    for number, _, _ in filled:
        past.add("specimen_boxed", f"specimen:{number}", past.at(10, 30), "bero", PASS, box=box)
    past.add("box_sent", f"box:{box}", sent, "bero", PASS, to=VALLEY, cooling="cool_packs",
             specimens=[number for number, _, _ in filled])  # fmt: skip
    past.add("box_opened", f"box:{box}", past.at(12, past.random.randint(5, 50)), BENCH, VALLEY)


def receive(past: Past, filled: list[Drawn], start: datetime) -> None:
    """The valley's reception looks at tubes, and the centrifuge runs with those that may."""
    random, at, spun = past.random, start, []
    for number, (container, _), likely in filled:
        at += timedelta(seconds=random.randint(20, 55))
        subject = f"specimen:{number}"
        past.add("specimen_received", subject, at, BENCH, VALLEY)
        refused, said = verdict(past, container, likely)
        kind = "specimen_refused" if refused else "specimen_accepted"
        past.add(kind, subject, at + timedelta(seconds=15), BENCH, VALLEY, **said)
        if not refused and container.startswith(("gel", "citrate")):
            spun.append(number)
    if spun:
        run, begun = f"spin:{past.day:%y%m%d}-{len(past.events)}", at + timedelta(minutes=32)
        past.add("spin_begun", run, begun, BENCH, VALLEY, centrifuge="big", specimens=spun)
        past.add("spin_ended", run, begun + timedelta(minutes=10), BENCH, VALLEY, specimens=spun,
                 outcome="done")  # fmt: skip


def verdict(past: Past, container: str, likely: float) -> tuple[bool, Mapping[str, Any]]:
    """What the reception finds on a tube: whether it is refused, and the payload."""
    random = past.random
    if container.startswith("gel"):
        bad = past.chance(likely)
        if past.chance(0.4):
            index = random.randint(620, 3400) if bad else random.randint(20, 380)
            if index > 2000:
                return True, {"reason": "haemolysed", "haemolysis_mg_l": index}
            return False, {"haemolysis_mg_l": index}
        if bad:
            if past.chance(0.35):
                return True, {"reason": "haemolysed"}
            return False, {"remarks": ["haemolysed-remark"]}
        return False, {}
    if past.chance(0.012):
        return True, {"reason": "clotted" if container.startswith("edta") else "underfilled"}
    return (True, {"reason": "label-none"}) if past.chance(0.002) else (False, {})
