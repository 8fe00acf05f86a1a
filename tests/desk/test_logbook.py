"""The logbook: what stands in it, what is due, who sees it, and what is done about it."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from django.test import Client
from django.utils import timezone

from cubital.desk.record import selectors_quality as quality
from cubital.desk.record.models import IncidentNow
from tests.desk.quality import PASS, asked, event, incident, pricked_twice, refused, store

Sign = Callable[[str], Client]


@pytest.fixture
def busy(clinic: datetime) -> datetime:
    """Two hours of today's morning: two needles, a wrong tube, a refusal, two incidents."""
    now = datetime.now(UTC)
    asked()
    store(pricked_twice(now - timedelta(hours=3)))
    store(refused(now - timedelta(hours=2)))
    store([
        incident("i-1", "needlestick", now - timedelta(minutes=50), draw="D-71", people=["mira"],
                 note="The needle came through the swab."),
        incident("i-2", "haematoma", now - timedelta(minutes=40), draw="D-71"),
    ])  # fmt: skip
    return now


def text(client: Client, address: str) -> str:
    """A page's text without its tags."""
    answer = client.get(address)
    assert answer.status_code == 200, address
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))


def span(now: datetime) -> str:
    """The days around now, so that midnight changes nothing."""
    day = timezone.localdate(now)
    return f"from={day - timedelta(days=1)}&to={day}"


# ------------------------------------------------------------------ the log


def test_everything_that_went_wrong_stands_in_one_log(busy: datetime, signed_in: Sign) -> None:
    """Incidents, a wrong tube, a refusal and two needles, newest first, with whose blood it was."""
    client = signed_in("quality")
    lines = client.get(f"/logbook/?{span(busy)}").context["lines"]
    assert [line.entry.what for line in lines] == [
        "Incident: Haematoma",
        "Incident: Needlestick of the collector",
        "Specimen refused: Clot in an anticoagulated tube",
        "Pricked 2 times: Vein entered but no flow",
        "Wrong tube caught at the chair: Tube was expired at the draw",
    ]
    assert [line.entry.patient for line in lines[:2]] == ["OV-10001", "OV-10001"]


@pytest.mark.parametrize(
    ("asked_for", "count"),
    [
        ("q=tolvan", 4),  # by the name people know; the refusal is the bench's
        ("q=NEEDLESTICK", 1),
        ("q=R-71+expired", 1),  # every word
        ("heading=prick", 1),
        ("heading=no-such", 5),
        ("q=no-such-thing", 0),
        ("place=all", 5),
    ],
)
def test_the_log_is_searched(busy: datetime, signed_in: Sign, asked_for: str, count: int) -> None:
    """By words, by a person's name, by heading, at one place or all."""
    page = signed_in("quality").get(f"/logbook/?{span(busy)}&{asked_for}")
    assert page.context["count"] == count


def test_the_log_of_another_place_or_time_is_empty(busy: datetime, signed_in: Sign) -> None:
    """Nothing happened at the pass, nor a year ago."""
    client = signed_in("quality")
    assert "nobody wrote it down" in text(client, "/logbook/?from=2020-01-01&to=2020-02-01")
    client.post("/work-at/", {"place": PASS})
    assert client.get(f"/logbook/?{span(busy)}").context["count"] == 0
    assert client.get(f"/logbook/?{span(busy)}&place=all").context["count"] == 5


@pytest.mark.parametrize(
    ("days", "sentence"),
    [
        ("from=yesterday", "“yesterday” is no day"),
        ("from=2026-03-02&to=2026-03-01", "2026-03-02 is after 2026-03-01"),
        ("from=2020-01-01&to=2026-01-01", "is too long: ask for 366 days or fewer"),
        ("to=9999-12-31", "is no day"),
    ],
)
def test_days_that_cannot_be_shown_are_a_sentence(
    clinic: datetime, signed_in: Sign, days: str, sentence: str
) -> None:
    """And the usual days are shown instead."""
    assert sentence in text(signed_in("quality"), f"/logbook/?{days}")


