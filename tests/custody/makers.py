"""A small desk in the Ostrel valley, and events made one after another."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

from cubital.custody import Answer, Door, Event, Head, Item, Known, Offer, Ordered, Recorded, take
from cubital.custody.door import wanted
from cubital.custody.fold import replaced
from cubital.custody.kinds import touched
from cubital.custody.uuid7 import uuid7

BEGIN = datetime(2026, 11, 25, 7, 0, tzinfo=UTC)
NOW = BEGIN + timedelta(days=1)
ROLES = {"mira": "collector", "tove": "collector", "ilan": "bench", "vera": "quality"}


def door(now: datetime = NOW, ahead: timedelta = timedelta(minutes=2)) -> Door:
    """The valley's laboratory and the pass post, with four people and two requisitions."""
    return Door(
        now=now,
        ahead=ahead,
        sites=frozenset({"valley", "pass"}),
        roles=ROLES,
        requisitions={"R-1": Ordered("valley", "P-1"), "R-2": Ordered("pass", "P-2")},
    )


class Desk:
    """A record in memory: offers go in, answers come out, and what is stored stays to look at."""

    def __init__(self) -> None:
        self.records: list[Recorded] = []
        self.items: dict[str, Item] = {}
        self.heads: dict[str, Head] = {}
        self.made = 0

    def event(self, kind: str, subject: str, *, site: str = "valley", who: str = "mira",
              corrects: str | None = None, **payload: Any) -> Event:  # fmt: skip
        """One more event, five seconds after the one before."""
        self.made += 1
        at = BEGIN + timedelta(seconds=5 * self.made)
        return Event(
            id=uuid7(at, self.made.to_bytes(10, "big")),
            site=site,
            kind=kind,
            happened_at=at,
            who=who,
            device="tablet-1",
            subject=subject,
            payload=payload,
            corrects=corrects,
        )

    def offer(self, *events: Event, sent_by: str = "", door: Door | None = None) -> list[Answer]:
        """Offer events as one step and keep what is taken."""
        offers = [Offer(event, sent_by or event.who) for event in events]
        taken = take(offers, self.known(events, door))
        self.records += taken.records
        self.heads |= taken.heads
        for subject, item in taken.items.items():
            if item is None:
                self.items.pop(subject, None)
            else:
                self.items[subject] = item
        return list(taken.answers)

    def known(self, events: Sequence[Event], at: Door | None = None) -> Known:
        """What the shell would load: of the items only those that these events look at."""
        ids = {event.id for event in events}
        items: dict[str, Item] = {}
        for event in events:
            items |= self.only_needed(event)
        return Known(
            door=at or door(),
            heads=self.heads,
            stored={r.event.id: r for r in self.records if r.event.id in ids},
            items=items,
            past=self.records,
        )

    def only_needed(self, event: Event) -> dict[str, Item]:
        """The items that the shell would load for one event."""
        what = self.mended(event)
        first = {s: self.items[s] for s in touched(what) if s in self.items}
        more = {s: self.items[s] for s in wanted(what, first) if s in self.items}
        return first | more

    def mended(self, event: Event) -> Event:
        """A correction looks at what the corrected event touches."""
        if event.kind != "event_corrected":
            return event
        original = next((r.event for r in self.records if r.event.id == event.corrects), event)
        return replaced(original, event) or event

    def happen(self, kind: str, subject: str, **more: Any) -> Event:
        """Offer one event that must be taken."""
        event = self.event(kind, subject, **more)
        (answer,) = self.offer(event)
        assert answer.verdict == "stored", answer.sentence
        return event

    def refused(self, kind: str, subject: str, **more: Any) -> str:
        """Offer one event that must be refused; gives the sentence."""
        (answer,) = self.offer(self.event(kind, subject, **more))
        assert answer.verdict == "refused", answer
        return answer.sentence


def begun(desk: Desk) -> None:
    """Draw D-1 has begun, the patient is known, and a needle is in."""
    desk.happen("draw_begun", "draw:D-1", patient="P-1", requisition="R-1")
    desk.happen("identity_confirmed", "draw:D-1", identifiers=["name", "birth_date"], scanned=True)
    desk.happen("attempt_begun", "attempt:A-1", draw="D-1", device="straight", gauge=21)


def tube(desk: Desk, code: str, fill: str = "full") -> None:
    """One tube is scanned, filled and labelled."""
    subject = f"specimen:{code}"
    desk.happen("tube_scanned", subject, draw="D-1", patient="P-1", container="edta-30")
    desk.happen("tube_filled", subject, fill=fill)
    if fill != "none":
        desk.happen("label_matched", subject, label=code)


def drawn(desk: Desk, *codes: str) -> None:
    """A whole draw with these tubes."""
    begun(desk)
    for code in codes:
        tube(desk, code)
    desk.happen("attempt_ended", "attempt:A-1", draw="D-1", success=True)
    desk.happen("draw_finished", "draw:D-1")


def accepted(desk: Desk, *codes: str) -> None:
    """A draw whose tubes have been received and accepted."""
    drawn(desk, *codes)
    for code in codes:
        desk.happen("specimen_received", f"specimen:{code}", who="ilan")
        desk.happen("specimen_accepted", f"specimen:{code}", who="ilan")
