"""Nonsense into every box of the laboratory's side: never a fault, never silence."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client

from cubital.desk.record.models import WasteNow
from tests.desk.bench import accepted, minutes, noon
from tests.desk.way import requisition

Sign = Callable[[str], Client]
NONSENSE = [
    "x" * 500,
    "OL26\x001\x1b[31m\x1d2\x7f\ufeff\u200b",
    "бирка 標本 عينة ١٢٣ नमूना",
    "../a/b%00%2f<b>' OR 1=1 --",
    "1e400",
    "",
]


@pytest.fixture
def code(clinic: object) -> str:
    """An accepted tube that clots."""
    noon()
    (found,) = accepted(requisition(2), ("gel-5", ["potassium"]), ago=minutes(12))
    return found


def posts(code: str) -> list[tuple[str, str, dict[str, str]]]:
    """Every form that takes what somebody typed or scanned: role, address, field by field."""
    return [
        ("bench", "/reception/scan/", {"text": "?"}),
        ("bench", "/reception/register/", {"code": "?", "material": "urine", "patient": "OV-10001",
                                           "test": "urine-culture"}),
        ("bench", "/reception/register/", {"material": "?", "patient": "?", "test": "?",
                                           "requisition": "?", "collected_date": "?",
                                           "collected_time": "?", "volume_ml": "?",
                                           "temperature": "?", "timed_hours": "?",
                                           "vessel": "?", "preservative": "?", "tube": "?"}),
        ("bench", f"/reception/specimens/{code}/look/", {"fill": "?", "labels": "?",
                                                         "identity": "?", "container": "?"}),
        ("bench", f"/reception/specimens/{code}/look/", {"haemolysis": "?"}),
        ("bench", f"/reception/specimens/{code}/look/", {"temperature": "?"}),
        ("bench", f"/reception/specimens/{code}/look/", {"expires_on": "?"}),
        ("bench", f"/reception/specimens/{code}/decide/", {"decided_by": "?", "why": "?",
                                                           "leaking": "yes",
                                                           "test-potassium": "?"}),
        ("bench", f"/reception/specimens/{code}/here/", {"why": "?"}),
        ("bench", "/reception/phone/told/", {"code": "?", "told": "?", "how": "?", "note": "?"}),
        ("bench", "/reception/phone/told/", {"code": code, "told": "?", "how": "?", "note": "?"}),
        ("bench", "/reception/again/?/end/", {"why": "?"}),
        ("bench", "/transport/boxes/BOX-1/pack/", {"text": "?", "way": "in"}),
        ("bench", "/transport/boxes/BOX-1/plan/", {"to": "?", "cooling": "?", "courier": "?"}),
        ("bench", "/transport/boxes/BOX-1/send/", {"to": "?", "cooling": "?", "courier": "?",
                                                   "why": "?"}),
        ("bench", "/transport/boxes/BOX-1/found/", {"text": "?"}),
        ("bench", "/bench/load/big/scan/", {"tubes": code, "text": "?"}),
        ("bench", "/bench/load/big/scan/", {"tubes": "?", "text": code}),
        ("bench", "/bench/load/big/early/", {"tubes": code, "decided_by": "?", "why": "?"}),
        ("bench", "/bench/load/big/begin/", {"tubes": code, "seats": "?", "at": "?"}),
        ("bench", "/bench/load/big/begin/", {"tubes": "?", "seats": "?", "at": "?"}),
        ("bench", "/bench/storage/scan/", {"text": "?", "mode": "store", "shelf": "FR-A"}),
        ("bench", "/bench/storage/scan/", {"text": code, "mode": "?", "shelf": "?"}),
        ("bench", "/bench/storage/scan/", {"text": code, "mode": "store", "shelf": "?"}),
        ("bench", "/bench/storage/discard/", {"codes": "?"}),
        ("bench", f"/bench/specimens/{code}/store/", {"shelf": "?", "until": "?", "why": "?"}),
        ("bench", f"/bench/specimens/{code}/store/", {"shelf": "FR-A", "until": "?", "why": "?"}),
        ("bench", f"/bench/specimens/{code}/measured/", {"test": "?"}),
        ("bench", f"/bench/specimens/{code}/discard/", {"why": "?"}),
        ("bench", f"/bench/specimens/{code}/divide/make/", {"volume-0": "?", "volume": "?",
                                                            "haematocrit": "?"}),
        ("bench", f"/bench/specimens/{code}/portions/scan/", {"text": "?"}),
        ("bench", "/bench/boxes/BOX-1/expect/", {"at": "?"}),
        ("manager", "/bench/machines/add/", {"code": "?", "name": "?", "places": "?",
                                             "radius_mm": "?", "highest_rpm": "?"}),
        ("manager", "/bench/machines/shelves/add/", {"code": "?", "name": "?", "kind": "?"}),
        ("manager", "/bench/machines/take-over/", {"code": "?"}),
        ("bench", "/logbook/new/", {"what": "?", "happened_at": "?", "person": "?",
                                    "patient": "?", "note": "?"}),
        ("bench", "/logbook/new/", {"what": "haematoma", "patient": "?", "note": "?"}),
        ("quality", "/logbook/follow-ups/done/", {"code": "?", "event": "?", "action": "?",
                                                  "follow_up": "?", "incident": "?"}),
        ("bench", "/waste/open/", {"stream": "?", "code": "?"}),
        ("bench", "/waste/open/", {"stream": "sharps", "code": "?"}),
        ("bench", "/waste/hand-over/", {"code": "?", "to": "?"}),
        ("bench", "/waste/bag/W-1/step/", {"step": "?"}),
        ("bench", "/waste/bag/W-1/step/", {"step": "fill", "percent": "?"}),
        ("bench", "/waste/bag/W-1/step/", {"step": "weigh", "weight_kg": "?"}),
        ("bench", "/waste/bag/W-1/step/", {"step": "hand_over", "to": "?"}),
        ("bench", "/waste/bag/W-1/step/", {"step": "take_back", "why": "?"}),
        ("quality", "/waste/bag/W-1/correct/", {"event": "?", "value": "?", "date": "?",
                                                "time": "?", "why": "?", "act": "?"}),
        ("quality", "/indicators/make/", {"month": "?"}),
    ]  # fmt: skip


GETS = [
    ("bench", "/reception/open/", "text"), ("bench", "/transport/open/", "text"),
    ("bench", "/bench/open/", "text"), ("bench", "/bench/load/big/", "tubes"),
    ("bench", "/reception/register/", "requisition"), ("bench", "/reception/register/", "code"),
    ("bench", "/reception/register/", "patient"), ("bench", "/reception/register/", "material"),
    ("bench", "/reception/register/asked/", "material"), ("bench", "/bench/storage/", "mode"),
    ("bench", "/bench/storage/", "shelf"), ("bench", "/waste/find/", "q"),
    ("bench", "/waste/", "code"), ("bench", "/waste/tables/", "at"),
    ("bench", "/waste/tables/", "by"),
    ("bench", "/waste/disinfectant/", "stock"), ("bench", "/waste/disinfectant/", "use"),
    ("quality", "/logbook/", "q"), ("quality", "/logbook/", "from"),
    ("quality", "/logbook/", "page"),
    ("quality", "/logbook/", "place"), ("quality", "/logbook/", "heading"),
    ("quality", "/logbook/day/", "day"), ("quality", "/logbook/needle-sticks/", "from"),
    ("quality", "/logbook/follow-ups/", "place"),
    ("quality", "/indicators/", "month"), ("quality", "/indicators/report/", "month"),
    ("quality", "/indicators/report.pdf", "month"), ("quality", "/indicators/by/", "by"),
    ("quality", "/indicators/by/", "indicator"), ("quality", "/indicators/by/", "months"),
    ("quality", "/indicators/haemolysis/", "month"),
    ("collector", "/indicators/mine/", "month"),
]  # fmt: skip


@pytest.mark.parametrize("nonsense", NONSENSE, ids=[f"n{n}" for n in range(len(NONSENSE))])
def test_nonsense_is_answered_in_words(signed_in: Sign, code: str, nonsense: str) -> None:
    """Each form and each address: no fault of the server, and a sentence for whoever sent it."""
    clients = {role: signed_in(role) for role in ("bench", "quality", "manager", "collector")}
    for client in clients.values():
        client.raise_request_exception = False  # all that is wrong is told together
    clients["bench"].post("/waste/open/", {"stream": "sharps", "code": "W-1"})
    assert WasteNow.objects.filter(code="W-1").exists()
    wrong = []
    for role, address, fields in posts(code):
        said = {name: nonsense if value == "?" else value for name, value in fields.items()}
        for more in ({}, {"HX-Request": "true"}):
            answer = clients[role].post(address.replace("?", "no-such"), said, headers=more)
            if answer.status_code >= 500 or (answer.status_code == 200 and not answer.content):
                wrong.append((address, answer.status_code, more))
            elif answer.status_code == 302:
                page = clients[role].get(answer["Location"])
                if page.status_code >= 500:
                    wrong.append((address, answer["Location"], page.status_code))
    for role, address, field in GETS:
        answer = clients[role].get(address, {field: nonsense}, follow=True)
        if answer.status_code >= 500:
            wrong.append((address, field, answer.status_code))
    assert not wrong, wrong
