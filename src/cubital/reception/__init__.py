"""What arrived against what was asked for: accept, remark, refuse, ask again, test by test."""

from __future__ import annotations

from cubital.reception.known import fill_percent, is_irreplaceable, used_percent, what_lacks
from cubital.reception.receive import not_registered, receive
from cubital.reception.values import Arrival, Expected, Outcome, TestVerdict, Verdict

__all__ = [
    "Arrival",
    "Expected",
    "Outcome",
    "TestVerdict",
    "Verdict",
    "fill_percent",
    "is_irreplaceable",
    "not_registered",
    "receive",
    "used_percent",
    "what_lacks",
]
