"""A wrong step of a waste bag, corrected long after: both stay on record, the tables follow."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.test import Client

from cubital.desk.record.models import Event, Place, WasteNow
from cubital.desk.record.rebuild import rebuild
from cubital.desk.record.verify import verify
from tests.desk.quality import VALLEY, event, store

Sign = Callable[[str], Client]
CODE = "W-GONE"


@pytest.fixture
def gone(clinic: datetime) -> str:
    """A bag that was filled, closed, weighed and handed over yesterday."""
    then = datetime.now(UTC) - timedelta(days=1)
    steps = [
        ("waste_opened", {"scheme": "local", "stream": "soiled"}),
        ("waste_filled", {"percent": 50}),
        ("waste_closed", {}),
        ("waste_weighed", {"weight_g": 9000}),
        ("waste_handed_over", {"to": "the van"}),
    ]
    store([
        event(kind, f"waste:{CODE}", then + timedelta(minutes=n), **said)
        for n, (kind, said) in enumerate(steps)
    ])  # fmt: skip
    return CODE


def of(kind: str) -> str:
    """The id of the bag's step of a kind."""
    return str(Event.objects.get(kind=kind, subject=f"waste:{CODE}").uuid)


def correct(client: Client, kind: str, act: str = "correct", **said: str) -> object:
    """Correct a step, or take it back."""
    data = {"event": of(kind), "act": act, "why": "A slip of the pen.", **said}
    return client.post(f"/waste/bag/{CODE}/correct/", data)


@pytest.mark.parametrize(
    ("kind", "value", "field", "stands"),
    [
        ("waste_weighed", "0,9", "weight_g", 900),
        ("waste_handed_over", "the other van", "handed_to", "the other van"),
        ("waste_filled", "75", "fill_percent", 75),
        ("waste_opened", "plastic", "stream", "plastic"),
    ],
)
def test_a_step_is_corrected_after_the_bag_has_gone(
    signed_in: Sign, gone: str, kind: str, value: str, field: str, stands: object
) -> None:
    """What stands is right, what was entered first is said beside it, with who and why."""
    client = signed_in("quality")
    first = Event.objects.get(kind=kind).payload
    assert correct(client, kind, value=value).status_code == 302
    row = WasteNow.objects.get(code=gone)
    assert getattr(row, field) == stands
    assert row.state == "handed_over"
    assert Event.objects.get(kind=kind).payload == first
    page = client.get(f"/waste/bag/{gone}/").content.decode()
    assert "Entered first as" in page
    assert "A slip of the pen." in page
    assert "Sade Ellun" in page
    assert rebuild(only_compare=True).equal
    assert verify().holds


def test_the_tables_follow_a_correction(signed_in: Sign, gone: str) -> None:
    """Nine kilograms were nine hundred grams, and of another stream."""
    client = signed_in("quality")
    correct(client, "waste_weighed", value="0.9")
    correct(client, "waste_opened", value="plastic")
    table = client.get("/waste/tables/?by=year").content.decode()
    row = re.search(r"<tr><td>\d{4}</td>.*?</tr>", table.replace("\n", ""))
    said = table if row is None else row.group()
    assert "lastic" in said
    assert "0.9" in said
    assert "9.000" not in said


def test_a_time_is_corrected_within_its_turn(signed_in: Sign, gone: str) -> None:
    """Two days ago it was not open yet; in two days is still to come; ten seconds matter not."""
    client = signed_in("quality")
    early, late = (datetime.now(UTC) + timedelta(days=days) for days in (-2, 2))
    for at, sentence in ((early, "before it happened later"), (late, "still to come")):
        refused = correct(client, "waste_closed", date=f"{at:%Y-%m-%d}", time=f"{at:%H:%M}")
        assert refused.status_code == 422
        assert sentence in refused.content.decode()
    zone = ZoneInfo(Place.objects.get(code=VALLEY).time_zone)
    entered = Event.objects.get(kind="waste_opened").happened_at
    opened = entered.astimezone(zone) - timedelta(hours=3)
    said = {"value": "soiled", "date": f"{opened:%Y-%m-%d}", "time": f"{opened:%H:%M}"}
    assert correct(client, "waste_opened", **said).status_code == 302
    assert WasteNow.objects.get(code=gone).opened_at == opened.replace(second=0, microsecond=0)
    assert Event.objects.get(kind="waste_opened").happened_at == entered


def test_what_did_not_happen_is_taken_back_from_the_end(signed_in: Sign, gone: str) -> None:
    """Closing cannot go before what follows it; handed over, weighed, then closed can."""
    client = signed_in("quality")
    refused = correct(client, "waste_closed", act="withdraw")
    assert refused.status_code == 422
    assert "Take the later steps back first" in refused.content.decode()
    for kind, state in (
        ("waste_handed_over", "closed"), ("waste_weighed", "closed"), ("waste_closed", "open"),
    ):  # fmt: skip
        assert correct(client, kind, act="withdraw").status_code == 302
        assert WasteNow.objects.get(code=gone).state == state
    page = client.get(f"/waste/bag/{gone}/").content.decode()
    assert page.count(">taken back</span>") == 3
    assert rebuild(only_compare=True).equal


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({"value": "0.9", "why": " "}, "Say in a few words why"),
        ({"value": "heavy"}, "no weight"),
        ({"value": "0"}, "no weight of a bag"),
        ({"value": "9"}, "It stands so already"),
        ({"value": "0.9", "date": "2026-13-45", "time": "7"}, "no date and time"),
        ({"value": "0.9", "event": "no-such-event"}, "no such step"),
        ({"value": "0.9", "act": "withdraw", "event": "no-such-event"}, "no such step"),
    ],
)
def test_a_correction_that_cannot_be_is_refused(
    signed_in: Sign, gone: str, said: dict[str, str], sentence: str
) -> None:
    """One sentence; nothing changes; what was typed stays."""
    answer = correct(signed_in("quality"), "waste_weighed", **said)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert WasteNow.objects.get(code=gone).weight_g == 9000
    assert not Event.objects.filter(kind="event_corrected").exists()


def test_sent_twice_it_is_one_correction(signed_in: Sign, gone: str) -> None:
    """The second says that it stands so already."""
    client = signed_in("quality")
    correct(client, "waste_weighed", value="0.9")
    assert "stands so already" in correct(client, "waste_weighed", value="0.9").content.decode()
    assert Event.objects.filter(kind="event_corrected").count() == 1


def test_only_the_quality_role_corrects(signed_in: Sign, gone: str) -> None:
    """The others see the steps, and whom to ask."""
    for role in ("collector", "bench", "manager"):
        client = signed_in(role)
        page = client.get(f"/waste/bag/{gone}/").content.decode()
        assert "Its steps" in page
        assert "Correct this step" not in page
        assert correct(client, "waste_weighed", value="0.9").status_code == 403
