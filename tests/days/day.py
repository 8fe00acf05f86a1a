"""
A random day in the Ostrel valley, from the chair to the store, with faults put in on purpose.

Nothing here knows how the rooms work: it draws up plans, offers events, shows what arrives, and
keeps its own book of which faults it put in.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from random import Random
from typing import Any

from cubital.accession import accession_number
from cubital.catalogue import Catalogue
from cubital.custody import Event, Ordered
from cubital.draw import Place, plan_draw
from cubital.draw.values import DrawPlan, PlannedContainer
from cubital.reception import Arrival, Expected, Verdict, receive
from cubital.requisition.values import OrderedTest, Patient, Requisition
from cubital.transport import compare_box
from tests.custody.makers import BEGIN, Desk, door

TESTS = (
    ("fbc", "sodium", "potassium", "creatinine"),
    ("pt-inr", "aptt", "fbc"),
    ("glucose", "hba1c", "cholesterol", "triglycerides"),
    ("tsh", "free-t4", "ferritin"),
    ("fbc", "esr", "crp"),
    ("ldh", "alt", "ast", "bilirubin-total"),
)

ARRIVAL_FAULTS: dict[str, dict[str, Any]] = {
    "label-none": {"labels": 0},
    "label-two": {"labels": 2},
    "label-incomplete": {"label_complete": False},
    "identity-disagrees": {"identity_agrees": False},
    "wrong-material": {"material": "urine"},
    "leaking": {"leaking": True},
    "frozen-whole": {"temperature_c": -4.0},
    "underfilled": {"fill_percent": 5},
    "overfilled": {"fill_percent": 130},
    "tube-expired": {"expires_on": date(2026, 11, 1)},
    "duplicate": {"seen_before": True},
    "wrong-container": {"container": "trace-plain-6"},
    "too-old": {"late": timedelta(days=40)},
    "no-collection-time": {"forgotten": True},
    "requisition-incomplete": {"incomplete": ("the requester",)},
    "clotted": {"clot": True},
}
"""What is shown at the reception, by the rule that must find it."""

DESK_FAULTS = ("box-missing", "box-unlisted", "identity-mismatch", "sent-twice", "spun-while-spun")


@dataclass
class Day:
    """One day; run it, then look at ``desk.items`` and at the book of faults."""

    seed: int
    catalogue: Catalogue
    desk: Desk = field(default_factory=Desk)
    injected: Counter[str] = field(default_factory=Counter)
    caught: Counter[str] = field(default_factory=Counter)
    specimens: list[str] = field(default_factory=list)
    accepted: list[str] = field(default_factory=list)
    asked_again: int = 0

    def __post_init__(self) -> None:
        """A day has its own dice, its patients and their requisitions."""
        self.random = Random(self.seed)
        self.requisitions = [self._requisition(n) for n in range(self.random.randint(3, 6))]
        self.door = door()
        self.door.requisitions.update(  # type: ignore[attr-defined]
            {r.number: Ordered("valley", r.patient.number) for r in self.requisitions}
        )

    def _requisition(self, number: int) -> Requisition:
        codes = self.random.choice(TESTS)
        patient = Patient(
            f"P-{self.seed}-{number}", "Ash", "Bo", date(1950 + number * 7, 4, 12), "female", 60_000
        )
        tests = tuple(OrderedTest(code, priority=n) for n, code in enumerate(codes, start=1))
        return Requisition(f"Q-{self.seed}-{number}", patient, tests, BEGIN)

    # ---------------------------------------------------------------- events

    def tell(self, kind: str, subject: str, **payload: Any) -> Event:
        """Offer an event that must be stored; now and then the network sends it twice."""
        event = self.desk.event(kind, subject, **payload)
        (answer,) = self.desk.offer(event, door=self.door)
        assert answer.verdict == "stored", (event.kind, answer.sentence)
        if self.random.random() < 0.05:
            self.injected["sent-twice"] += 1
            (again,) = self.desk.offer(event, door=self.door)
            self.caught["sent-twice"] += again.verdict == "already"
        return event

    def refused(self, kind: str, subject: str, **payload: Any) -> bool:
        """Offer an event that must not be possible."""
        (answer,) = self.desk.offer(self.desk.event(kind, subject, **payload), door=self.door)
        return answer.verdict == "refused"

    # ---------------------------------------------------------------- the day

    def run(self) -> Day:
        """From the first patient to the last tube in the store."""
        for number, requisition in enumerate(self.requisitions):
            self._chair(number, requisition)
        self._bench()
        return self

    def _chair(self, number: int, requisition: Requisition) -> None:
        draw = f"D-{self.seed}-{number}"
        subject = f"draw:{draw}"
        self.tell("draw_begun", subject, patient=requisition.patient.number,
                  requisition=requisition.number)  # fmt: skip
        if self.random.random() < 0.08:
            self.injected["identity-mismatch"] += 1
            self.tell("identity_mismatch", subject, identifier="birth_date")
            stopped = self.refused("attempt_begun", f"attempt:{draw}", draw=draw)
            self.caught["identity-mismatch"] += stopped
            self.tell("draw_not_obtained", subject, reason="refused")
            return
        self.tell("identity_confirmed", subject, identifiers=["name", "birth_date", "number"],
                  scanned=True)  # fmt: skip
        plan = plan_draw(requisition, self.catalogue, Place(altitude_m=1900), now=BEGIN)
        self.tell("attempt_begun", f"attempt:{draw}", draw=draw, device="straight", gauge=21)
        drawn = self._tubes(draw, requisition, plan)
        self.tell("attempt_ended", f"attempt:{draw}", draw=draw, success=True)
        self.tell("draw_finished", subject)
        if self.random.random() < 0.5 and drawn:
            self._box(number, [accession for accession, _ in drawn])
        for accession, container in drawn:
            if self.desk.items[f"specimen:{accession}"].state != "missing":
                self._reception(accession, container, requisition)

    def _tubes(
        self, draw: str, requisition: Requisition, plan: DrawPlan
    ) -> list[tuple[str, PlannedContainer]]:
        drawn = []
        for container in plan.containers:
            if not container.label_wanted:
                continue
            accession = accession_number("OL", BEGIN.date(), len(self.specimens) + 1)
            self.specimens.append(accession)
            specimen = f"specimen:{accession}"
            self.tell("tube_scanned", specimen, draw=draw, patient=requisition.patient.number,
                      requisition=requisition.number, container=container.container,
                      position=container.position)  # fmt: skip
            self.tell("tube_filled", specimen, fill="full")
            self.tell("label_matched", specimen, label=accession)
            drawn.append((accession, container))
        return drawn

    def _box(self, number: int, listed: list[str]) -> None:
        """Some go by box; a tube may be forgotten, and a stranger may lie in it."""
        box = f"B-{self.seed}-{number}"
        for accession in listed:
            self.tell("specimen_boxed", f"specimen:{accession}", box=box)
        self.tell("box_sent", f"box:{box}", to="pass", specimens=listed, cooling="ambient")
        self.tell("box_opened", f"box:{box}", site="pass")
        found = list(listed)
        expected: Counter[str] = Counter()
        if self.random.random() < 0.3:
            found.remove(self.random.choice(found))
            expected["box-missing"] += 1
        if self.random.random() < 0.3:
            found.append("OL2611259999X")
            expected["box-unlisted"] += 1
        told = Counter(finding.code for finding in compare_box(listed, found))
        self.injected += expected
        self.caught += told & expected
        for accession in set(listed) - set(found):
            self.tell("specimen_missing", f"specimen:{accession}", site="pass")

    def _reception(
        self, accession: str, container: PlannedContainer, requisition: Requisition
    ) -> None:
        item = self.desk.items[f"specimen:{accession}"]
        site = item.bound_for or item.site
        fault = self._fault(container)
        shown = dict(ARRIVAL_FAULTS.get(fault, {}))
        late = shown.pop("late", timedelta(minutes=20))
        forgotten = shown.pop("forgotten", False)
        incomplete = shown.pop("incomplete", ())
        known = Expected(
            accession=accession,
            requisition=requisition.number,
            material="blood",
            container=container.container,
            tests=tuple(
                t for t in requisition.tests if t.code in {p.code for p in container.tests}
            ),
            collected_at=None if forgotten else BEGIN,
            incomplete=incomplete,
        )
        arrived = BEGIN + late
        verdict = self._judge(Arrival(accession, arrived, **shown), known, requisition, arrived)
        if fault:
            self.injected[fault] += 1
            self.caught[fault] += fault in {f.code for f in verdict.findings}
        self.tell("specimen_received", f"specimen:{accession}", site=site)
        if str(verdict.outcome) == "refused":
            self._refuse(accession, verdict, site)
        elif site == "valley":
            decided = {"decided_by": "ilan"} if str(verdict.outcome) == "to_be_decided" else {}
            self.tell("specimen_accepted", f"specimen:{accession}", who="ilan", **decided)
            self.accepted.append(accession)

    def _fault(self, container: PlannedContainer) -> str:
        """One fault for every third tube; a clot only where none may be, a fill only in citrate."""
        if self.random.random() > 0.35:
            return ""
        fault = self.random.choice(sorted(ARRIVAL_FAULTS))
        yields = self.catalogue.additives[container.additive].yields
        if fault == "clotted" and yields == "serum":
            return ""
        return fault

    def _judge(
        self, seen: Arrival, known: Expected, requisition: Requisition, now: datetime
    ) -> Verdict:
        return receive(seen, known, requisition, self.catalogue, Place(altitude_m=1900), now=now)

    def _refuse(self, accession: str, verdict: Verdict, site: str) -> None:
        specimen = f"specimen:{accession}"
        reason = verdict.findings[0].code
        self.tell("specimen_refused", specimen, site=site, who="ilan", reason=reason,
                  tests=list(verdict.recollect))  # fmt: skip
        self.tell("recollection_asked", specimen, site=site, who="ilan", reason=reason,
                  tests=list(verdict.recollect))  # fmt: skip
        self.asked_again += 1
        self.tell("specimen_discarded", specimen, site=site, who="ilan", stream="plastic")

    def _bench(self) -> None:
        """Spun in one run, which may break off; divided, stored, some thrown away."""
        if not self.accepted:
            return
        run = f"S-{self.seed}"
        going = {"centrifuge": "c1", "specimens": list(self.accepted), "who": "ilan"}
        self.tell("spin_begun", f"spin:{run}", **going)
        self.injected["spun-while-spun"] += 1
        twice = self.refused("spin_begun", f"spin:{run}-x", **going)
        self.caught["spun-while-spun"] += twice
        outcome = "broken_off" if self.random.random() < 0.3 else "done"
        self.tell("spin_ended", f"spin:{run}", specimens=list(self.accepted), outcome=outcome,
                  who="ilan")  # fmt: skip
        if outcome == "broken_off":
            self.tell("spin_begun", f"spin:{run}-2", **going)
            self.tell("spin_ended", f"spin:{run}-2", specimens=list(self.accepted),
                      outcome="done", who="ilan")  # fmt: skip
        for accession in self.accepted:
            self._put_away(accession)

    def _put_away(self, accession: str) -> None:
        specimen = f"specimen:{accession}"
        if self.random.random() < 0.3:
            portion = accession_number("OL", BEGIN.date(), 5000 + len(self.specimens))
            self.specimens.append(portion)
            parent = self.desk.items[specimen]
            self.tell("aliquot_made", f"specimen:{portion}", parent=accession, material="serum",
                      patient=parent.patient, volume_ul=500, who="ilan")  # fmt: skip
            self.tell("specimen_stored", f"specimen:{portion}", storage="fridge-1", who="ilan")
        if self.random.random() < 0.5:
            self.tell("specimen_stored", specimen, storage="rack-7", who="ilan")
        elif self.random.random() < 0.5:
            self.tell("specimen_discarded", specimen, stream="plastic", who="ilan")
