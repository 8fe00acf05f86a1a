"""
A requisition as JSON and back: the shape ``cubital.requisition/1``.

``schema/requisition-1.json`` is its JSON Schema; the pages on JSON shapes explain it.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta

from cubital.catalogue import Catalogue
from cubital.errors import RequisitionError
from cubital.requisition.expand import USUAL_PRIORITY, Asked, expand
from cubital.requisition.part import Part, shown
from cubital.requisition.patient import (
    CODE_SIGNS,
    answers_to,
    patient_to,
    read_answers,
    read_patient,
)
from cubital.requisition.values import Answers, Patient, Requisition

SHAPE = "cubital.requisition/1"
FIELDS = (
    "schema", "number", "patient", "tests", "collect_at", "requester", "ward", "urgent", "answers",
    "remarks",
)  # fmt: skip
LAST_PRIORITY = 99
MOST_TESTS = 500
REMARK_SIGNS = 2_000
MOST_AHEAD = timedelta(days=2 * 365)
"""A guard against slips of the pen: blood wanted later than that was mistyped."""


def requisition_from(
    mapping: Mapping[str, object], *, catalogue: Catalogue, now: datetime, where: str = ""
) -> Requisition:
    """
    Read one requisition.

    Args:
        mapping: the shape ``cubital.requisition/1``; ``schema`` may be left out.
        catalogue: whose tests and conditions it names.
        now: with the time zone of the place, which times written without one get.
        where: what the sentences name first, such as a file and a number.

    Raises:
        RequisitionError: which field, what is wrong with it, and what to write.
    """
    return read(Part.of(mapping, where, ""), catalogue, now)


def read(part: Part, catalogue: Catalogue, now: datetime) -> Requisition:
    """Read one requisition from its object; as :func:`requisition_from`."""
    if now.tzinfo is None:
        raise RequisitionError("the time now has no time zone", mend="Give it one.")
    part.only(FIELDS)
    shape = part.text("schema")
    if shape not in ("", SHAPE):
        raise part.refuse("schema", f"Write {SHAPE}.", f"the shape {shown(shape)} is not known")
    number = part.text("number", CODE_SIGNS, needed=True)
    if part.fields.get("patient") is None:
        raise part.refuse("patient", "Write who the patient is.", "the patient is missing")
    patient = read_patient(part.inner("patient", part.fields["patient"]), catalogue, now)
    answers = part.fields.get("answers")
    return Requisition(
        number=number,
        patient=patient,
        tests=expand(_asked(part), catalogue),
        collect_at=_collect_at(part, patient, now),
        requester=part.text("requester"),
        ward=part.text("ward"),
        urgent=bool(part.flag("urgent")),
        answers=Answers() if answers is None else read_answers(part.inner("answers", answers)),
        remarks=part.text("remarks", REMARK_SIGNS, lines=True),
    )


def _collect_at(part: Part, patient: Patient, now: datetime) -> datetime:
    """When the blood is wanted; a year that was mistyped is no such time."""
    wanted = part.moment("collect_at", now.tzinfo)
    if wanted is None:
        return now
    if wanted - now > MOST_AHEAD:
        what = f"{wanted:%Y-%m-%d} is over {MOST_AHEAD.days // 365} years ahead"
        raise part.refuse("collect_at", "Look the year up.", what)
    birth = patient.birth_date
    if birth is not None and wanted.astimezone(now.tzinfo).date() < birth:
        what = f"{wanted:%Y-%m-%d} is before the birth of the patient on {birth}"
        raise part.refuse("collect_at", "Look both dates up.", what)
    return wanted


def _asked(part: Part) -> list[Asked]:
    """What was asked for, as it was said."""
    entries = part.items("tests", MOST_TESTS)
    if not entries:
        raise part.refuse("tests", "Name at least one test or panel.", "no test is asked for")
    return [
        _asked_one(part.inner("tests", {"code": entry} if isinstance(entry, str) else entry, at))
        for at, entry in enumerate(entries, start=1)
    ]


def _asked_one(part: Part) -> Asked:
    part.only(("code", "priority", "through"))
    mend = f"Write a whole number from 1 (wanted most) to {LAST_PRIORITY}."
    priority = part.integer("priority", mend)
    if priority is not None and not 1 <= priority <= LAST_PRIORITY:
        raise part.refuse("priority", mend, f"the priority {shown(priority)} cannot be")
    through = []
    for panel in part.items("through", MOST_TESTS):
        if not isinstance(panel, str):
            raise part.refuse("through", "Write codes of panels, outermost first.")
        through.append(panel)
    said = part.text("code", needed=True)
    return Asked(said, priority or USUAL_PRIORITY, tuple(through), part.at("code"))


def requisition_to(requisition: Requisition) -> dict[str, object]:
    """The requisition as JSON; reading it back gives the same requisition."""
    return {
        "schema": SHAPE,
        "number": requisition.number,
        "patient": patient_to(requisition.patient),
        "tests": [
            {"code": test.code, "priority": test.priority, "through": list(test.through)}
            for test in requisition.tests
        ],
        "collect_at": requisition.collect_at.isoformat(),
        "requester": requisition.requester,
        "ward": requisition.ward,
        "urgent": requisition.urgent,
        "answers": answers_to(requisition.answers),
        "remarks": requisition.remarks,
    }
