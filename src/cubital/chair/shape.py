"""
A chair's sheet as JSON, ``cubital.chair/1``, and back.

Durations in s, volumes in µL, dates in ISO 8601.  ``said`` holds what :mod:`cubital.chair.said`
writes beforehand and is left out when a sheet is read back: it follows from the rest.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from hashlib import sha256
from typing import Any

from cubital.chair.said import finding_from, finding_to, said_of
from cubital.chair.values import Few, FewReason, Policy, Question, Sheet, StockCode, Tube
from cubital.custody.canonical import canonical
from cubital.errors import InputError

SCHEMA = "cubital.chair/1"
CODE_LENGTH = 32

Json = dict[str, Any]


def sheet_to(sheet: Sheet) -> Json:
    """
    A sheet with everything the page may have to say.

    ``code`` names the sheet by its content: the same draw under the same rules has the same code.
    """
    kept = kept_to(sheet)
    return {
        **kept,
        "code": _code(kept),
        "others": [list(pair) for pair in sheet.others],
        "coagulation": sheet.coagulation,
        "tourniquet_limit_s": _seconds(sheet.tourniquet_limit),
        "said": said_of(sheet),
    }


def kept_to(sheet: Sheet) -> Json:
    """
    What of a sheet must be kept so that its events can be judged again.

    Without the other patients of the round: no event of this draw hangs on them.
    """
    return {
        "schema": SCHEMA,
        "draw": sheet.draw,
        "site": sheet.site,
        "requisition": sheet.requisition,
        "patient": sheet.patient,
        "name": sheet.name,
        "scans": list(sheet.scans),
        "questions": [
            {"code": q.code, "ask": q.ask, "answer": q.answer, "read": q.read}
            for q in sheet.questions
        ],
        "tubes": [_tube_to(tube) for tube in sheet.tubes],
        "stock": [_stock_to(code) for code in sheet.stock],
        "policy": _policy_to(sheet.policy),
        "plan_edition": sheet.plan_edition,
        "today": sheet.today.isoformat(),
        "discard": sheet.discard,
        "discard_ul": sheet.discard_ul,
        "findings": [finding_to(finding) for finding in sheet.findings],
        "few": None if sheet.few is None else _few_to(sheet.few),
    }


def code_of(sheet: Sheet) -> str:
    """The name of a sheet: the first half of the SHA-256 of what is kept of it."""
    return _code(kept_to(sheet))


def _code(kept: Json) -> str:
    return sha256(canonical(kept)).hexdigest()[:CODE_LENGTH]


def _seconds(span: timedelta) -> int:
    return round(span.total_seconds())


def _tube_to(tube: Tube) -> Json:
    return {
        "accession": tube.accession,
        "position": tube.position,
        "container": tube.container,
        "additive": tube.additive,
        "shown": tube.shown,
        "colour": tube.colour,
        "coagulation": tube.coagulation,
        "fill_ul": tube.fill_ul,
        "fill_min_ul": tube.fill_min_ul,
        "tests": list(tube.tests),
    }


def _stock_to(code: StockCode) -> Json:
    return {
        "code": code.code,
        "container": code.container,
        "shown": code.shown,
        "lot": code.lot,
        "expires_on": code.expires_on.isoformat(),
        "recalled": code.recalled,
    }


def _few_to(few: Few) -> Json:
    return {
        "lacking": list(few.lacking),
        "checks": list(few.checks),
        "reasons": [
            {"code": each.code, "name": each.name, "reads": each.reads, "source": each.source}
            for each in few.reasons
        ],
        "source": few.source,
    }


def _policy_to(policy: Policy) -> Json:
    return {
        "identifiers": policy.identifiers,
        "attempts": policy.attempts,
        "tourniquet_s": _seconds(policy.tourniquet),
        "tourniquet_coagulation_s": _seconds(policy.tourniquet_coagulation),
        "tourniquet_warning_s": _seconds(policy.tourniquet_warning),
        "labels": policy.labels,
        "sources": [list(pair) for pair in policy.sources],
    }


# ---------------------------------------------------------------- back


def sheet_from(given: Mapping[str, Any]) -> Sheet:
    """
    Read a sheet back, whole or as it was kept.

    Raises:
        InputError: another shape, or a part that is missing or of the wrong kind.
    """
    if given.get("schema") != SCHEMA:
        raise InputError(f"The shape is {given.get('schema')!r}", "schema", f"Give {SCHEMA}.")
    try:
        return _sheet(given)
    except (KeyError, TypeError, ValueError, AttributeError) as bad:
        raise InputError(
            f"The sheet cannot be read ({type(bad).__name__}: {bad})", "sheet", "Load it anew."
        ) from bad


def _sheet(given: Mapping[str, Any]) -> Sheet:
    return Sheet(
        draw=given["draw"],
        site=given["site"],
        requisition=given["requisition"],
        patient=given["patient"],
        name=given["name"],
        scans=tuple(given["scans"]),
        questions=tuple(Question(**each) for each in given["questions"]),
        tubes=tuple(Tube(**{**each, "tests": tuple(each["tests"])}) for each in given["tubes"]),
        stock=tuple(
            StockCode(**{**each, "expires_on": date.fromisoformat(each["expires_on"])})
            for each in given["stock"]
        ),
        others=tuple((text, words) for text, words in given.get("others", ())),
        policy=_policy_from(given["policy"]),
        plan_edition=given["plan_edition"],
        today=date.fromisoformat(given["today"]),
        discard=given["discard"],
        discard_ul=given["discard_ul"],
        findings=tuple(finding_from(each) for each in given["findings"]),
        few=_few_from(given["few"]) if given.get("few") else None,
    )


def _few_from(given: Mapping[str, Any]) -> Few:
    return Few(
        lacking=tuple(given["lacking"]),
        checks=tuple(given["checks"]),
        reasons=tuple(FewReason(**each) for each in given["reasons"]),
        source=given["source"],
    )


def _policy_from(given: Mapping[str, Any]) -> Policy:
    return Policy(
        identifiers=given["identifiers"],
        attempts=given["attempts"],
        tourniquet=timedelta(seconds=given["tourniquet_s"]),
        tourniquet_coagulation=timedelta(seconds=given["tourniquet_coagulation_s"]),
        tourniquet_warning=timedelta(seconds=given["tourniquet_warning_s"]),
        labels=given["labels"],
        sources=tuple((key, source) for key, source in given["sources"]),
    )