def test_a_correction_changes_the_log(busy: datetime, signed_in: Sign) -> None:
    """A withdrawn refusal is gone; one moved to another day stands there."""
    row = quality.kinds_logged().get(kind="specimen_refused")
    mend = {"who": "joren", "corrects": row.uuid, "reason": "Another tube was meant."}
    payload = {"reason": "clotted"}
    earlier = busy - timedelta(days=40)
    store([event("event_corrected", row.subject, busy, payload=payload,
                 happened_at=earlier.isoformat(), **mend)])  # fmt: skip
    client = signed_in("quality")
    assert client.get(f"/logbook/?{span(busy)}").context["count"] == 4
    assert client.get(f"/logbook/?{span(earlier)}").context["count"] == 1
    store([event("event_withdrawn", row.subject, busy, **mend)])
    assert client.get(f"/logbook/?{span(earlier)}").context["count"] == 0


def test_the_log_uses_its_index(busy: datetime) -> None:
    """SQLite looks only at the events of the logbook, however many others there are."""
    plan = quality.kinds_logged().filter(happened_at__gte=busy).explain()
    assert "events_of_the_logbook" in plan
    assert "events_that_mend" in quality.mending().filter(corrects__in=["x"]).explain()


def test_long_logs_have_pages(clinic: datetime, signed_in: Sign) -> None:
    """Forty entries a page, and the search goes along."""
    now = datetime.now(UTC)
    store([incident(f"s-{n}", "spill", now - timedelta(minutes=n)) for n in range(45)])
    client = signed_in("manager")
    first = client.get(f"/logbook/?{span(now)}&q=spill")
    assert len(first.context["lines"]) == 40
    assert "q=spill&amp;" in first.content.decode()
    assert len(client.get(f"/logbook/?{span(now)}&q=spill&page=2").context["lines"]) == 5
    assert len(client.get(f"/logbook/?{span(now)}&q=spill&page=99").context["lines"]) == 5


# ------------------------------------------------------------------ what is due


def test_an_exposure_stands_on_the_first_page_of_those_it_concerns(
    busy: datetime, signed_in: Sign
) -> None:
    """The person, the quality role and a manager see it; the bench does not, nor the haematoma."""
    for role in ("collector", "quality", "manager"):
        page = text(signed_in(role), "/")
        assert "Due after an exposure to blood" in page, role
        assert "See a physician about medicine against HIV" in page, role
        assert "Ask whether it grew" not in page, role
    assert "exposure" not in text(signed_in("bench"), "/")


def test_the_next_one_stands_there_when_nothing_can_be_done_now(
    clinic: datetime, signed_in: Sign
) -> None:
    """Ten days after a needlestick all early steps are done: the first page names the next."""
    then = datetime.now(UTC) - timedelta(days=10)
    store([incident("i-5", "needlestick", then)])
    client = signed_in("collector")
    for code in ("physician-now", "hiv-last-hour", "hbv-check", "baseline"):
        client.post("/logbook/follow-ups/done/", {"incident": "i-5", "follow_up": code})
    due = client.get("/").context["exposures_due"]
    assert [each.follow_up.code for each in due.shown] == ["hcv-rna"]
    assert due.count == 4
    assert "Open 4 follow-ups" in text(client, "/")


def test_going_on_although_a_rule_asked_can_be_followed_up(
    clinic: datetime, signed_in: Sign
) -> None:
    """Its reason is free words, and no obstacle to making an incident of it."""
    row = asked()
    now = datetime.now(UTC)
    said = {"finding": "test-asked-twice", "reason": "The first one clotted, she says."}
    store([event("override_given", f"requisition:{row.number}", now, **said)])
    client = signed_in("quality")
    (line,) = client.get(f"/logbook/?{span(now)}&heading=override").context["lines"]
    assert line.entry.note == "The first one clotted, she says."
    said = {"action": "Asked the ward."}
    assert client.post(f"/logbook/entry/{line.entry.event}/action/", said).status_code == 302
    assert IncidentNow.objects.get().what == "test-asked-twice"


