"""
A requisition and its patient, complete and typed.

Weights in g, lengths in mm, volumes in µL, times timezone-aware.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime


@dataclass(frozen=True, slots=True)
class Condition:
    """Something about the patient that rules look at, e.g. ``mastectomy`` on the left."""

    code: str
    side: str = ""  # left, right, both, ""
    site: str = ""  # a site code where the condition sits, or ""


@dataclass(frozen=True, slots=True)
class PriorDraw:
    """Blood taken before: counted against the limits."""

    taken_at: datetime
    volume_ul: int


@dataclass(frozen=True, slots=True)
class Patient:
    """
    The person.

    Args:
        number: the laboratory's or hospital's patient number (an identifier).
        family_name, given_name: as registered, any script.
        birth_date: None when unknown.
        sex: ``female``, ``male``, ``other`` or ``unknown`` (administrative).
        weight_g, height_mm: None when unknown.
        haematocrit_percent: last known, None when unknown.
        veins: ``good``, ``thin``, ``fragile``, ``hand`` or ``unknown``.
        conditions: see :class:`Condition`; codes from site_conditions.csv and patient_cautions.csv.
        prior_draws: of the last 8 weeks.
    """

    number: str
    family_name: str
    given_name: str = ""
    birth_date: date | None = None
    sex: str = "unknown"
    weight_g: int | None = None
    height_mm: int | None = None
    haematocrit_percent: float | None = None
    veins: str = "unknown"
    conditions: tuple[Condition, ...] = ()
    prior_draws: tuple[PriorDraw, ...] = ()

    @property
    def whole_name(self) -> str:
        """Family name first, as registered."""
        if self.family_name and self.given_name:
            return f"{self.family_name}, {self.given_name}"
        return self.family_name or self.given_name


@dataclass(frozen=True, slots=True)
class OrderedTest:
    """
    One test asked for.

    Args:
        code: of the catalogue.
        priority: 1 is what the requester wants most; equal numbers are equals.
        through: panel codes through which it came, outermost first; () when asked for itself.
    """

    code: str
    priority: int = 5
    through: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Answers:
    """Patient preparation as answered; None means not asked yet."""

    fasting_h: float | None = None
    since_dose_h: float | None = None
    next_dose_due: bool | None = None  # True: the next dose has not been given yet
    seated_min: float | None = None
    supine_min: float | None = None


@dataclass(frozen=True, slots=True)
class Requisition:
    """What came in, panels expanded, each test once."""

    number: str
    patient: Patient
    tests: tuple[OrderedTest, ...]
    collect_at: datetime
    requester: str = ""
    ward: str = ""
    urgent: bool = False
    answers: Answers = field(default_factory=Answers)
    remarks: str = ""
