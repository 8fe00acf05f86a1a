"""
What the events add up to.

Where each specimen is and how it stands, and the same of draws, attempts, boxes, centrifuge runs
and incidents.  Each is folded out of the events that touch it and nothing else, so that it can be
made again from them at any time, alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import TypeAlias

from cubital.custody.waste import Waste


class State(StrEnum):
    """Where a specimen stands on its way; it is in exactly one of these."""

    PLANNED = "planned"
    """Container in hand, no blood in it yet."""
    EMPTY = "empty"
    """Tried, and no blood came."""
    DRAWN = "drawn"
    LABELLED = "labelled"
    BOXED = "boxed"
    IN_TRANSIT = "in_transit"
    MISSING = "missing"
    """Listed in a box, not found in it."""
    RECEIVED = "received"
    ACCEPTED = "accepted"
    REFUSED = "refused"
    SPINNING = "spinning"
    SPUN = "spun"
    ALIQUOTED = "aliquoted"
    """A portion, or a specimen that portions were taken from."""
    STORED = "stored"
    DISCARDED = "discarded"


class DrawState(StrEnum):
    """How a draw stands."""

    BEGUN = "begun"
    STOPPED = "stopped"
    """An identifier did not agree; nobody overrides that."""
    FINISHED = "finished"
    NOT_OBTAINED = "not_obtained"


class BoxState(StrEnum):
    """How a transport box stands."""

    PACKING = "packing"
    SENT = "sent"
    OPENED = "opened"


class SpinState(StrEnum):
    """How a centrifuge run stands."""

    RUNNING = "running"
    DONE = "done"
    BROKEN_OFF = "broken_off"


CHAIR, RECEPTION, BENCH, WASTE = "chair", "reception", "bench", "waste"
"""Places besides ``box:CODE``, ``centrifuge:CODE`` and ``storage:CODE``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """
    One draw of one patient by its collector.

    Args:
        who: the collector now, after any hand-over.
        identified: how often identifiers were confirmed.
        open_attempt: the attempt whose needle is in, or "".
        tourniquet_on_at: since when the tourniquet is on, None when it is off.
        specimens: containers taken in hand, in order.
    """

    code: str
    site: str
    patient: str
    requisition: str
    state: DrawState
    who: str
    begun_at: datetime
    ended_at: datetime | None = None
    reason: str = ""
    identified: int = 0
    attempts: int = 0
    open_attempt: str = ""
    tourniquet_on_at: datetime | None = None
    specimens: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt:
    """One needle in one vein; ``success`` is None while it is in."""

    code: str
    site: str
    draw: str
    who: str
    begun_at: datetime
    body_site: str = ""
    side: str = ""
    device: str = ""
    gauge: int | None = None
    ended_at: datetime | None = None
    success: bool | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Specimen:
    """
    One container with something in it, or about to have.

    Args:
        site: that holds it.
        bound_for: site it is on the way to, or "".
        parent: of an aliquot, else "".
        place: ``chair``, ``box:CODE``, ``reception``, ``bench``, ``centrifuge:CODE``,
            ``storage:CODE`` or ``waste``.
        before, before_place: what it goes back to when it leaves a box, a rotor or a store.
        volume_ul: as estimated or measured when it was filled, None when not said.
        spins: how often it was spun to the end.
    """

    code: str
    site: str
    state: State
    place: str
    patient: str
    draw: str = ""
    requisition: str = ""
    parent: str = ""
    bound_for: str = ""
    container: str = ""
    material: str = "blood"
    lot: str = ""
    purpose: str = ""
    fill: str = ""
    volume_ul: int | None = None
    label_printed: bool = False
    label_matched: bool = False
    spins: int = 0
    before: str = ""
    before_place: str = ""
    collected_at: datetime | None = None
    received_at: datetime | None = None
    changed_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A transport box, which is packed anew after it was opened."""

    code: str
    site: str
    state: BoxState
    to: str = ""
    cooling: str = ""
    specimens: tuple[str, ...] = ()
    sent_at: datetime | None = None
    opened_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Spin:
    """A centrifuge run."""

    code: str
    site: str
    state: SpinState
    centrifuge: str
    programme: str = ""
    specimens: tuple[str, ...] = ()
    begun_at: datetime
    ended_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Incident:
    """Something that went wrong, and whether it is closed."""

    code: str
    site: str
    what: str
    who: str
    happened_at: datetime
    draw: str = ""
    patient: str = ""
    specimen: str = ""
    due_on: str = ""
    closed: bool = False


Item: TypeAlias = Draw | Attempt | Specimen | Box | Spin | Incident | Waste

ITEMS: dict[str, type[Item]] = {
    "draw": Draw,
    "attempt": Attempt,
    "specimen": Specimen,
    "box": Box,
    "spin": Spin,
    "incident": Incident,
    "waste": Waste,
}
"""Subject types that are folded into an item."""
