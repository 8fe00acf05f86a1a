"""What went wrong, what is due, what was thrown away: one log, made of the events."""

from __future__ import annotations

from cubital.logbook.dilution import Dilution, dilute
from cubital.logbook.entries import day_sheet, log_entries, open_follow_ups, search
from cubital.logbook.kept import Outside, Unknown, outside_entry, unknown_entry
from cubital.logbook.pricks import prick_entries
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
from cubital.logbook.whose import concerned, exposures, is_exposure, named, seen_by

__all__ = [
    "Bag",
    "Dilution",
    "Entry",
    "FollowUp",
    "Outside",
    "Sticks",
    "Unknown",
    "WasteDay",
    "close",
    "concerned",
    "day_sheet",
    "dilute",
    "exposures",
    "filled",
    "hand_over",
    "is_exposure",
    "kept_too_long",
    "log_entries",
    "named",
    "open_bag",
    "open_follow_ups",
    "outside_entry",
    "prick_entries",
    "search",
    "seen_by",
    "stick_log",
    "unknown_entry",
    "waste_table",
    "weigh",
]
