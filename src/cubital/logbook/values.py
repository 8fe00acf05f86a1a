"""What the logbook holds: entries, follow-ups, needle sticks of a patient, waste."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta


@dataclass(frozen=True, slots=True)
class FollowUp:
    """
    Something due after an incident.

    Args:
        incident: its code.
        code: of ``follow_ups.csv``, or of the event that asked for it.
        sentence: what to do.
        best_from, until: when.
        owner: who does it, "" for nobody yet.
        done_at: None while open.
        source: key of the source, "" where a person asked for it.
    """

    incident: str
    code: str
    sentence: str
    best_from: datetime
    until: datetime
    owner: str = ""
    done_at: datetime | None = None
    source: str = ""

    def overdue(self, now: datetime) -> bool:
        """Whether it is open and its time has passed."""
        return self.done_at is None and now > self.until


@dataclass(frozen=True, slots=True)
class Entry:
    """
    One line of the logbook.

    Args:
        event: id of the event that wrote it.
        at: when it happened.
        site: where.
        who: who wrote it.
        heading: of ``log_kinds.csv``.
        what: in words.
        code: of the mishap, rule or reason, "" when none.
        subject: what it happened to.
        patient, requisition: where known.
        people: others concerned.
        note: free words.
        follow_ups: what is due.
        actions: what was done, in order.
        closed: whether nothing is left to do.
    """

    event: str
    at: datetime
    site: str
    who: str
    heading: str
    what: str
    code: str
    subject: str
    patient: str = ""
    requisition: str = ""
    people: tuple[str, ...] = ()
    note: str = ""
    follow_ups: tuple[FollowUp, ...] = ()
    actions: tuple[str, ...] = ()
    closed: bool = True


@dataclass(frozen=True, slots=True)
class Sticks:
    """The needle sticks of one patient in one draw: what many laboratories keep by hand."""

    day: date
    draw: str
    patient: str
    requisition: str
    attempts: int
    obtained: bool
    collectors: tuple[str, ...]
    sites: tuple[str, ...]
    reasons: tuple[str, ...]
    tourniquet: timedelta | None

    @property
    def multiple(self) -> bool:
        """Whether the patient was pricked more than once."""
        return self.attempts > 1


@dataclass(frozen=True, slots=True)
class Bag:
    """A waste bag or sharps container from its opening to the hand-over."""

    code: str
    scheme: str
    stream: str
    opened_at: datetime
    opened_by: str
    fill_percent: int = 0
    closed_at: datetime | None = None
    weight_g: int | None = None
    handed_over_at: datetime | None = None
    handed_to: str = ""
