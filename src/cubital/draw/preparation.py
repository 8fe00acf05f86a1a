"""
Whether the patient is prepared, and what the collector must know about the patient.

Durations in hours or minutes as the need's name says; clock windows in whole hours of the
requisition's own time zone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from cubital.catalogue import Catalogue
from cubital.catalogue.model import PatientCaution, Preparation, SiteCondition
from cubital.draw.allowance import age_days
from cubital.finding import Finding, Severity
from cubital.requisition.values import Answers, Patient, Requisition

ANSWERED_BY = {
    "fasting_h": "fasting_h",
    "after_dose_h": "since_dose_h",
    "seated_min": "seated_min",
    "supine_min": "supine_min",
}
"""Which answer holds the duration a need asks for."""
WORDS = {
    "fasting_h": "hours without food",
    "after_dose_h": "hours since the dose",
    "seated_min": "minutes seated",
    "supine_min": "minutes lying",
}
POSTURES = {"supine_min": "lying", "seated_min": "up", "upright_h": "up"}
"""What a need wants of the patient, where two cannot be had at once."""
OF_THE_BODY = (*POSTURES, "no_exercise_h")
"""Needs that nobody asks of a small child."""


@dataclass(frozen=True, slots=True)
class _Answer:
    """How a need stands: ``met``, ``unmet`` or ``unknown``, and what was answered, in words."""

    state: str
    words: str = ""


@dataclass(frozen=True, slots=True)
class _Open:
    """A preparation of one test that is not met, or not known."""

    test: str
    row: Preparation
    answer: _Answer


def preparation_findings(
    requisition: Requisition,
    catalogue: Catalogue,
    choices: Mapping[str, str],
    *,
    at: datetime | None = None,
) -> tuple[Finding, ...]:
    """
    A finding for each preparation that is not met, or that nobody has asked about yet.

    Not met: the row's severity.  Not known: the same, but never harder than ask.  Tests that want
    the same thing share one finding, with their names in it; its subject is the first of them.

    ``at`` is when the blood is drawn, the requisition's ``collect_at`` when None.
    """
    moment = requisition.collect_at if at is None else at
    young = too_young(age_days(requisition.patient.birth_date, moment.date()), catalogue)
    tolerance = catalogue.number("timed_tolerance_percent")
    groups: dict[tuple[str, int, int, str, str], list[_Open]] = {}
    for ordered in requisition.tests:
        for row in catalogue.preparation(ordered.code, choices):
            if young and row.need in OF_THE_BODY:
                continue
            answer = _stands(row, requisition.answers, moment, tolerance)
            if answer.state != "met":
                key = (row.need, row.low, row.high, row.severity, row.sentence)
                groups.setdefault(key, []).append(_Open(ordered.code, row, answer))
    found = tuple(_finding(group, catalogue) for group in groups.values())
    return found + _apart(requisition, catalogue, choices)


def too_young(age: int | None, catalogue: Catalogue) -> bool:
    """Whether somebody of so many days is asked for no posture and no rest; None is an adult."""
    return age is not None and age < catalogue.number("posture_from_days")


def _apart(
    requisition: Requisition, catalogue: Catalogue, choices: Mapping[str, str]
) -> tuple[Finding, ...]:
    """An ask when some tests want the patient lying and others sitting or up: two draws."""
    wanted: dict[str, dict[str, Preparation]] = {"lying": {}, "up": {}}
    for ordered in requisition.tests:
        for row in catalogue.preparation(ordered.code, choices):
            if row.need in POSTURES and row.severity != Severity.NOTE:
                wanted[POSTURES[row.need]].setdefault(ordered.code, row)
    if not (wanted["lying"] and wanted["up"]):
        return ()
    names = {
        posture: ", ".join(catalogue.tests[test].name for test in rows)
        for posture, rows in wanted.items()
    }
    sentence = (
        f"{names['lying']} wants the patient lying, {names['up']} sitting or up: one draw cannot "
        f"serve both. Ask the requester which comes first, and draw the other after the rest it "
        f"needs."
    )
    test, row = next(iter(wanted["lying"].items()))
    return (Finding("preparation-apart", Severity.ASK, sentence, row.source, test, row.layer),)


def _finding(group: list[_Open], catalogue: Catalogue) -> Finding:
    first = group[0]
    row = first.row
    names = ", ".join(catalogue.tests[one.test].name for one in group)
    severity = Severity(row.severity)
    if first.answer.state == "unknown":
        code, said = "preparation-unknown", "ask before the draw."
        severity = Severity.ASK if severity == Severity.STOP else severity
    else:
        code, said = "preparation-unmet", f"not prepared ({first.answer.words})."
    sentence = f"{names}: {said} {row.sentence}"
    return Finding(code, severity, sentence, row.source, first.test, row.layer)


def _stands(row: Preparation, answers: Answers, moment: datetime, tolerance: int) -> _Answer:
    if row.need == "clock_from_to":
        return _by_clock(row, moment)
    if row.need == "before_dose":
        if answers.next_dose_due is None:
            return _Answer("unknown")
        return _Answer("met") if answers.next_dose_due else _Answer("unmet", "dose already given")
    if row.need not in ANSWERED_BY:
        return _Answer("unknown")  # no, e.g. smoking: the collector asks at the chair
    value: float | None = getattr(answers, ANSWERED_BY[row.need])
    if value is None:
        return _Answer("unknown")
    low, high = float(row.low), float(row.high) if row.high else float("inf")
    if row.low == row.high:
        # A single point in time cannot be met to the second.
        slack = row.low * tolerance / 100
        low, high = low - slack, high + slack
    if low <= value <= high:
        return _Answer("met")
    return _Answer("unmet", f"{value:g} {WORDS[row.need]}")


def _by_clock(row: Preparation, moment: datetime) -> _Answer:
    """Within the window of the clock; one that ends before it starts runs over midnight."""
    hour = moment.hour + moment.minute / 60 + moment.second / 3600
    if row.low <= row.high:
        within = row.low <= hour <= row.high
    else:
        within = hour >= row.low or hour <= row.high
    words = f"the draw is at {moment:%H:%M}"
    return _Answer("met") if within else _Answer("unmet", words)


def patient_findings(patient: Patient, catalogue: Catalogue) -> tuple[Finding, ...]:
    """
    What the collector must know: one finding a condition, of patient_cautions.csv.

    A condition that only concerns sites is the sites' business and gives nothing here; one that no
    table knows gives a note, so that it is not lost.
    """
    cautions = {row.condition: row for row in catalogue.rows(PatientCaution)}
    about_sites = {row.condition for row in catalogue.rows(SiteCondition)}
    found = []
    for code in dict.fromkeys(condition.code for condition in patient.conditions):
        row = cautions.get(code)
        if row is not None:
            severity = Severity(row.severity)
            found.append(
                Finding("patient-caution", severity, row.sentence, row.source, code, row.layer)
            )
        elif code not in about_sites:
            sentence = (
                f"The patient has a condition noted as {code}, which no table knows: "
                f"ask what it means for the draw."
            )
            found.append(
                Finding("condition-unknown", Severity.NOTE, sentence, "common_practice", code)
            )
    return tuple(found)
