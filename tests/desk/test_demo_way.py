"""The demo's way to the bench: something to scan, to open, to phone and to ask about."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from django.test import Client

from cubital.desk.demo.past import past_fill
from cubital.desk.demo.way import way_fill
from cubital.desk.record.models import SpecimenNow
from tests.desk.test_reception import scan


@pytest.fixture
def demo(clinic: datetime) -> datetime:
    """The demo with a past fortnight and this morning's way."""
    now = datetime.now(UTC)
    past_fill(now=now, weeks=2)
    assert way_fill(now=now) is True
    return now


def test_the_demo_shows_the_way_to_the_bench(
    demo: datetime, signed_in: Callable[[str], Client]
) -> None:
    """A tray with one too short and one old, an open box with a log, a call, a question."""
    client = signed_in("bench")
    boxes = dict(client.get("/transport/").context["lists"])
    codes = [each["row"].code for each in boxes["Opened here"]]
    (code,) = [each for each in codes if each.endswith("-W")]
    opened = client.get(f"/transport/boxes/{code}/")
    assert len(opened.context["awaited"]) == 3
    log = client.get(f"/transport/logs/{opened.context['logs'][0].pk}/")
    assert log.context["excursions"]
    assert log.context["flights"]
    calls = client.get("/reception/phone/").context["calls"]
    assert [(call.ward, len(call.lines)) for call in calls] == [("Lung clinic", 1)]
    assert client.get("/reception/").context["strangers_count"] == 1
    tray = SpecimenNow.objects.filter(state="labelled", site="ostrel-valley", fill__gt="")
    kinds = [scan(client, row.code)[0] for row in tray if row.code.startswith("OL")]
    assert sorted(kinds) == ["good", "good", "good", "good", "good", "note", "stop"]
    assert way_fill(now=demo) is False
