"""Strangers at the chair: forged origins, other roles, and what a log line may hold."""

from __future__ import annotations

import json
import logging
import os
from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from django.test import Client

from cubital.custody import uuid7
from cubital.desk.record.models import (
    Badge,
    ChairSheet,
    Event,
    Habit,
    Patient,
    Person,
    RefusedEvent,
)
from tests.desk.test_safety import INLINE

POSTS = ("/chair/round/", "/chair/short/", "/chair/labels/", "/chair/habits/", "/switch/", "/lock/")


def strict(name: str) -> Client:
    """A client as a browser would be: a form's token is asked for."""
    client = Client(enforce_csrf_checks=True)
    client.force_login(Person.objects.get(username=name))
    return client


@pytest.mark.parametrize("address", POSTS)
def test_nothing_is_done_for_a_page_of_another_origin(clinic: datetime, address: str) -> None:
    """Without the token, or with a foreign Origin, every question of the chair is refused."""
    client = strict("mira")
    assert client.post(address).status_code == 403
    token = client.get("/chair/").cookies["csrftoken"].value
    forged = client.post(
        address, headers={"X-CSRFToken": token, "Origin": "https://elsewhere.example"}
    )
    assert forged.status_code == 403
    assert not ChairSheet.objects.exists()
    assert not Habit.objects.exists()
    assert client.session.get("locked") is not True


def test_the_token_of_the_page_opens_what_it_should(clinic: datetime) -> None:
    """The same client with its own token and origin is answered."""
    client = strict("mira")
    token = client.get("/chair/").cookies["csrftoken"].value
    answer = client.post(
        "/chair/round/", headers={"X-CSRFToken": token, "Origin": "http://testserver"}
    )
    assert answer.status_code == 200


@pytest.mark.parametrize("role", ["bench", "quality", "manager"])
def test_the_chair_is_the_collectors_alone(signed_in: Callable[[str], Client], role: str) -> None:
    """Its page, round and labels; and an event of the chair from another role is refused."""
    client = signed_in(role)
    assert client.get("/chair/").status_code == 403
    for address in POSTS[:4]:
        assert client.post(address).status_code == 403
    who = Person.objects.get(role=role).username
    answer = client.post("/api/events", {"events": [begun(who)]}, content_type="application/json")
    (verdict,) = answer.json()["answers"]
    assert verdict["verdict"] == "refused"
    assert "is written by collector" in verdict["sentence"]
    assert not Event.objects.exists()
    assert RefusedEvent.objects.count() == 1


def begun(who: str) -> dict[str, object]:
    """A draw that somebody says has begun."""
    now = datetime.now(UTC)
    return {
        "id": uuid7(now, os.urandom(10)), "site": "ostrel-valley", "kind": "draw_begun",
        "happened_at": now.isoformat(), "who": who, "subject": "draw:d-1",
        "payload": {"patient": "OV-10001", "requisition": "no-such"},
    }  # fmt: skip


def test_the_chair_page_needs_no_exception_to_the_strict_policy(
    signed_in: Callable[[str], Client],
) -> None:
    """No inline script or style; never framed; the worker's scope is the desk's own."""
    answer = signed_in("collector").get("/chair/")
    assert "unsafe" not in answer["Content-Security-Policy"]
    assert answer["X-Frame-Options"] == "DENY"
    assert not INLINE.search(answer.content.decode())
    assert "Service-Worker-Allowed" not in Client().get("/sw.js").headers


def test_no_log_line_names_a_patient(
    signed_in: Callable[[str], Client], caplog: pytest.LogCaptureFixture
) -> None:
    """Loaded, asked, refused, guessed at: no line of any level names anybody or a PIN."""
    caplog.set_level(logging.DEBUG)
    client = signed_in("collector")
    round_ = client.post("/chair/round/").json()
    sheet = next(d["sheet"] for d in round_["draws"] if d["sheet"])
    client.post(
        "/chair/short/", json.dumps({"sheet": sheet["code"], "obtained_ul": 900}),
        content_type="application/json",
    )  # fmt: skip
    client.post("/chair/labels/", {"sheet": sheet["code"]})
    client.post("/api/events", {"events": [begun("mira")]}, content_type="application/json")
    client.post("/switch/", {"badge": "BADGE-SECRET", "pin": "739104"})
    client.post("/chair/short/", "{", content_type="application/json")
    Client().get("/patients/OV-10001/")
    said = "\n".join(
        record.getMessage() for record in caplog.records if record.name != "django.db.backends"
    )
    names = {word for p in Patient.objects.all() for word in (p.family_name, p.given_name) if word}
    assert not [name for name in names if name in said]
    assert "739104" not in said
    assert "BADGE-SECRET" not in said


def test_badges_and_hashes_never_leave_the_desk_for_other_roles(
    signed_in: Callable[[str], Client],
) -> None:
    """A round names badges of collectors, for a hand-over offline; a hash is never in it."""
    mira = Person.objects.get(username="mira")
    Badge.objects.create(person=mira, code="B-1", pin="argon2$hash")
    joren = Person.objects.get(role="bench")
    Badge.objects.create(person=joren, code="B-2", pin="argon2$hash")
    text = signed_in("collector").post("/chair/round/").content.decode()
    assert "B-1" in text
    assert "B-2" not in text
    assert "argon2" not in text
