"""What the logbook and waste ask of the record, on both databases."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from cubital.catalogue import shipped
from cubital.desk.record import selectors_quality as quality
from cubital.desk.record import waste
from cubital.desk.record.events import append_events
from cubital.desk.record.models import Person, Place, WasteNow
from cubital.desk.record.rebuild import rebuild
from tests.record.small_desk import draw, event


def test_the_logbook_reads_its_own_kinds_with_what_mends_them(database: str) -> None:
    """An incident and its follow-up are read with their draw; withdrawn they are not."""
    events = [
        *draw("D-1", "T-1"),
        event("incident_recorded", "incident:I-1", what="spill", draw="D-1"),
        event("incident_followed_up", "incident:I-1", action="Wiped."),
    ]
    append_events(events=events, person="mira")
    now = datetime.now(UTC)
    span = {"start": now - timedelta(hours=1), "end": now + timedelta(hours=1)}
    kinds = [e.kind for e in quality.logged(site="valley", **span)]
    assert kinds == ["draw_begun", "incident_recorded", "incident_followed_up"]
    assert quality.logged(site="pass", **span) == ()
    assert quality.specimens_whose(["T-1", "no-such"]) == {"T-1": ("P-1", "R-1")}
    incident, followed = events[-2:]
    mends = [
        event("event_withdrawn", each.subject, corrects=each.id, reason="Another room.")
        for each in (followed, incident)
    ]
    append_events(events=mends, person="mira")
    assert quality.logged(site="valley", **span) == ()
    assert quality.open_incidents() == ()


def test_a_bag_goes_its_way(database: str) -> None:
    """Opened, closed, weighed, handed over; what stands here and what was closed are found."""
    place, mira = Place.objects.get(code="valley"), Person.objects.get(username="mira")
    now = datetime.now(UTC)
    code = waste.waste_open(
        place=place, by=mira, now=now, catalogue=shipped(), stream="sharps", code=""
    )
    assert [row.code for row in quality.waste_here(place)] == [code]
    waste.waste_close(row=WasteNow.objects.get(), by=mira, now=now)
    waste.waste_weigh(row=WasteNow.objects.get(), by=mira, now=now, weight_g=1200)
    waste.waste_hand_over(rows=[WasteNow.objects.get()], by=mira, now=now, to="the van")
    assert list(quality.waste_here(place)) == []
    day = timedelta(days=1)
    (row,) = quality.waste_closed(site="valley", start=now - day, end=now + day)
    assert (row.weight_g, row.handed_to) == (1200, "the van")
    assert rebuild(only_compare=True).equal
