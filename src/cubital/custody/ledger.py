"""
Events offered to the record, and the answer to each: stored, already there, or refused.

Pure: the shell loads what :class:`Known` holds, calls :func:`take`, and writes what
:class:`Taken` says, in one transaction.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from cubital.custody.chain import Head, Recorded, head_after, seal
from cubital.custody.door import Door, check_between
from cubital.custody.event import Event, content
from cubital.custody.fold import Items, changes
from cubital.custody.items import Item
from cubital.custody.kinds import MENDING, touched
from cubital.custody.mending import Mended, mend
from cubital.errors import EventRefused


class Verdict(StrEnum):
    """What became of an offered event."""

    STORED = "stored"
    ALREADY = "already"
    """The same event was stored before; nothing more was done."""
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class Offer:
    """An event, and who is signed in where it comes from."""

    event: Event
    sent_by: str


@dataclass(frozen=True, slots=True)
class Answer:
    """
    What became of one event.

    Args:
        id: of the event.
        verdict: stored, already or refused.
        sentence: why it was refused, else "".
        sequence: its place in the site's chain, 0 when refused.
    """

    id: str
    verdict: Verdict
    sentence: str = ""
    sequence: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """
    What the record holds that the offered events depend on.

    Args:
        door: of the desk.
        heads: the end of each site's chain.
        stored: records whose id is that of an offered event.
        items: that the events touch or look at.
        past: for mending events only: see :func:`cubital.custody.mending.mend`.
    """

    door: Door
    heads: Mapping[str, Head] = field(default_factory=dict)
    stored: Mapping[str, Recorded] = field(default_factory=dict)
    items: Items = field(default_factory=dict)
    past: Sequence[Recorded] = ()


@dataclass(frozen=True, slots=True)
class Taken:
    """
    What is to be written.

    Args:
        answers: one an offer, in the same order.
        records: new records in the order of the chains.
        items: that changed, as they stand now; None when one is no longer there.
        heads: that moved.
        touched: every subject that a new record touches, by the id of its event.
    """

    answers: tuple[Answer, ...]
    records: tuple[Recorded, ...]
    items: Mapping[str, Item | None]
    heads: Mapping[str, Head]
    touched: Mapping[str, tuple[str, ...]]


def take(offers: Sequence[Offer], known: Known) -> Taken:
    """
    Judge offered events one after another, each in the light of those before it.

    Mending events that stand side by side are judged together: all are stored, or none.
    """
    desk = _Desk(known)
    answers: list[Answer] = []
    at = 0
    while at < len(offers):
        upto = at + 1
        if offers[at].event.kind in MENDING:
            while upto < len(offers) and offers[upto].event.kind in MENDING:
                upto += 1
            answers += desk.take_mending(offers[at:upto])
        else:
            answers.append(desk.take_one(offers[at]))
        at = upto
    return Taken(tuple(answers), tuple(desk.records), desk.changed, desk.moved, desk.touched)


class _Desk:
    """The state of one call of :func:`take`."""

    def __init__(self, known: Known) -> None:
        self.known = known
        self.items = dict(known.items)
        self.stored = dict(known.stored)
        self.records: list[Recorded] = []
        self.changed: dict[str, Item | None] = {}
        self.moved: dict[str, Head] = {}
        self.touched: dict[str, tuple[str, ...]] = {}

    def take_one(self, offer: Offer) -> Answer:
        """Judge an event that mends nothing."""
        event = offer.event
        try:
            before = self.seen(event)
            if before is not None:
                return before
            self.known.door.check(event, offer.sent_by)
            check_between(event, self.items)
            after = changes(self.items, event)
        except EventRefused as error:
            return Answer(event.id, Verdict.REFUSED, str(error))
        self.items.update(after)
        self.changed.update(after)
        self.touched[event.id] = touched(event)
        return self.write(offer)

    def take_mending(self, offers: Sequence[Offer]) -> list[Answer]:
        """Judge mending events together."""
        answers: dict[int, Answer] = {}
        fresh: list[Offer] = []
        try:
            for n, offer in enumerate(offers):
                before = self.seen(offer.event)
                if before is not None:
                    answers[n] = before
                else:
                    self.known.door.check(offer.event, offer.sent_by)
                    fresh.append(offer)
            result: Mended = mend(
                [offer.event for offer in fresh],
                self.known.past,
                self.items,
                self.known.door,
                {offer.event.id: offer.sent_by for offer in fresh},
            )
        except EventRefused as error:
            return [
                answers.get(n) or Answer(offer.event.id, Verdict.REFUSED, str(error))
                for n, offer in enumerate(offers)
            ]
        self.touched.update(result.touched)
        for subject, item in result.items.items():
            self.changed[subject] = item
            if item is None:
                self.items.pop(subject, None)
            else:
                self.items[subject] = item
        return [answers.get(n) or self.write(offer) for n, offer in enumerate(offers)]

    def seen(self, event: Event) -> Answer | None:
        """
        Answer an event whose id is in the record, None when it is not.

        Raises:
            EventRefused: the record holds other content under this id.
        """
        before = self.stored.get(event.id)
        if before is None:
            return None
        if content(before.event) != content(event):
            raise EventRefused(
                "The record holds another event under this id; an event never changes."
                " Send a correction with an id of its own."
            )
        return Answer(event.id, Verdict.ALREADY, "", before.sequence)

    def write(self, offer: Offer) -> Answer:
        """Put an event at the end of its chain."""
        site = offer.event.site
        head = self.moved.get(site) or self.known.heads.get(site) or Head(site)
        record = seal(offer.event, head, recorded_at=self.known.door.now, sent_by=offer.sent_by)
        self.moved[site] = head_after(record)
        self.stored[record.event.id] = record
        self.records.append(record)
        return Answer(record.event.id, Verdict.STORED, "", record.sequence)
