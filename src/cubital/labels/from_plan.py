"""The labels that a draw plan wants."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from cubital.catalogue import Catalogue
from cubital.draw.values import DrawPlan, PlannedContainer
from cubital.errors import LabelError
from cubital.labels.values import Label
from cubital.requisition import LEAST_IDENTIFIERS
from cubital.requisition.values import Patient, Requisition

HANDLING_WORDS = {
    "ice_slurry": "ON ICE",
    "never_chilled": "NEVER CHILL",
    "dark": "DARK",
    "warm_37c": "37 °C",
    "filled_whole": "FILL TO MARK",
    "upright": "UPRIGHT",
    "to_lab_within_min": "LAB ≤ {} min",
    "spin_within_min": "SPIN ≤ {} min",
}
"""The demands that whoever carries the tube must see; the others concern the draw only."""


def identifiers(patient: Patient) -> tuple[tuple[str, str], ...]:
    """Identifiers besides the name: birth date and patient number, those that are known."""
    found = []
    if patient.birth_date is not None:
        found.append(("born", patient.birth_date.isoformat()))
    if patient.number:
        found.append(("No", patient.number))
    return tuple(found)


def _checked_identifiers(requisition: Requisition, wanted: int) -> tuple[tuple[str, str], ...]:
    found = identifiers(requisition.patient)
    count = len(found) + bool(requisition.patient.whole_name)
    if count < max(wanted, LEAST_IDENTIFIERS):
        raise LabelError(
            f"A label needs {max(wanted, LEAST_IDENTIFIERS)} identifiers and this patient has"
            f" {count}",
            f"requisition {requisition.number}",
            "Add the name, birth date or patient number before printing, or go on with a reason"
            " where the plan asks.",
        )
    return found


def handling_words(container: PlannedContainer) -> tuple[str, ...]:
    """Short words for whoever carries the tube."""
    return tuple(
        HANDLING_WORDS[need].format(minutes)
        for need, minutes in container.handling
        if need in HANDLING_WORDS
    )


def labels_for(
    plan: DrawPlan,
    requisition: Requisition,
    catalogue: Catalogue,
    accessions: Sequence[str],
    *,
    collected_at: datetime | None = None,
    collector: str = "",
    few: bool = False,
) -> tuple[Label, ...]:
    """
    Give one label a container that wants one, in the order of draw.

    Args:
        plan: as planned.
        requisition: whose patient's name stands on every label.
        catalogue: the one the plan was made with.
        accessions: as many accession numbers as containers that want a label.
        collected_at: when the blood was drawn, in the place's own time zone; None before the draw
            (the label then has room to write it by hand).
        collector: code or initials.
        few: fewer identifiers are known than the setting asks for, and somebody said why.

    Raises:
        LabelError: too few identifiers of the patient, or too few or many accession numbers.
    """
    wanted = [c for c in plan.containers if c.label_wanted]
    if len(wanted) != len(accessions):
        raise LabelError(
            f"The plan wants {len(wanted)} labels and was given {len(accessions)} numbers",
            f"requisition {requisition.number}",
        )
    wanted_count = LEAST_IDENTIFIERS if few else catalogue.number("identifiers_required")
    shown = _checked_identifiers(requisition, wanted_count)
    when = f"drawn {collected_at:%Y-%m-%d %H:%M}" if collected_at else ""
    return tuple(
        Label(
            accession=accession,
            name=requisition.patient.whole_name,
            identifiers=shown,
            collected=when,
            collector=collector,
            container=(
                f"{catalogue.additives[container.additive].name}"
                f" · {catalogue.colours[container.colour].name}"
            ),
            tests=tuple(catalogue.tests[test.code].short for test in container.tests),
            handling=handling_words(container),
        )
        for accession, container in zip(accessions, wanted, strict=True)
    )
