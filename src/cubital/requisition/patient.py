"""
The patient of a requisition, and what was answered, read and written as JSON.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, datetime

from cubital.catalogue import Catalogue
from cubital.catalogue.table import nearest
from cubital.catalogue.vocabulary import EVERYBODY_DAYS
from cubital.errors import RequisitionError
from cubital.requisition.part import Part, shown
from cubital.requisition.values import Answers, Condition, Patient, PriorDraw

PATIENT_FIELDS = (
    "number", "family_name", "given_name", "birth_date", "sex", "weight_g", "height_mm",
    "haematocrit_percent", "veins", "conditions", "prior_draws",
)  # fmt: skip
ANSWER_FIELDS = ("fasting_h", "since_dose_h", "next_dose_due", "seated_min", "supine_min")
SEXES = ("female", "male", "other", "unknown")
VEINS = ("good", "thin", "fragile", "hand", "unknown")
SIDES = ("left", "right", "both", "")

# Guards against slips of the pen, not limits of medicine: what lies outside was mistyped.
WEIGHT_G = (200, 700_000)
HEIGHT_MM = (200, 2_800)
LEAST_HAEMATOCRIT = 1  # percent; what is less was written as a fraction, 0.42 for 42
DRAWN_UL = (1, 10_000_000)
MOST_CONDITIONS = 50
MOST_DRAWS = 500
CODE_SIGNS = 64


def read_patient(part: Part, catalogue: Catalogue, now: datetime) -> Patient:
    """
    Read the patient.

    Raises:
        RequisitionError: which field, what is wrong with it, and what to write.
    """
    part.only(PATIENT_FIELDS)
    percent = "Write percent, for example 42."
    haematocrit = part.decimal("haematocrit_percent", percent)
    if haematocrit is not None and not LEAST_HAEMATOCRIT <= haematocrit < 100:
        raise part.refuse("haematocrit_percent", percent, f"{haematocrit:g} percent cannot be")
    return Patient(
        number=part.text("number", CODE_SIGNS),
        family_name=part.text("family_name"),
        given_name=part.text("given_name"),
        birth_date=_birth_date(part, now),
        sex=part.word("sex", SEXES, "unknown"),
        weight_g=_within(part, "weight_g", WEIGHT_G, "grams, for example 61000 for 61 kg"),
        height_mm=_within(part, "height_mm", HEIGHT_MM, "millimetres, for example 1650"),
        haematocrit_percent=haematocrit,
        veins=part.word("veins", VEINS, "unknown"),
        conditions=_conditions(part, catalogue),
        prior_draws=_prior_draws(part, now),
    )


def _within(part: Part, field: str, ends: tuple[int, int], words: str) -> int | None:
    mend = f"Write whole {words}."
    value = part.integer(field, mend)
    if value is not None and not ends[0] <= value <= ends[1]:
        unit = field.rpartition("_")[2].replace("ul", "µL")
        raise part.refuse(field, mend, f"{shown(value)} {unit} cannot be")
    return value


def _birth_date(part: Part, now: datetime) -> date | None:
    birth = part.day("birth_date")
    if birth is None:
        return None
    if birth > now.date():
        what = f"the birth date {birth} lies in the future"
        raise part.refuse("birth_date", "Look the date up.", what)
    if (now.date() - birth).days > EVERYBODY_DAYS:
        what = f"the birth date {birth} is over 150 years ago"
        raise part.refuse("birth_date", "Look the year up.", what)
    return birth


def _conditions(part: Part, catalogue: Catalogue) -> tuple[Condition, ...]:
    found = []
    for at, entry in enumerate(part.items("conditions", MOST_CONDITIONS), start=1):
        inner = part.inner("conditions", entry, at)
        inner.only(("code", "side", "site"))
        code = inner.text("code", CODE_SIGNS, needed=True)
        if code not in catalogue.conditions:
            files = "site_conditions.csv or patient_cautions.csv"
            raise _unknown(inner, "code", code, catalogue.conditions, files)
        site = inner.text("site", CODE_SIGNS)
        if site and site not in catalogue.sites:
            raise _unknown(inner, "site", site, catalogue.sites, "sites.csv")
        found.append(Condition(code, inner.word("side", SIDES, ""), site))
    return tuple(found)


def _unknown(
    part: Part, field: str, code: str, known: Collection[str], files: str
) -> RequisitionError:
    close = nearest(code, known)
    mend = f"Did you mean {close}?" if close else f"Write a code of {files}."
    return part.refuse(field, mend, f"{shown(code)} is not known")


def _prior_draws(part: Part, now: datetime) -> tuple[PriorDraw, ...]:
    found = []
    for at, entry in enumerate(part.items("prior_draws", MOST_DRAWS), start=1):
        inner = part.inner("prior_draws", entry, at)
        inner.only(("taken_at", "volume_ul"))
        taken_at = inner.moment("taken_at", now.tzinfo)
        volume_ul = _within(inner, "volume_ul", DRAWN_UL, "microlitres, for example 9000 for 9 mL")
        if taken_at is None or volume_ul is None:
            field = "taken_at" if taken_at is None else "volume_ul"
            raise inner.refuse(field, "Write when and how much.", "the field is missing")
        if taken_at > now:
            what = f"the blood taken at {taken_at:%Y-%m-%d %H:%M} lies in the future"
            raise inner.refuse("taken_at", "Look the time up.", what)
        found.append(PriorDraw(taken_at, volume_ul))
    return tuple(found)


def read_answers(part: Part) -> Answers:
    """
    Read what was answered about the preparation.

    Raises:
        RequisitionError: which field, what is wrong with it, and what to write.
    """
    part.only(ANSWER_FIELDS)
    return Answers(
        fasting_h=_duration(part, "fasting_h", "hours"),
        since_dose_h=_duration(part, "since_dose_h", "hours"),
        next_dose_due=part.flag("next_dose_due"),
        seated_min=_duration(part, "seated_min", "minutes"),
        supine_min=_duration(part, "supine_min", "minutes"),
    )


def _duration(part: Part, field: str, unit: str) -> float | None:
    mend = f"Write {unit} of 0 or more, or leave it out when it is not known."
    value = part.decimal(field, mend)
    if value is not None and value < 0:
        raise part.refuse(field, mend, f"{value:g} {unit} cannot be")
    return value


def patient_to(patient: Patient) -> dict[str, object]:
    """The patient as JSON."""
    return {
        "number": patient.number,
        "family_name": patient.family_name,
        "given_name": patient.given_name,
        "birth_date": patient.birth_date.isoformat() if patient.birth_date else None,
        "sex": patient.sex,
        "weight_g": patient.weight_g,
        "height_mm": patient.height_mm,
        "haematocrit_percent": patient.haematocrit_percent,
        "veins": patient.veins,
        "conditions": [
            {"code": condition.code, "side": condition.side, "site": condition.site}
            for condition in patient.conditions
        ],
        "prior_draws": [
            {"taken_at": draw.taken_at.isoformat(), "volume_ul": draw.volume_ul}
            for draw in patient.prior_draws
        ],
    }


def answers_to(answers: Answers) -> dict[str, object]:
    """The answers as JSON; null where nobody has asked."""
    return {field: getattr(answers, field) for field in ANSWER_FIELDS}
