"""The rows that the chair reads: reminders, mishaps, first aid, follow-ups."""

from __future__ import annotations

from dataclasses import dataclass

from cubital.catalogue.row import Row


@dataclass(frozen=True, slots=True, kw_only=True)
class Reminder(Row):
    """A short sentence at its moment; a collector may switch them off."""

    FILE = "reminders.csv"
    KEY = ("code",)
    code: str
    moment: str  # before_needle, needle_in, blood_flows, filling, before_out, after
    devices: str = ""  # device codes separated by ;, "" for all
    unless: str = ""  # a handling need that a test of the plan has: then it is not said
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Mishap(Row):
    """Something that goes wrong at the chair; ``group`` says which short form it opens."""

    FILE = "mishaps.csv"
    KEY = ("code",)
    code: str  # fainting, seizure, haematoma, arterial_puncture, nerve_pain, needlestick, ...
    name: str
    whom: str  # patient, collector, place
    ends_attempt: bool  # the needle comes out at once
    ends_draw: bool  # nothing more is drawn today without a physician or the patient's wish


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstAid(Row):
    """One step of a first-aid card."""

    FILE = "first_aid.csv"
    KEY = ("mishap", "step")
    mishap: str
    step: int
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FollowUp(Row):
    """What is due after a mishap, in hours from it: best by, and no later than."""

    FILE = "follow_ups.csv"
    KEY = ("mishap", "code")
    mishap: str
    code: str
    due_from_h: int
    due_until_h: int
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NotObtained(Row):
    """Why no blood was obtained."""

    FILE = "not_obtained.csv"
    KEY = ("code",)
    code: str
    name: str
    new_attempt: bool  # the same collector may try again within the policy


@dataclass(frozen=True, slots=True, kw_only=True)
class IdentityReason(Row):
    """Why fewer identifiers are known than the policy asks for, or why they cannot be said."""

    FILE = "identity_reasons.csv"
    KEY = ("code",)
    code: str
    name: str
    reads: bool  # the identifiers are read on the wristband: the patient cannot say them
    whole: bool  # may be given where enough are known, for a patient who cannot say them


CHAIR_ROWS: tuple[type[Row], ...] = (
    Reminder, Mishap, FirstAid, FollowUp, NotObtained, IdentityReason,
)  # fmt: skip
