"""Requisitions of the invented Ostrel valley that each test spoils in one place."""

from typing import Any


def small(**changes: Any) -> dict[str, Any]:
    """A short requisition; ``patient_x`` changes a field of the patient."""
    patient: dict[str, Any] = {"number": "OV-0417", "family_name": "Sorrel"}
    document: dict[str, Any] = {"number": "R-1", "patient": patient, "tests": ["potassium"]}
    for name, value in changes.items():
        owner, field = (patient, name[8:]) if name.startswith("patient_") else (document, name)
        owner[field] = value
    return document


WHOLE: dict[str, Any] = {
    "schema": "cubital.requisition/1",
    "number": "R-2026-0007",
    "patient": {
        "number": "OV-0417",
        "family_name": "Sorrel",
        "given_name": "Ines",
        "birth_date": "1988-11-05",
        "sex": "female",
        "weight_g": 61000,
        "height_mm": 1650,
        "haematocrit_percent": 41.5,
        "veins": "thin",
        "conditions": [{"code": "mastectomy", "side": "left", "site": ""}],
        "prior_draws": [{"taken_at": "2026-02-27T07:30:00+05:45", "volume_ul": 9000}],
    },
    "tests": [
        {"code": "potassium", "priority": 1, "through": []},
        {"code": "glucose", "priority": 5, "through": []},
    ],
    "collect_at": "2026-03-02T07:30:00+05:45",
    "requester": "Dr Alder",
    "ward": "Pass post",
    "urgent": True,
    "answers": {
        "fasting_h": 10.5,
        "since_dose_h": None,
        "next_dose_due": False,
        "seated_min": 15.0,
        "supine_min": None,
    },
    "remarks": "Second line\nbelow.",
}
