"""
What is missing from a requisition and whom to ask, and what has been asked for already today.

Weight, age and preparation are the draw's to ask for: only there is it known whether they matter.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta

from cubital.catalogue import Catalogue
from cubital.finding import Finding, Severity
from cubital.requisition.values import Patient, Requisition

IDENTIFIER_MISSING = "identifier-missing"
"""Code of the finding that fewer identifiers are known than policy wants."""
LEAST_IDENTIFIERS = 2
"""No policy and no reason goes below two (who_identification_2007)."""


def identifiers_held(patient: Patient) -> dict[str, bool]:
    """Whether each identifier that policy may want is known: number, name, birth_date."""
    return {
        "number": bool(patient.number),
        "name": bool(patient.whole_name),
        "birth_date": patient.birth_date is not None,
    }


def missing(
    requisition: Requisition, catalogue: Catalogue, *, earlier: Iterable[Requisition] = ()
) -> tuple[Finding, ...]:
    """
    Findings about the requisition itself.

    Args:
        requisition: as it came in.
        catalogue: for names, and for the settings ``identifiers_required`` and
            ``duplicate_window_h``.
        earlier: other requisitions, of the same patient or not; those of the patient within the
            window are looked at for the same tests.
    """
    return (
        *_identifiers(requisition, catalogue),
        *_requester(requisition),
        *_duplicates(requisition, catalogue, earlier),
    )


def _identifiers(requisition: Requisition, catalogue: Catalogue) -> tuple[Finding, ...]:
    rule = catalogue.setting("identifiers_required")
    needed = catalogue.number("identifiers_required")
    held = identifiers_held(requisition.patient)
    if sum(held.values()) >= needed:
        return ()
    words = {"number": "patient number", "name": "name", "birth_date": "birth date"}
    lacking = [words[code] for code, there in held.items() if not there]
    verb = "is" if len(lacking) == 1 else "are"
    sentence = (
        f"{needed} identifiers of the patient are needed, and {' and '.join(lacking)} {verb} "
        "missing: ask the patient, or the registration desk."
    )
    return (Finding(IDENTIFIER_MISSING, Severity.ASK, sentence, rule.source, "", rule.layer),)


def _requester(requisition: Requisition) -> tuple[Finding, ...]:
    if requisition.requester or requisition.ward:
        return ()
    sentence = "Nobody is named as requester: ask the ward who waits for the results."
    return (Finding("requester-missing", Severity.NOTE, sentence, "common_practice"),)


def _duplicates(
    requisition: Requisition, catalogue: Catalogue, earlier: Iterable[Requisition]
) -> tuple[Finding, ...]:
    rule = catalogue.setting("duplicate_window_h")
    window = timedelta(hours=catalogue.decimal("duplicate_window_h"))
    asked = {test.code for test in requisition.tests}
    found = []
    for other in earlier:
        same = other.patient.number == requisition.patient.number != ""
        near = abs(other.collect_at - requisition.collect_at) <= window
        if not (same and near) or other.number == requisition.number:
            continue
        for code in (test.code for test in other.tests if test.code in asked):
            name = catalogue.tests[code].name
            sentence = (
                f"{name} is already on requisition {other.number} for "
                f"{other.collect_at:%Y-%m-%d %H:%M}: ask the requester whether it is wanted twice."
            )
            found.append(
                Finding("test-twice", Severity.ASK, sentence, rule.source, code, rule.layer)
            )
    return tuple(found)
