"""The outbox's door: POST /api/events."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import pytest
from django.test import Client

from cubital.custody import event_to
from cubital.desk.record.models import Event as EventRow
from cubital.desk.record.models import Person, RefusedEvent
from tests.record.small_desk import draw, event, fill

pytestmark = pytest.mark.django_db
URL = "/api/events"


@pytest.fixture
def client(db: None) -> Client:
    """Mira, signed in at the chair."""
    fill()
    signed_in = Client()
    signed_in.force_login(Person.objects.get(username="mira"))
    return signed_in


def post(client: Client, events: Any, **headers: str) -> Any:
    """Send events as the outbox does."""
    return client.post(URL, json.dumps({"events": events}), content_type="application/json",
                       headers=headers)  # fmt: skip


def answers(client: Client, events: Sequence[Any]) -> list[dict[str, Any]]:
    """The answers to events that are heard at all."""
    response = post(client, events)
    assert response.status_code == 200, response.content
    found: list[dict[str, Any]] = response.json()["answers"]
    return found


def test_a_draw_from_an_outbox_is_stored_and_the_second_time_already_there(client: Client) -> None:
    """The outbox may send again whatever it has no answer to."""
    shapes = [event_to(each) for each in draw("D-1", "S-1")]
    first, second = answers(client, shapes), answers(client, shapes)
    assert [a["verdict"] for a in first] == ["stored"] * len(shapes)
    assert [a["verdict"] for a in second] == ["already"] * len(shapes)
    assert [a["sequence"] for a in first] == [a["sequence"] for a in second]
    assert [a["id"] for a in first] == [shape["id"] for shape in shapes]
    assert EventRow.objects.count() == len(shapes)
    assert set(EventRow.objects.values_list("sent_by", flat=True)) == {"mira"}


def test_each_event_is_answered_on_its_own(client: Client) -> None:
    """A good one between a broken, an impossible and a changed one."""
    good = draw("D-1")[0]
    impossible = event("tourniquet_off", "draw:D-9")
    changed = {**event_to(good), "device": "another"}
    found = answers(client, [{"id": "x"}, event_to(good), event_to(impossible), changed, 7])
    verdicts = [a["verdict"] for a in found]
    assert verdicts == ["refused", "stored", "refused", "refused", "refused"]
    assert all(a["sentence"].endswith(".") for a in found if a["verdict"] == "refused")
    assert found[0]["id"] == "x"
    kept = set(RefusedEvent.objects.values_list("sentence", flat=True))
    assert kept == {a["sentence"] for a in found if a["verdict"] == "refused"}


STRANGE = (
    None, [], "event", 1.5, {"id": {"a": 1}}, {"id": "\ud800"}, {"payload": {"a": float("nan")}},
    {"\x00": 1}, {"subject": "draw:\x00"}, {"kind": "\u202e"}, {"payload": {"\ud800": 1}},
    {"id": "x" * 100_000},
)  # fmt: skip


@pytest.mark.parametrize("shape", STRANGE)
def test_strange_shapes_are_refused_in_one_sentence(client: Client, shape: Any) -> None:
    """Whatever stands in the list, the answer is a refusal, and it is kept."""
    (answer,) = answers(client, [shape])
    assert answer["verdict"] == "refused"
    assert RefusedEvent.objects.get().sentence == answer["sentence"]


def test_strange_members_of_a_good_event_are_refused(client: Client) -> None:
    """Every member of a whole event, replaced by strange things."""
    whole = event_to(event("draw_begun", "draw:D-1", patient="P-1", requisition="R-1"))
    strange = ["\x00", "\ud800", 1.5, [], {}, "x" * 9000, True, 10**30, "\u2028", " "]
    for name in whole:
        shapes = [{**whole, name: value} for value in strange]
        found = answers(client, shapes)
        taken = [strange[n] for n, a in enumerate(found) if a["verdict"] != "refused"]
        assert taken == [], name


@pytest.mark.parametrize(
    ("body", "status"),
    [
        ("", 422),
        ("{", 400),
        ("[]", 422),
        ("{}", 422),
        ('{"events": []}', 422),
        ('{"events": {}}', 422),
        (json.dumps({"events": [{}] * 201}), 422),
        ("[" * 100_000, 400),
    ],
)
def test_what_is_no_list_of_events_is_a_client_error(
    client: Client, body: str, status: int
) -> None:
    """Never a server error, and nothing is kept."""
    response = client.post(URL, body, content_type="application/json")
    assert response.status_code == status
    assert not EventRow.objects.exists()


def test_whoever_has_not_signed_in_is_told_so(client: Client) -> None:
    """401 without a session; nothing is written."""
    response = post(Client(), [event_to(draw("D-1")[0])])
    assert response.status_code == 401
    assert not EventRow.objects.exists()


def test_a_page_of_another_origin_cannot_write(client: Client) -> None:
    """A session without the CSRF token is a forged request: 403."""
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(Person.objects.get(username="mira"))
    response = post(strict, [event_to(draw("D-1")[0])])
    assert response.status_code == 403
    assert not EventRow.objects.exists()
    token = "a" * 32
    strict.cookies["csrftoken"] = token
    assert post(strict, [event_to(draw("D-1")[0])], **{"X-CSRFToken": token}).status_code == 200


def test_another_role_may_not_write_what_is_not_its_own(client: Client) -> None:
    """Judged event by event: the quality officer records an incident, but no draw."""
    other = Client()
    other.force_login(Person.objects.get(username="vera"))
    incident = event("incident_recorded", "incident:I-1", what="spill", who="vera")
    found = answers(other, [event_to(draw("D-1")[0]), event_to(incident)])
    assert [a["verdict"] for a in found] == ["refused", "stored"]
    assert "vera is quality" in found[0]["sentence"]


def test_the_description_names_every_status_and_kind(client: Client) -> None:
    """OpenAPI: signed in only; 401, 403 and 422 declared; the event's shape with its kinds."""
    assert Client().get("/api/openapi.json").status_code == 302
    described = client.get("/api/openapi.json").json()
    operation = described["paths"][URL]["post"]
    assert set(operation["responses"]) == {"200", "400", "401", "403", "422"}
    shape = described["components"]["schemas"]["EventsIn"]["properties"]["events"]["items"]
    assert "tube_scanned" in shape["properties"]["kind"]["enum"]
