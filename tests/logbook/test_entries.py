"""The log comes out of the events by itself."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, timedelta

import pytest

from cubital.catalogue import shipped
from cubital.custody import check_event
from cubital.logbook import day_sheet, log_entries, open_follow_ups, search, stick_log
from tests.chair.makers import BEGIN, Story


def story() -> Story:
    """A draw with two sticks, a wrong tube, and a needlestick of the collector."""
    day = Story()
    day.add("draw_begun", patient="104233", requisition="R-1")
    day.add("tourniquet_on").needle("a-1").failed("a-1", "no_flow").add("tourniquet_off")
    day.add("tube_refused", finding="tube-expired", container="edta-30")
    day.needle("a-2")
    day.add("attempt_ended", "attempt:a-2", draw="d-1", success=True)
    day.add("draw_finished")
    day.add("incident_recorded", "incident:i-1", what="needlestick", draw="d-1", people=["mira"])
    return day


def log(day: Story):
    """The log in the valley's hours."""
    for event in day.events:
        check_event(event)
    return log_entries(day.events, shipped(), UTC)


def test_incidents_and_slips_stand_in_one_log() -> None:
    """Newest first, in words, with patient and requisition from the draw."""
    entries = log(story())
    assert [e.what for e in entries] == [
        "Incident: Needlestick of the collector",
        "Wrong tube caught at the chair: Tube was expired at the draw",
    ]
    assert {(e.patient, e.requisition) for e in entries} == {("104233", "R-1")}


def test_a_needlestick_leaves_follow_ups_until_each_is_done() -> None:
    """What is due stands on the first page, most urgent first, until somebody closes it."""
    day = story()
    due = open_follow_ups(log(day))
    happened = day.events[-1].happened_at
    assert due[0].code == "physician-now"
    assert due[0].until == happened + timedelta(hours=2)
    assert [f.until for f in due] == sorted(f.until for f in due)
    assert {"baseline", "hiv-first", "hcv-rna", "hcv-antibody"} <= {f.code for f in due}
    assert all(f.source in shipped().sources for f in due)
    day.add("incident_followed_up", "incident:i-1", action="physician-now")
    assert "physician-now" not in {f.code for f in open_follow_ups(log(day))}
    assert not log(day)[0].closed
    day.add("incident_followed_up", "incident:i-1", action="all clear", closed=True)
    assert open_follow_ups(log(day)) == ()
    assert log(day)[0].closed
    assert log(day)[0].actions == ("physician-now", "all clear")


def test_somebody_asks_for_something_by_a_day() -> None:
    """A follow-up with a date of its own opens, with its owner, and can be overdue."""
    day = story()
    day.add("incident_followed_up", "incident:i-1", action="talk to the supplier",
            due_on="2026-11-30", owner="sade")  # fmt: skip
    asked = next(f for f in open_follow_ups(log(day)) if f.owner == "sade")
    assert asked.until.date() == date(2026, 11, 30)
    assert not asked.overdue(asked.until)
    assert asked.overdue(asked.until + timedelta(seconds=1))


def test_going_on_although_a_rule_asked_says_which_and_why() -> None:
    """The finding is the entry's code and stands in its words; the reason is the note."""
    day = story()
    day.add("override_given", finding="test-asked-twice", reason="The first one clotted.")
    entry = next(e for e in log(day) if e.heading == "override")
    assert (entry.code, entry.note) == ("test-asked-twice", "The first one clotted.")
    assert entry.what == "Went on although a rule asked: test asked twice"


def test_recorded_and_followed_up_in_the_same_moment() -> None:
    """Two events of one moment, whichever id sorts first: the follow-up is never lost."""
    day = story()
    day.add("incident_followed_up", "incident:i-1", action="show it", due_on="2026-11-30")
    *others, recorded, followed = day.events
    for early, late in (("0", "f"), ("f", "0")):
        events = [
            *others,
            replace(recorded, id=early + recorded.id[1:]),
            replace(followed, id=late + followed.id[1:], happened_at=recorded.happened_at),
        ]
        found = log_entries(events, shipped(), UTC)
        assert "show it" in {each.sentence for each in open_follow_ups(found)}


@pytest.mark.parametrize(
    ("text", "heading", "count"),
    [
        ("", "", 2),
        ("NEEDLESTICK", "", 1),  # capitals make no difference
        ("104233 tube", "", 1),  # every word must occur
        ("", "incident", 1),
        ("nothing like it", "", 0),
    ],
)
def test_the_log_is_searched_by_words_and_headings(text: str, heading: str, count: int) -> None:
    """Words may come from anywhere in an entry."""
    assert len(search(log(story()), text, heading)) == count


def test_the_day_sheet_holds_one_day_in_order() -> None:
    """Oldest first, and nothing of another day."""
    entries = log(story())
    sheet = day_sheet(entries, BEGIN.date(), UTC)
    assert [e.at for e in sheet] == sorted(e.at for e in entries)
    assert day_sheet(entries, BEGIN.date() + timedelta(days=1), UTC) == ()


def test_needle_sticks_per_patient_come_by_themselves() -> None:
    """Attempts, who, why it failed, and how long the tourniquet was on."""
    line = stick_log(story().events, UTC)
    assert len(line) == 1
    sticks = line[0]
    assert (sticks.attempts, sticks.obtained, sticks.multiple) == (2, True, True)
    assert sticks.collectors == ("mira",)
    assert sticks.reasons == ("no_flow",)
    assert sticks.tourniquet == timedelta(seconds=15)


def test_a_draw_without_a_needle_is_no_stick() -> None:
    """A patient who was not there was not pricked."""
    day = Story().add("draw_begun", patient="104233", requisition="R-1")
    assert stick_log(day.add("draw_not_obtained", reason="not_here").events, UTC) == ()


def test_a_wrong_tube_says_what_was_wrong_and_what_was_scanned() -> None:
    """Somebody else's tube: the rule stands in the words, the scan in the note."""
    day = Story()
    day.add("draw_begun", patient="104233", requisition="R-1")
    day.add("tube_refused", finding="other-patient", code="OL2611250037K")
    (entry,) = log(day)
    assert entry.what == "Wrong tube caught at the chair: other patient"
    assert entry.note == "Scanned: OL2611250037K"
