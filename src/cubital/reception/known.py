"""What the record says of a specimen, as the rules want it: pure helpers for whoever fills in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime, timedelta

from cubital.catalogue import Catalogue
from cubital.catalogue.model_chair import IdentityReason
from cubital.chair.few import READ
from cubital.custody import Event
from cubital.draw.allowance import age_days
from cubital.reception.values import SaidAtChair
from cubital.requisition import IDENTIFIER_MISSING, identifiers_held, missing
from cubital.requisition.values import Patient, Requisition

WHOLE_PERCENT = 100


def is_irreplaceable(
    patient: Patient,
    tests: Iterable[str],
    on: date,
    catalogue: Catalogue,
    choices: Mapping[str, str],
) -> bool:
    """
    Tell whether a specimen cannot simply be drawn again: a newborn's, or one of a point in time.

    The material may say so as well; ``receive`` looks at that itself.

    Args:
        patient: whose it is.
        tests: codes asked from it.
        on: day of the draw.
        catalogue: ``irreplaceable_to_days``, and which tests belong to a time after a dose.
        choices: of the place.
    """
    age = age_days(patient.birth_date, on)
    if age is not None and age < catalogue.number("irreplaceable_to_days"):
        return True
    return any(
        row.need == "after_dose_h" and row.high > 0
        for test in tests
        if test in catalogue.tests
        for row in catalogue.preparation(test, choices)
    )


def what_lacks(requisition: Requisition, catalogue: Catalogue) -> tuple[str, ...]:
    """Give what the requisition lacks so that nobody can be sure whose the specimen is."""
    found = missing(requisition, catalogue)
    if not any(each.code == IDENTIFIER_MISSING for each in found):
        return ()
    words = {
        "number": "the patient's number",
        "name": "the patient's name",
        "birth_date": "the birth date",
    }
    held = identifiers_held(requisition.patient)
    return tuple(words[code] for code, there in held.items() if not there)


def said_at_chair(
    events: Iterable[Event], catalogue: Catalogue, *, lacks: bool
) -> SaidAtChair | None:
    """
    Give why a draw went on with fewer identifiers than are asked, or with identifiers read.

    The last word holds.  A draw whose last check was not written down has the reason alone, as a
    code: what it was about is then taken from the requisition.

    Args:
        events: of the draw, as they stand after mending, in their order.
        catalogue: for the words of a reason.
        lacks: whether the requisition lacks an identifier.
    """
    names = {row.code: row.name for row in catalogue.rows(IdentityReason)}
    whole = reason = None
    for event in events:
        why = str(event.payload.get("reason") or "").strip()
        finding = event.payload.get("finding")
        if not why:
            continue
        if event.kind == "override_given" and finding in (IDENTIFIER_MISSING, READ):
            whole = SaidAtChair(str(finding), event.who, why)
        elif event.kind == "identity_confirmed":
            about = IDENTIFIER_MISSING if lacks else READ
            reason = SaidAtChair(about, event.who, names.get(why, why))
    return whole or reason


def fill_percent(
    container: str, fill: str, volume_ul: int | None, catalogue: Catalogue
) -> int | None:
    """
    How full the chair says a tube is, in percent of its nominal volume.

    None when it said "full", or gave no estimate: then only the receiver's eye counts.
    """
    row = catalogue.containers.get(container)
    if row is None or fill != "short" or volume_ul is None:
        return None
    return volume_ul * WHOLE_PERCENT // row.nominal_ul


def used_percent(
    logged_percent: float,
    log_end: datetime,
    at: datetime,
    test: str,
    catalogue: Catalogue,
    choices: Mapping[str, str],
    *,
    spun: bool,
) -> float:
    """
    Share of a test's stability used up: on the way by the log, and since its end at room.

    Where no figure is known for room temperature the log's share stands alone.
    """
    matrix = "serum_plasma" if spun else "whole_blood"
    for row in catalogue.stability(test, choices):
        if row.matrix == matrix and row.condition == "room" and row.keeps_h > 0:
            hours = max(at - log_end, timedelta(0)) / timedelta(hours=1)
            return logged_percent + WHOLE_PERCENT * hours / row.keeps_h
    return logged_percent
