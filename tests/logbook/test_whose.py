"""Whom an entry concerns, who sees what is due, and patients pricked more than once."""

from __future__ import annotations

from datetime import UTC

from cubital.catalogue import shipped
from cubital.logbook import (
    concerned,
    exposures,
    is_exposure,
    log_entries,
    named,
    prick_entries,
    search,
    seen_by,
)
from tests.chair.makers import Story
from tests.logbook.test_entries import story


def entries(day: Story):
    """The log of a story."""
    return log_entries(day.events, shipped(), UTC)


def two_incidents() -> Story:
    """A needlestick of one person and a haematoma of a patient."""
    day = story()
    day.add("incident_recorded", "incident:i-2", what="haematoma", draw="d-1")
    return day


def test_an_exposure_is_of_a_person_who_works_here() -> None:
    """A needlestick is one; a patient's haematoma and a wrong tube are none."""
    found = {entry.code: is_exposure(entry, shipped()) for entry in entries(two_incidents())}
    assert found == {"needlestick": True, "haematoma": False, "tube-expired": False}


def test_others_do_not_see_somebody_elses_exposure() -> None:
    """The person concerned sees everything of the place; a colleague all but the needlestick."""
    log = entries(two_incidents())
    assert {e.code for e in seen_by(log, "mira", shipped())} == {e.code for e in log}
    assert {e.code for e in seen_by(log, "joren", shipped())} == {"haematoma", "tube-expired"}


def test_without_a_name_it_concerns_whoever_wrote_it() -> None:
    """An incident that names nobody is its writer's own."""
    day = story().add("incident_recorded", "incident:i-3", what="splash")
    splash = next(e for e in entries(day) if e.code == "splash")
    assert concerned(splash) == (splash.who,)


def test_an_exposure_stays_on_the_first_page_until_closed() -> None:
    """Closed, it is gone from there; the haematoma never stands there."""
    day = two_incidents()
    assert [e.code for e in exposures(entries(day), shipped())] == ["needlestick"]
    day.add("incident_followed_up", "incident:i-1", action="All done.", closed=True)
    assert exposures(entries(day), shipped()) == ()


def test_an_entry_is_found_by_the_name_people_know() -> None:
    """Sign-in names stand in the events; people search by each other's names."""
    log = [named(entry, {"mira": "Mira Tolvan"}) for entry in entries(story())]
    assert [e.code for e in search(log, "tolvan needlestick")] == ["needlestick"]


def test_more_than_one_needle_is_an_entry_by_itself() -> None:
    """With why the first did not do, at the time of the second; one needle alone is none."""
    day = story()
    (prick,) = prick_entries(day.events, shipped())
    assert (prick.heading, prick.what) == ("prick", "Pricked 2 times: Vein entered but no flow")
    assert (prick.patient, prick.requisition, prick.subject) == ("104233", "R-1", "draw:d-1")
    second = [e for e in day.events if e.kind == "attempt_begun"][1]
    assert (prick.at, prick.event) == (second.happened_at, second.id)
    once = Story().add("draw_begun", patient="1", requisition="R-1").needle("a-1")
    assert prick_entries(once.events, shipped()) == ()