def test_follow_ups_of_others_are_seen_but_no_exposure(busy: datetime, signed_in: Sign) -> None:
    """The bench sees that a haematoma must be looked at, and nothing of the needlestick."""
    page = text(signed_in("bench"), "/logbook/follow-ups/")
    assert "Ask whether it grew" in page
    assert "HIV" not in page
    assert "Ostrel" in page
    own = text(signed_in("collector"), "/logbook/follow-ups/")
    assert "HIV test at 12 weeks" in own


def test_done_takes_it_off_the_list_and_the_last_one_closes(
    busy: datetime, signed_in: Sign
) -> None:
    """What was done is noted with who and when; the haematoma has one follow-up, so it closes."""
    client = signed_in("collector")
    client.post("/logbook/follow-ups/done/", {"incident": "i-1", "follow_up": "physician-now"})
    assert "See a physician" not in text(client, "/logbook/follow-ups/")
    client.post("/logbook/follow-ups/done/", {"incident": "i-2", "follow_up": "look-again"})
    assert IncidentNow.objects.get(code="i-2").closed
    assert not IncidentNow.objects.get(code="i-1").closed
    history = text(signed_in("quality"), "/logbook/entry/i-1/")
    assert "See a physician about medicine against HIV" in history
    assert "Mira Tolvan" in history


@pytest.mark.parametrize(
    ("said", "status", "sentence"),
    [
        ({"incident": "i-1", "follow_up": "no-such"}, 302, "not due after this incident"),
        ({"incident": "no-such", "follow_up": "look-again"}, 404, "no such page"),
        ({}, 404, "no such page"),
    ],
)
def test_what_is_not_due_cannot_be_done(
    busy: datetime, signed_in: Sign, said: dict[str, str], status: int, sentence: str
) -> None:
    """One sentence, and nothing is written."""
    client, before = signed_in("quality"), quality.last_position()
    answer = client.post("/logbook/follow-ups/done/", said, follow=status == 302)
    assert answer.status_code == (200 if status == 302 else status)
    assert sentence in answer.content.decode()
    assert quality.last_position() == before


def test_done_twice_is_said_so(busy: datetime, signed_in: Sign) -> None:
    """Two people tick the same line."""
    said = {"incident": "i-1", "follow_up": "baseline"}
    signed_in("collector").post("/logbook/follow-ups/done/", said)
    answer = signed_in("quality").post("/logbook/follow-ups/done/", said, follow=True)
    assert "noted before you" in answer.content.decode()


def test_nobody_ticks_off_somebody_elses_exposure(busy: datetime, signed_in: Sign) -> None:
    """To the bench this incident does not exist."""
    said = {"incident": "i-1", "follow_up": "baseline"}
    assert signed_in("bench").post("/logbook/follow-ups/done/", said).status_code == 404


def test_what_is_overdue_is_first_and_says_so(clinic: datetime, signed_in: Sign) -> None:
    """Three hours after a needlestick the physician is overdue by one."""
    store([incident("i-9", "needlestick", datetime.now(UTC) - timedelta(hours=3, minutes=5))])
    page = signed_in("quality").get("/logbook/follow-ups/")
    first = page.context["now"][0]
    assert first.overdue
    assert first.until == "1 h 05 min overdue"
    assert "1 h 05 min overdue" in text(signed_in("collector"), "/")


# ------------------------------------------------------------------ what is done about it


