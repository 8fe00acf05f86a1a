"""Answers about the preparation, changed after the requisition was stored; what the chair heard."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.http import HttpResponse
from django.test import Client
from django.utils import timezone

from cubital.custody import Event as Happened
from cubital.custody import uuid7
from cubital.desk.record.events import append_event
from cubital.desk.record.models import DrawFinding, Event, Person, Requisition


def numbered(end: str) -> Requisition:
    """A requisition of the morning."""
    return Requisition.objects.get(number__endswith=end)


def shown(client: Client, row: Requisition) -> HttpResponse:
    """The plan's page."""
    return client.get(f"/requisitions/{row.number}/")


def post(client: Client, row: Requisition, **typed: str) -> HttpResponse:
    """Store answers."""
    return client.post(f"/requisitions/{row.number}/answers/", typed, follow=True)


def open_questions(answer: HttpResponse) -> set[str]:
    """Codes of what the plan asks, or stops, about the preparation."""
    found = [each for each in answer.context["planned"].findings if each.severity != "note"]
    return {each.code for each in found if each.code.startswith("preparation-")}


def test_answers_are_changed_by_an_event_and_the_plan_follows(
    signed_in: Callable[[str], Client],
) -> None:
    """Lithium twelve hours after the dose: asked, then met; the row stays as entered."""
    client, row = signed_in("collector"), numbered("D14")
    before = shown(client, row)
    assert "preparation-unknown" in open_questions(before)
    answer = post(client, row, since_dose_h="12,0", next_dose_due="yes")
    assert open_questions(answer) == set()
    assert "Stored; the plan follows." in answer.content.decode()
    (event,) = Event.objects.filter(kind="requisition_answered")
    assert (event.who, event.subject) == ("mira", f"requisition:{row.number}")
    assert json.loads(event.payload) == {"since_dose_min": 720, "next_dose_due": True}
    after = numbered("D14")
    assert (after.since_dose_h, after.document) == (row.since_dose_h, row.document)
    lines = dict(answer.context["answer_lines"])
    assert lines["Hours since last dose"] == "12"
    assert lines["Hours without food"] == ""
    listed = client.get("/").context["listed"]
    assert next(e["found"].ask for e in listed if e["row"] == row) == 0


def test_the_chair_asks_no_more_what_was_answered_at_the_desk(
    signed_in: Callable[[str], Client],
) -> None:
    """The round is made with the answers as they stand."""
    client, row = signed_in("collector"), numbered("D14")

    def asked() -> list[dict[str, str]]:
        round_ = client.post("/chair/round/").json()
        draw = next(d for d in round_["draws"] if d["requisition"] == row.number)
        return [each for each in draw["show"]["asked"] if each["severity"] != "note"]

    assert {each["state"] for each in asked()} == {"unknown"}
    post(client, row, since_dose_h="12", next_dose_due="yes")
    assert asked() == []
    seen = Event.objects.get(kind="requisition_answered").uuid
    post(client, row, since_dose_h="3", next_dose_due="yes", seen=seen)
    assert {each["state"] for each in asked()} == {"unmet"}


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"fasting_h": "since supper"}, "is no number"),
        ({"seated_min": "-5"}, "cannot be"),
        ({"supine_min": "1e400"}, "is no number"),
    ],
)
def test_what_is_refused_stays_as_it_was_typed(
    signed_in: Callable[[str], Client], typed: dict[str, str], words: str
) -> None:
    """One sentence beside the form, everything else typed is still there, nothing is recorded."""
    client, row = signed_in("manager"), numbered("D14")
    answer = client.post(f"/requisitions/{row.number}/answers/", {"since_dose_h": "11.5", **typed})
    text = answer.content.decode()
    assert answer.status_code == 422
    assert words in text
    assert 'value="11.5"' in text
    assert f'value="{next(iter(typed.values()))}"' in text
    assert not Event.objects.filter(kind="requisition_answered").exists()


def test_two_people_who_change_it_at_once(signed_in: Callable[[str], Client]) -> None:
    """The second is told, and loses nothing of what was typed; the same again is no event."""
    client, row = signed_in("collector"), numbered("D14")
    post(client, row, since_dose_h="12")
    late = client.post(f"/requisitions/{row.number}/answers/", {"fasting_h": "9"})
    assert late.status_code == 422
    assert "Somebody else changed these answers meanwhile" in late.content.decode()
    assert 'value="9"' in late.content.decode()
    seen = late.context["answered"].event
    again = post(client, row, since_dose_h="12", seen=seen)
    assert "Nothing has changed." in again.content.decode()
    assert Event.objects.filter(kind="requisition_answered").count() == 1
    post(client, row, fasting_h="9", seen=seen)
    assert dict(shown(client, row).context["answer_lines"])["Hours since last dose"] == ""


def test_who_may_and_when(signed_in: Callable[[str], Client]) -> None:
    """Neither bench nor quality, and not once the blood is drawn; the answers stand there."""
    row = numbered("D14")
    for role in ("bench", "quality"):
        client = signed_in(role)
        assert "the answers</summary>" not in shown(client, row).content.decode()
        assert client.post(f"/requisitions/{row.number}/answers/").status_code == 403
    drawn = numbered("D02")
    client = signed_in("collector")
    text = shown(client, drawn).content.decode()
    assert "What the patient says" in text
    assert "the answers</summary>" not in text
    answer = client.post(f"/requisitions/{drawn.number}/answers/", {"fasting_h": "9"})
    assert "it does not wait" in answer.content.decode()


def test_what_the_chair_was_told_stands_on_the_plan(signed_in: Callable[[str], Client]) -> None:
    """The sentence that was read out, the answer, who and when; and what was found in the draw."""
    client, row = signed_in("collector"), numbered("D14")
    mira, now = Person.objects.get(username="mira"), timezone.now()
    said = [
        ("draw_begun", {"patient": row.patient.number, "requisition": row.number}),
        ("preparation_answered", {"need": "after_dose_h", "answer": "not_met", "test": "lithium"}),
    ]
    for number, (kind, payload) in enumerate(said):
        at = now - timedelta(minutes=9 - number)
        append_event(
            event=Happened(
                id=uuid7(at, number.to_bytes(10, "big")), site="ostrel-valley", kind=kind,
                happened_at=at, who="mira", subject="draw:d-14", payload=payload,
            ),
            person=mira,
            now=now,
        )  # fmt: skip
    DrawFinding.objects.create(
        draw="d-14", number=1, code="identifiers-few", severity="note",
        sentence="Only 2 of 3 identifiers are known, no birth date. Unconscious.",
        source="who_identification_2007", subject="",
    )  # fmt: skip
    text = shown(client, row).content.decode()
    assert "Draw lithium 12 hours after the last dose" in text
    assert "<strong>No</strong>" in text
    assert "Only 2 of 3 identifiers are known" in text
