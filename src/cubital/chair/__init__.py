"""What may happen next at the chair, and what is wrong now."""

from __future__ import annotations

from cubital.chair.fold import fold, take
from cubital.chair.judge import judge, left_out, unfinished
from cubital.chair.mishaps import Card, Due, card, due_after
from cubital.chair.scans import Scan, understand, wrong_patient
from cubital.chair.sheet import chair_policy, chair_sheet
from cubital.chair.values import Policy, Sheet, State

__all__ = [
    "Card",
    "Due",
    "Policy",
    "Scan",
    "Sheet",
    "State",
    "card",
    "chair_policy",
    "chair_sheet",
    "due_after",
    "fold",
    "judge",
    "left_out",
    "take",
    "understand",
    "unfinished",
    "wrong_patient",
]