def test_a_corrective_action_with_a_day_and_a_person(busy: datetime, signed_in: Sign) -> None:
    """It becomes a follow-up of the person named, until it is done and the incident closed."""
    client = signed_in("quality")
    day = timezone.localdate() + timedelta(days=5)
    said = {"action": "Show how swabs are used", "due_on": day.isoformat(), "owner": "ilko"}
    assert client.post("/logbook/entry/i-2/action/", said).status_code == 302
    page = text(client, "/logbook/follow-ups/")
    assert "Show how swabs are used" in page
    assert "To be done by Ilko Brandov" in page
    client.post("/logbook/entry/i-2/action/", {"action": "Shown to all", "closed": "on"})
    assert IncidentNow.objects.get(code="i-2").closed
    assert "Show how swabs" not in text(client, "/logbook/follow-ups/")
    done = text(client, "/logbook/entry/i-2/")
    assert done.index("Show how swabs are used") < done.index("Shown to all")


def test_a_refusal_is_followed_up_as_an_incident(busy: datetime, signed_in: Sign) -> None:
    """The first corrective action makes an incident of it; the refusal points to it."""
    client = signed_in("quality")
    row = quality.kinds_logged().get(kind="specimen_refused")
    answer = client.post(f"/logbook/entry/{row.uuid}/action/", {"action": "Mix at the chair."})
    made = IncidentNow.objects.exclude(code__in=["i-1", "i-2"]).get()
    assert answer["Location"] == f"/logbook/entry/{made.code}/"
    assert (made.what, made.specimen) == ("clotted", "D-71-T1")
    assert "Clot in an anticoagulated tube" in text(client, f"/logbook/entry/{made.code}/")
    assert f"incident {made.code}" in text(client, f"/logbook/entry/{row.uuid}/")


def test_two_needles_are_followed_up_too(busy: datetime, signed_in: Sign) -> None:
    """The entry of a patient pricked twice opens like any other."""
    client = signed_in("quality")
    (line,) = client.get(f"/logbook/?{span(busy)}&heading=prick").context["lines"]
    assert "Vein entered but no flow" in text(client, f"/logbook/entry/{line.entry.event}/")
    said = {"action": "Warm the arm first."}
    assert client.post(f"/logbook/entry/{line.entry.event}/action/", said).status_code == 302


YESTERDAY = (datetime.now(UTC) - timedelta(days=2)).date().isoformat()


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({"action": ""}, "Say in a few words"),
        ({"action": "   "}, "Say in a few words"),
        ({"action": "x" * 2001}, "at most 2000"),
        ({"action": "Later", "due_on": "soon"}, "Write a day such as"),
        ({"action": "Later", "due_on": YESTERDAY}, "is over"),
        ({"action": "Later", "due_on": "2099-01-01", "closed": "on"}, "not closed"),
        ({"action": "Later", "owner": "ilko"}, "Until when?"),
        (
            {"action": "Later", "owner": "nobody", "due_on": "2099-01-01"},
            "not one of the available",
        ),
    ],
)
def test_an_action_that_cannot_be_is_refused(
    busy: datetime, signed_in: Sign, said: dict[str, str], sentence: str
) -> None:
    """One sentence at the form; nothing is written."""
    before = quality.last_position()
    answer = signed_in("quality").post("/logbook/entry/i-2/action/", said)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert quality.last_position() == before


def test_an_entry_that_is_not_there(busy: datetime, signed_in: Sign) -> None:
    """Neither an event nor an incident, nor an event that is no slip."""
    client = signed_in("quality")
    other = next(e.id for e in quality.standing(range(quality.last_position())))
    for code in ("no-such", other):
        assert client.get(f"/logbook/entry/{code}/").status_code == 404


def test_the_form_on_paper_holds_everything(busy: datetime, signed_in: Sign) -> None:
    """What is on record, every follow-up with its date, and room to sign."""
    page = text(signed_in("manager"), "/logbook/entry/i-1/form/")
    for words in ("Needlestick of the collector", "i-1", "OV-10001", "R-71", "Mira Tolvan",
                  "came through the swab", "HIV test at 12 weeks", "Quality, day"):  # fmt: skip
        assert words in page


