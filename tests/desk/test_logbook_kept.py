"""A box outside its band and a tube nobody knows stand in the logbook by themselves."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest
from django.test import Client
from django.utils import timezone

from cubital.accession import accession_number
from cubital.desk.record.models import BoxLog, IncidentNow, LogReading, Person, Stranger
from cubital.desk.record.requisitions import accessions_give
from tests.desk.test_reception import scan
from tests.desk.test_transport_log import WARM, csv, upload
from tests.desk.way import PASS, boxed, drawn, requisition

Sign = Callable[[str], Client]
NUMBER = accession_number("ZZ", date(2026, 1, 2), 7)


@pytest.fixture
def bench(signed_in: Sign) -> Client:
    """Somebody at the bench of the valley's laboratory."""
    return signed_in("bench")


@pytest.fixture
def quality(signed_in: Sign) -> Client:
    """Who keeps the logbook."""
    return signed_in("quality")


def lines(client: Client, more: str = "") -> list:
    """The log of yesterday and today."""
    day = timezone.localdate()
    return client.get(f"/logbook/?from={day - timedelta(days=1)}&to={day}{more}").context["lines"]


def travelled(bench: Client, celsius: list[float]) -> BoxLog:
    """A box from the pass, opened here, with its log."""
    codes = drawn(requisition(15), ("edta-3", ["fbc"]), site=PASS, ago=timedelta(hours=4))
    boxed("B-7", codes, ago=timedelta(hours=3))
    bench.post("/transport/boxes/B-7/open/")
    upload(bench, csv(celsius))
    return BoxLog.objects.get()


def name(username: str) -> str:
    """As people know them."""
    return Person.objects.get(username=username).shown_name


def test_a_box_outside_its_band_stands_in_the_log(bench: Client, quality: Client) -> None:
    """What, when it first left the band, and who read the log; search finds the box."""
    row = travelled(bench, WARM)
    (line,) = lines(quality, "&q=b-7")
    assert line.entry.what == "Box B-7 left its band of 15 to 25 °C: up to 33.0 °C"
    assert (line.heading, line.entry.code, line.who) == (
        "Non-conformance", "too-warm", name("joren"),
    )  # fmt: skip
    first = LogReading.objects.filter(log=row, celsius__gt=25).order_by("number").first()
    assert line.entry.at == first.at
    said = quality.get(f"/logbook/entry/log-{row.pk}/").content.decode()
    assert "logger.csv, room temperature" in said
    assert "box:B-7" in said


def test_a_box_within_its_band_does_not(bench: Client, quality: Client) -> None:
    """Both ends of the band are allowed; it has no page there either."""
    row = travelled(bench, [15.0, 20.0, 25.0])
    assert lines(quality, "&q=b-7") == []
    assert quality.get(f"/logbook/entry/log-{row.pk}/").status_code == 404


def test_a_box_that_was_too_cold_and_too_warm_says_both(bench: Client, quality: Client) -> None:
    """One line for one log."""
    travelled(bench, [20.0, 3.0, 20.0, 31.5, 20.0])
    (line,) = lines(quality, "&q=b-7")
    assert line.entry.what.endswith(": up to 31.5 °C and down to 3.0 °C")


def test_a_tube_nobody_knows_stands_in_the_log(bench: Client, quality: Client) -> None:
    """Once, however often it is scanned; what became of it follows."""
    scan(bench, NUMBER)
    scan(bench, NUMBER)
    (line,) = lines(quality, f"&q={NUMBER}")
    row = Stranger.objects.get()
    assert line.entry.what == f"Arrived, and nobody knew it: {NUMBER}"
    assert (line.heading, line.who, line.entry.at) == (
        "Non-conformance", name("joren"), row.arrived_at,
    )  # fmt: skip
    assert row.why in line.entry.note
    bench.post(f"/reception/unknown/{row.pk}/settle/", {"how": "sent_back", "note": "To Surgery 2"})
    (line,) = lines(quality, f"&q={NUMBER}")
    assert f"by {name('joren')}: sent back to where it came from; To Surgery 2." in line.entry.note
    sheet = quality.get(f"/logbook/day/?day={timezone.localdate(row.arrived_at)}")
    assert [each.entry.event for each in sheet.context["lines"]] == [f"unknown-{row.pk}"]


def test_a_tube_that_came_before_its_chairs_events_goes_once_they_come(
    bench: Client, quality: Client
) -> None:
    """While nobody has told of it, it stands there; told of later, it was no slip."""
    (number,) = accessions_give(
        requisition=requisition(2), containers=[(1, "gel-3.5")], day=timezone.localdate()
    ).values()
    assert scan(bench, number)[0] == "ask"
    assert len(lines(quality, f"&q={number}")) == 1
    row = Stranger.objects.get()
    bench.post(f"/reception/unknown/{row.pk}/settle/", {"how": "known"})
    assert lines(quality, f"&q={number}") == []


def test_an_action_makes_an_incident_of_it(bench: Client, quality: Client) -> None:
    """As of every other slip; the entry then names its incident."""
    scan(bench, NUMBER)
    address = f"/logbook/entry/unknown-{Stranger.objects.get().pk}/"
    answer = quality.post(f"{address}action/", {"action": "Called the sender."})
    row = IncidentNow.objects.get()
    assert answer.status_code == 302
    assert (row.what, row.specimen) == ("not-registered", NUMBER)
    assert f"incident {row.code}" in quality.get(address).content.decode()
    assert "Called the sender." in quality.get(f"/logbook/entry/{row.code}/").content.decode()


def test_an_action_on_a_box_and_its_form(bench: Client, quality: Client) -> None:
    """The incident says which box; the form is printed."""
    row = travelled(bench, WARM)
    address = f"/logbook/entry/log-{row.pk}/"
    assert quality.post(f"{address}action/", {"action": "New cold packs."}).status_code == 302
    assert IncidentNow.objects.get().what == "too-warm"
    assert "Box B-7 left its band" in quality.get(f"{address}form/").content.decode()
    (made, _) = lines(quality, "&q=b-7")
    assert "Box B-7 left its band" in made.entry.note


def test_other_days_and_other_places_are_left_out(
    bench: Client, quality: Client, signed_in: Sign
) -> None:
    """A log of the valley is not the pass's; last month's is not today's."""
    travelled(bench, WARM)
    scan(bench, NUMBER)
    assert len(lines(quality, "&heading=non_conformance")) == 2
    before = datetime.now(UTC).date() - timedelta(days=40)
    page = quality.get(f"/logbook/?from={before}&to={before + timedelta(days=2)}")
    assert page.context["lines"] == []
    Stranger.objects.update(place=requisition(15).place)
    BoxLog.objects.update(site=PASS)
    assert len(lines(quality, "&heading=non_conformance&place=all")) == 2
    assert lines(quality, "&heading=non_conformance") == []


@pytest.mark.parametrize(
    "key", ["log-", "log-x", "log-99", "unknown-99", "unknown-²", "log-" + "9" * 40]
)
def test_a_key_that_names_nothing_is_no_page(quality: Client, key: str) -> None:
    """A made-up address says that there is none."""
    assert quality.get(f"/logbook/entry/{key}/").status_code == 404


def test_who_keeps_no_logbook_does_not_see_it(bench: Client) -> None:
    """The bench scans it and reads no log."""
    scan(bench, NUMBER)
    assert bench.get(f"/logbook/entry/unknown-{Stranger.objects.get().pk}/").status_code == 403
