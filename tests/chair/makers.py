"""A sheet of four tubes and the events of its draw, for the chair's tests."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from cubital.chair.values import Policy, Question, Sheet, StockCode, Tube
from cubital.custody.event import Event
from cubital.custody.uuid7 import uuid7

BEGIN = datetime(2026, 11, 25, 7, 0, tzinfo=UTC)
NUMBERS = ("OL2611250041S", "OL2611250042Q", "OL2611250043O", "OL2611250044M")


def policy(labels: str = "before", attempts: int = 2) -> Policy:
    """The usual policy: three identifiers, a minute of tourniquet, less for coagulation."""
    return Policy(
        identifiers=3,
        attempts=attempts,
        tourniquet=timedelta(seconds=60),
        tourniquet_coagulation=timedelta(seconds=45),
        tourniquet_warning=timedelta(seconds=15),
        labels=labels,
        sources=(("attempts_per_collector", "who"), ("tourniquet_max_s", "who")),
    )


def tube(position: int, container: str, *, coagulation: bool = False) -> Tube:
    """A tube at its place."""
    return Tube(
        accession=NUMBERS[position - 1],
        position=position,
        container=container,
        additive=container.rsplit("-", 1)[0],
        shown=container.replace("-", " "),
        colour="lavender",
        coagulation=coagulation,
        fill_ul=2700,
        fill_min_ul=2430,
        tests=("fbc",),
    )


def sheet(labels: str = "before", attempts: int = 2, *, coagulation: bool = True) -> Sheet:
    """Citrate, serum, EDTA, fluoride; one lot of each on hand, one expired, one recalled."""
    tubes = (
        tube(1, "citrate-27", coagulation=coagulation),
        tube(2, "serum-50"),
        tube(3, "edta-30"),
        tube(4, "fluoride-20"),
    )
    good = tuple(
        StockCode(f"{t.container}:A{t.position}", t.container, t.shown, f"A{t.position}",
                  date(2027, 6, 30))
        for t in tubes
    )  # fmt: skip
    bad = (
        StockCode("edta-30:OLD", "edta-30", "edta 30", "OLD", date(2026, 11, 24)),
        StockCode("edta-30:REC", "edta-30", "edta 30", "REC", date(2027, 6, 30), recalled=True),
        StockCode("heparin-40:H1", "heparin-40", "heparin 40", "H1", date(2027, 6, 30)),
    )
    return Sheet(
        draw="d-1",
        site="valley",
        requisition="R-1",
        patient="104233",
        name="Ash, Bo",
        scans=("104233", "R-1"),
        questions=(
            Question("name", "What is your full name?", "Ash, Bo"),
            Question("birth_date", "When were you born?", "12 April 1961"),
            Question("number", "What number is on your card or band?", "104233"),
        ),
        tubes=tubes,
        stock=(*good, *bad),
        others=(("OL2611250099Z", "Ash, Bea, requisition R-2"),),
        policy=policy(labels, attempts),
        plan_edition="test",
        today=date(2026, 11, 25),
    )


class Story:
    """Events of one draw, one after another, ``seconds`` apart."""

    def __init__(self, who: str = "mira", seconds: int = 5) -> None:
        self.who = who
        self.at = BEGIN
        self.seconds = seconds
        self.events: list[Event] = []

    def add(self, kind: str, subject: str = "draw:d-1", **payload: object) -> Story:
        """One more event."""
        self.at += timedelta(seconds=self.seconds)
        number = len(self.events)
        self.events.append(
            Event(
                id=uuid7(self.at, number.to_bytes(10, "big")),
                site="valley",
                kind=kind,
                happened_at=self.at,
                who=self.who,
                subject=subject,
                payload=payload,  # type: ignore[arg-type]
            )
        )
        return self

    def identified(self) -> Story:
        """Scanned, and every identifier said."""
        self.add("identity_confirmed", identifiers=["scan"], scanned=True)
        for code in ("name", "birth_date", "number"):
            self.add("identity_confirmed", identifiers=[code])
        return self

    def needle(self, code: str = "a-1") -> Story:
        """A new needle goes in."""
        return self.add("attempt_begun", f"attempt:{code}", draw="d-1")

    def failed(self, code: str = "a-1", reason: str = "no_vein") -> Story:
        """The needle comes out without blood."""
        return self.add(
            "attempt_ended", f"attempt:{code}", draw="d-1", success=False, reason=reason
        )

    def tubes(self, sheet: Sheet, *positions: int) -> Story:
        """Tubes scanned, with their labels where labels come before."""
        for position in positions:
            each = sheet.tubes[position - 1]
            subject = f"specimen:{each.accession}"
            self.add("tube_scanned", subject, draw="d-1", patient="104233",
                     container=each.container, position=position)  # fmt: skip
            if sheet.policy.labels == "before":
                self.add("label_matched", subject, label=each.accession)
        return self
