"""
The chain of a site: each record holds the hash of the one before it.

``hash = SHA-256(previous hash + canonical bytes)``, where the previous hash is its 32 raw bytes
(32 zeros before the first) and the canonical bytes are those of the event's JSON shape with
``format``, ``sequence``, ``recorded_at`` and ``sent_by`` beside its own fields.  A changed,
missing, added or moved record breaks the chain at that record; the head kept beside the chain shows
whether its end was cut off.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256

from cubital.custody.canonical import canonical
from cubital.custody.event import Event, event_to, time_to
from cubital.errors import InputError

FORMAT = "cubital.event/1"
NO_HASH = "0" * 64


@dataclass(frozen=True, slots=True)
class Head:
    """The end of a site's chain: how many records, and the hash of the last."""

    site: str
    sequence: int = 0
    hash: str = NO_HASH


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """
    An event at its place in the chain.

    Args:
        event: what the sender said.
        recorded_at: when the record took it.
        sent_by: who was signed in where it came from (``who`` of an event from an outbox may be
            a colleague on the same tablet).
        sequence: 1 is the first of the site.
        previous: hash of the record before, in hexadecimal.
        hash: of this record.
    """

    event: Event
    recorded_at: datetime
    sent_by: str
    sequence: int
    previous: str
    hash: str


@dataclass(frozen=True, slots=True)
class Unreadable:
    """A stored record that cannot even be read as one: its id and place as far as they show."""

    id: str
    sequence: int
    why: str


@dataclass(frozen=True, slots=True)
class ChainReport:
    """
    What a walk along a site's chain found.

    Args:
        site: whose chain.
        count: records that hold, from the first on.
        event: id of the first that does not hold, "" when all do.
        sequence: its place.
        sentence: what is wrong with it, "" when nothing.
    """

    site: str
    count: int
    event: str = ""
    sequence: int = 0
    sentence: str = ""

    @property
    def holds(self) -> bool:
        """Whether every record is as it was written."""
        return not self.sentence


def seal(event: Event, head: Head, *, recorded_at: datetime, sent_by: str) -> Recorded:
    """Put an event at the end of its site's chain."""
    sequence = head.sequence + 1
    return Recorded(
        event=event,
        recorded_at=recorded_at,
        sent_by=sent_by,
        sequence=sequence,
        previous=head.hash,
        hash=link(event, recorded_at, sent_by, sequence, head.hash),
    )


def link(event: Event, recorded_at: datetime, sent_by: str, sequence: int, previous: str) -> str:
    """
    Compute the hash of a record.

    Raises:
        ValueError: ``previous`` is no hash, or the payload has no canonical form.
    """
    shape = event_to(event)
    shape["format"] = FORMAT
    shape["recorded_at"] = time_to(recorded_at)
    shape["sent_by"] = sent_by
    shape["sequence"] = sequence
    return sha256(bytes.fromhex(previous) + canonical(shape)).hexdigest()


def head_after(record: Recorded) -> Head:
    """The head of the chain that ends with this record."""
    return Head(record.event.site, record.sequence, record.hash)


def verify_chain(
    site: str, records: Iterable[Recorded | Unreadable], head: Head | None = None
) -> ChainReport:
    """
    Walk a chain and name the first record that does not hold.

    Args:
        site: whose chain.
        records: in the order of their sequence.
        head: as kept beside the chain; None when none is kept.
    """
    end = Head(site)
    for record in records:
        wrong = _wrong(record, end)
        if wrong:
            name = record.id if isinstance(record, Unreadable) else record.event.id
            return ChainReport(site, end.sequence, name, record.sequence, wrong)
        assert isinstance(record, Recorded)
        end = head_after(record)
    if head is not None and head != end:
        return ChainReport(site, end.sequence, "", end.sequence + 1, _cut(head, end))
    return ChainReport(site, end.sequence)


def _wrong(record: Recorded | Unreadable, end: Head) -> str:
    """Say what is wrong with a record that follows ``end``, "" when nothing is."""
    if isinstance(record, Unreadable):
        return record.why
    if record.event.site != end.site:
        return f"It stands in the chain of {end.site} but names the site {record.event.site}."
    if record.sequence != end.sequence + 1:
        return f"It has number {record.sequence}, but number {end.sequence + 1} should follow."
    if record.previous != end.hash:
        return "It does not follow on the record before it."
    try:
        expected = link(
            record.event, record.recorded_at, record.sent_by, record.sequence, record.previous
        )
    except InputError as error:
        return f"Its payload cannot be written in the canonical form: {error}"
    return "" if record.hash == expected else "It is not as it was written: its hash differs."


def _cut(head: Head, end: Head) -> str:
    """Say how the head and the end of the chain disagree."""
    if head.sequence > end.sequence:
        return (
            f"The chain ends at number {end.sequence}, but {head.sequence} records were written:"
            " its end is missing."
        )
    return f"The head of the chain (number {head.sequence}) is not its last record."
