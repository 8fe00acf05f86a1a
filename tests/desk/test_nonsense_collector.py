"""Nonsense into every box of the collector's side: never a fault, never silence."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client

from cubital.desk.record.models import Requisition
from tests.desk.test_nonsense import NONSENSE
from tests.desk.test_requisition import FORM

Sign = Callable[[str], Client]
GETS = (
    "/", "/find/", "/patients/", "/new/", "/new/patients/", "/new/patient/", "/new/tests/",
    "/new/take/", "/new/asks/", "/new/condition/", "/catalogue/",
)  # fmt: skip


@pytest.mark.parametrize("nonsense", NONSENSE)
def test_what_is_asked_with_nonsense_is_answered(signed_in: Sign, nonsense: str) -> None:
    """Every box that searches, opens or adds a piece, signed in as a collector."""
    client = signed_in("collector")
    asked = dict.fromkeys(("q", "day", "code", "patient", "test", "condition_code"), nonsense)
    number = Requisition.objects.get(number__endswith="D14").number
    for address in (*GETS, f"/requisitions/{number}/short/", f"/requisitions/{number}/add-on/"):
        more = {"obtained": nonsense, "add_test": nonsense, "drawn_date": nonsense}
        answer = client.get(address, asked | more, follow=True)
        assert answer.status_code < 500, address
        assert len(answer.content) < 400_000


@pytest.mark.parametrize("nonsense", NONSENSE)
def test_what_is_sent_with_nonsense_is_answered(signed_in: Sign, nonsense: str) -> None:
    """Every form of the collector and the manager, one field after another: a page answers."""
    row = Requisition.objects.get(number__endswith="D14")
    at = f"/requisitions/{row.number}"
    names = "number family_name given_name birth_date sex weight_kg height_cm veins condition"
    person = dict.fromkeys(names.split(), nonsense)
    forms = [
        ("collector", "/new/", FORM, [*FORM, "remarks", "requisition_number", "fasting_h"]),
        ("collector", "/new/", {**FORM, **person, "known_patient": ""}, []),
        ("collector", f"/patients/{row.patient.number}/change/", person, []),
        ("collector", f"{at}/answers/", {}, ["fasting_h", "seated_min", "next_dose_due", "seen"]),
        ("collector", f"{at}/answer/", {}, ["finding", "why"]),
        ("collector", f"{at}/cancel/", {}, ["why"]),
        ("collector", "/switch/", {"badge": "B", "pin": "1"}, ["badge"]),
        ("collector", "/work-at/", {}, ["place"]),
        ("collector", "/chair/labels/", {}, ["sheet", "tube"]),
        ("manager", "/stock/", {"container": "edta-3", "number": "L", "expires_on": "2030-01-01",
                                "count": "3"}, ["container", "number", "expires_on", "count"]),
        ("manager", "/place/new/", {}, ["code", "name", "letters", "altitude_m", "time_zone"]),
    ]  # fmt: skip
    for role, address, form, names in forms:
        client = signed_in(role)
        for sent in [form, *({**form, name: nonsense} for name in names)]:
            answer = client.post(address, sent, follow=True)
            assert answer.status_code < 500, (address, sent)
            assert answer.content, (address, sent)
