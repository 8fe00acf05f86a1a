"""A refusal of the core, said with the names and units that stand on the form."""

from __future__ import annotations

from cubital.errors import InputError

FORM_WORDS = {
    "patient.number": ("Patient number", ""),
    "patient.family_name": ("Family name", ""),
    "patient.given_name": ("Given name", ""),
    "patient.birth_date": ("Born on", ""),
    "patient.weight_g": ("Weight", "Write kilograms, for example 61 or 3.2."),
    "patient.height_mm": ("Height", "Write centimetres, for example 165."),
    "patient.haematocrit_percent": ("Last haematocrit", ""),
    "patient.veins": ("Veins", ""),
    "patient.sex": ("Sex", ""),
    "tests": ("Tests", "Add at least one test or panel."),
    "number": ("Requisition number", ""),
    "collect_at": ("Collect on", ""),
    "requester": ("Requester", ""),
    "ward": ("Ward or place", ""),
    "remarks": ("Remarks", ""),
    "answers.fasting_h": ("Hours without food", ""),
    "answers.since_dose_h": ("Hours since last dose", ""),
    "answers.seated_min": ("Minutes seated", ""),
    "answers.supine_min": ("Minutes lying", ""),
}
"""Where the core says it, and how the form calls it; a mend where the form has another unit."""


def in_form_words(refused: InputError) -> str:
    """The same sentence, for somebody who looks at the form."""
    label, mend = FORM_WORDS.get(refused.where, (refused.where, ""))
    return str(InputError(refused.what, label, mend or refused.mend))
