"""What went wrong, what is due, what was thrown away: one log, made of the events."""

from __future__ import annotations

from cubital.logbook.dilution import Dilution, dilute
from cubital.logbook.entries import day_sheet, log_entries, open_follow_ups, search
from cubital.logbook.sticks import stick_log
from cubital.logbook.values import Bag, Entry, FollowUp, Sticks
from cubital.logbook.waste import (
    WasteDay,
    close,
    filled,
    hand_over,
    kept_too_long,
    open_bag,
    waste_table,
    weigh,
)

__all__ = [
    "Bag",
    "Dilution",
    "Entry",
    "FollowUp",
    "Sticks",
    "WasteDay",
    "close",
    "day_sheet",
    "dilute",
    "filled",
    "hand_over",
    "kept_too_long",
    "log_entries",
    "open_bag",
    "open_follow_ups",
    "search",
    "stick_log",
    "waste_table",
    "weigh",
]
