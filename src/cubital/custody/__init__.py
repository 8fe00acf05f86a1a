"""
What happened to each specimen, append-only.

Events are offered, judged (``take``), chained (``seal``) and folded into where each specimen is and
how it stands (``fold``).  Nothing here reads a clock, a file or a database.
"""

from __future__ import annotations

from cubital.custody.canonical import canonical
from cubital.custody.chain import ChainReport, Head, Recorded, Unreadable, seal, verify_chain
from cubital.custody.door import Door, Ordered
from cubital.custody.event import Event, content, event_from, event_to, time_from, time_to
from cubital.custody.fold import effective, evolve, fold, fold_one
from cubital.custody.items import (
    Attempt,
    Box,
    BoxState,
    Draw,
    DrawState,
    Incident,
    Item,
    Specimen,
    Spin,
    SpinState,
    State,
)
from cubital.custody.kinds import KINDS, Kind, check_event, touched
from cubital.custody.ledger import Answer, Known, Offer, Taken, Verdict, take
from cubital.custody.uuid7 import uuid7
from cubital.custody.waste import Waste, WasteState

__all__ = [
    "KINDS",
    "Answer",
    "Attempt",
    "Box",
    "BoxState",
    "ChainReport",
    "Door",
    "Draw",
    "DrawState",
    "Event",
    "Head",
    "Incident",
    "Item",
    "Kind",
    "Known",
    "Offer",
    "Ordered",
    "Recorded",
    "Specimen",
    "Spin",
    "SpinState",
    "State",
    "Taken",
    "Unreadable",
    "Verdict",
    "Waste",
    "WasteState",
    "canonical",
    "check_event",
    "content",
    "effective",
    "event_from",
    "event_to",
    "evolve",
    "fold",
    "fold_one",
    "seal",
    "take",
    "time_from",
    "time_to",
    "touched",
    "uuid7",
    "verify_chain",
]