# ------------------------------------------------------------------ sheets


def test_the_days_sheet_holds_the_day_in_order(busy: datetime, signed_in: Sign) -> None:
    """Oldest first; another day is empty; no day is a sentence."""
    client = signed_in("quality")
    days = {timezone.localdate(busy - timedelta(hours=h)) for h in (0, 1, 2, 3)}
    lines = [
        line
        for day in sorted(days)
        for line in client.get(f"/logbook/day/?day={day}").context["lines"]
    ]
    assert [line.entry.at for line in lines] == sorted(line.entry.at for line in lines)
    assert len(lines) == 5
    assert "Nothing on record" in text(client, "/logbook/day/?day=2020-01-01")
    assert "is no day" in text(client, "/logbook/day/?day=today")


def test_needle_sticks_of_patients(busy: datetime, signed_in: Sign) -> None:
    """Patients pricked more than once at first, all on demand; a month at most."""
    client = signed_in("quality")
    page = client.get(f"/logbook/needle-sticks/?{span(busy)}")
    (line,) = page.context["sticks"]
    assert line["reasons"] == "Vein entered but no flow"
    assert line["sites"] == "left cephalic vein, right median cubital vein"
    assert line["tourniquet_s"] == 60
    assert page.context["needles"] == 2
    store(pricked_twice(datetime.now(UTC) - timedelta(minutes=30), "D-72")[:4])
    asked_all = client.get(f"/logbook/needle-sticks/?{span(busy)}&all=yes")
    assert len(asked_all.context["sticks"]) == 2
    long = text(client, "/logbook/needle-sticks/?from=2026-01-01&to=2026-03-01")
    assert "31 days or fewer" in long


# ------------------------------------------------------------------ writing something down


def test_the_bench_writes_an_incident_down(clinic: datetime, signed_in: Sign) -> None:
    """First aid is shown at once, with what is due; it stands in the log."""
    client = signed_in("bench")
    said = {"what": "splash", "note": "Opened a tube without a shield."}
    answer = client.post("/logbook/new/", said, follow=True)
    page = answer.content.decode()
    assert "At once" in page
    assert "Follow your local protocol first" in page
    row = IncidentNow.objects.get()
    assert (row.what, row.who) == ("splash", "joren")
    assert re.fullmatch(r"IOL\d{8}", row.code)
    assert "See a physician" in text(client, "/")
    assert signed_in("collector").get(f"/logbook/recorded/{row.code}/").status_code == 404


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({}, "Choose what happened"),
        ({"what": "earthquake"}, "not one of the available"),
        ({"what": "spill", "happened_at": "2099-01-01T07:00"}, "still to come"),
        ({"what": "spill", "happened_at": "this morning"}, "Write a day and time"),
        ({"what": "haematoma", "patient": "no-such"}, "There is no patient no-such"),
        ({"what": "spill", "person": "no-such"}, "not one of the available"),
        ({"what": "spill", "note": "x" * 2001}, "at most 2000"),
    ],
)
def test_an_incident_that_cannot_be_is_refused(
    clinic: datetime, signed_in: Sign, said: dict[str, str], sentence: str
) -> None:
    """One sentence, and nothing is written."""
    answer = signed_in("bench").post("/logbook/new/", said)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert not IncidentNow.objects.exists()


def test_only_incidents_of_the_list_have_a_card(busy: datetime, signed_in: Sign) -> None:
    """One that was made of a refusal has no first aid and no such page."""
    client = signed_in("quality")
    row = quality.kinds_logged().get(kind="specimen_refused")
    client.post(f"/logbook/entry/{row.uuid}/action/", {"action": "Mix at the chair."})
    made = IncidentNow.objects.exclude(code__in=["i-1", "i-2"]).get()
    assert client.get(f"/logbook/recorded/{made.code}/").status_code == 404
