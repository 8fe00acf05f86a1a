"""
Fewer identifiers known than policy asks for, or a patient who cannot say them: what stands in.

This is no way around an identifier that does not agree: that stops the draw, and nobody overrides
it.  Here the record simply holds fewer, as with somebody who was brought in unconscious; or it
holds enough, and the patient is in no state to say them.
"""

from __future__ import annotations

from cubital.catalogue import Catalogue
from cubital.catalogue.model_chair import IdentityReason
from cubital.chair.scans import RULE
from cubital.chair.values import Few, FewReason, Sheet, State
from cubital.errors import CatalogueError
from cubital.finding import Finding, Severity
from cubital.requisition import identifiers_held
from cubital.requisition.values import Patient

FEW, READ = "identifiers-few", "identifiers-read"
"""Codes of what the record keeps: fewer were known, or they were read instead of said."""
WORDS = {"name": "name", "birth_date": "birth date", "number": "patient number"}
CHECK = "identifiers_few_check"
CHECKS = {
    "wristband": ("wristband",),
    "second_person": ("second_person",),
    "both": ("wristband", "second_person"),
}


def few_for(patient: Patient, catalogue: Catalogue, wanted: int) -> Few:
    """
    What stands in where fewer identifiers are known than are wanted, or where they cannot be said.

    Where enough are known nothing lacks, and only reasons for reading them on the band are given.

    Raises:
        CatalogueError: the setting names no known check.
    """
    held = identifiers_held(patient)
    enough = sum(held.values()) >= wanted
    rule = catalogue.setting(CHECK)
    if rule.value not in CHECKS:
        raise CatalogueError(
            f"{CHECK} cannot be “{rule.value}”",
            f"settings.csv, row {rule.line}, value",
            f"Write one of {', '.join(CHECKS)}.",
        )
    rows = [row for row in catalogue.rows(IdentityReason) if row.whole or not enough]
    return Few(
        lacking=() if enough else tuple(words for code, words in WORDS.items() if not held[code]),
        checks=CHECKS[rule.value],
        reasons=tuple(FewReason(row.code, row.name, row.reads, row.source) for row in rows),
        source=rule.source,
    )


def checks(sheet: Sheet) -> set[str]:
    """What may be confirmed beside the identifiers that are asked."""
    return set(sheet.few.checks) if sheet.few else set()


def reasons(sheet: Sheet) -> tuple[FewReason, ...]:
    """Reasons that may be given; none on a sheet kept before there were any."""
    return sheet.few.reasons if sheet.few else ()


def stood_in(sheet: Sheet, state: State) -> bool:
    """
    Whether a reason and every check stand in for what is lacking, or what could not be said.

    Where nothing lacks and no reason was given, the patient said it all.
    """
    if sheet.few is None or not (sheet.few.lacking or state.few):
        return True
    return bool(state.few) and all(check in state.confirmed for check in sheet.few.checks)


def few_findings(sheet: Sheet, *, reason: str, second: str | None, who: str) -> tuple[Finding, ...]:
    """
    What stands against a reason or a check, or the note that it leaves.

    Args:
        sheet: of the draw.
        reason: code given, "" for none.
        second: who looked as the second person, None where that was not said.
        who: wrote it.
    """
    if second is not None and not second.strip():
        return (second_missing(),)
    if second == who:
        return (second_same(),)
    if not reason:
        return ()
    given = next((each for each in reasons(sheet) if each.code == reason), None)
    return (few_note(sheet, given) if given else reason_unknown(reason),)


def few_ask(sheet: Sheet) -> Finding:
    """What is asked of the collector before the identifiers are read instead of said."""
    source = sheet.few.source if sheet.few else RULE
    return Finding(_code(sheet), Severity.ASK, f"{_known(sheet)}. Say why.", source)


def few_note(sheet: Sheet, reason: FewReason) -> Finding:
    """What the record keeps of it."""
    sentence = f"{_known(sheet)}. {reason.name}."
    return Finding(_code(sheet), Severity.NOTE, sentence, reason.source)


def _code(sheet: Sheet) -> str:
    return FEW if sheet.few and sheet.few.lacking else READ


def _known(sheet: Sheet) -> str:
    if not (sheet.few and sheet.few.lacking):
        return "The patient cannot say the identifiers: they are read on the wristband"
    known, wanted = len(sheet.questions), sheet.policy.identifiers
    lacking = " and no ".join(sheet.few.lacking)
    return f"Only {known} of {wanted} identifiers are known, no {lacking}"


def reason_unknown(code: str) -> Finding:
    """The stop for a reason that is not in the table, or that nothing asks for."""
    sentence = f"{code} is no reason for fewer identifiers here."
    return Finding("identity-reason-unknown", Severity.STOP, sentence, RULE)


def second_missing() -> Finding:
    """The stop for a second person who is nobody."""
    return Finding("second-person-missing", Severity.STOP, "Say who the second person is.", RULE)


def second_same() -> Finding:
    """The stop for a second person who is the collector."""
    return Finding(
        "second-person-same", Severity.STOP, "The second person is somebody else than you.", RULE
    )
