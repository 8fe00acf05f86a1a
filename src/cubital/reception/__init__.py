"""What arrived against what was asked for: accept, remark, refuse, ask again, test by test."""

from __future__ import annotations

from cubital.reception.again import Arrived, AskedAgain, still_to_ask
from cubital.reception.decide import Decision, accepts_at_once, decide
from cubital.reception.known import (
    fill_percent,
    is_irreplaceable,
    said_at_chair,
    used_percent,
    what_lacks,
)
from cubital.reception.receive import not_registered, receive
from cubital.reception.values import Arrival, Expected, Outcome, SaidAtChair, TestVerdict, Verdict

__all__ = [
    "Arrival",
    "Arrived",
    "AskedAgain",
    "Decision",
    "Expected",
    "Outcome",
    "SaidAtChair",
    "TestVerdict",
    "Verdict",
    "accepts_at_once",
    "decide",
    "fill_percent",
    "is_irreplaceable",
    "not_registered",
    "receive",
    "said_at_chair",
    "still_to_ask",
    "used_percent",
    "what_lacks",
]
