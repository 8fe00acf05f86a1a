"""The answer to each offered event: stored, already there, or refused."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from cubital.custody import verify_chain
from tests.custody.makers import NOW, Desk, begun, door


@pytest.fixture
def desk() -> Desk:
    """A desk with draw D-1 under way."""
    desk = Desk()
    begun(desk)
    return desk


def test_the_same_event_is_stored_once_and_answered_alike(desk: Desk) -> None:
    """Sent again, alone or twice in one step, it keeps its place."""
    event = desk.event("tourniquet_on", "draw:D-1")
    first, second = desk.offer(event, event)
    (third,) = desk.offer(event, sent_by="tove")
    assert (first.verdict, second.verdict, third.verdict) == ("stored", "already", "already")
    assert first.sequence == second.sequence == third.sequence == 4
    assert len(desk.records) == 4


@pytest.mark.parametrize(
    "changes",
    [
        {"payload": {"identifiers": ["name"]}},
        {"who": "tove"},
        {"device": "tablet-2"},
        {"subject": "draw:D-2"},
        {"kind": "tourniquet_off"},
        {"site": "pass"},
    ],
)
def test_other_content_under_the_same_id_is_refused(desk: Desk, changes: dict[str, Any]) -> None:
    """An event never changes: whatever differs, it is another event."""
    event = desk.happen("tourniquet_on", "draw:D-1")
    (answer,) = desk.offer(replace(event, **changes))
    assert answer.verdict == "refused"
    assert "another event under this id" in answer.sentence


def test_a_device_clock_may_run_ahead_a_little(desk: Desk) -> None:
    """Within the tolerance it is taken, beyond it refused."""
    event = desk.event("tourniquet_on", "draw:D-1")
    late = replace(event, happened_at=NOW + timedelta(seconds=121))
    (refused,) = desk.offer(late)
    assert "still to come" in refused.sentence
    (stored,) = desk.offer(replace(event, happened_at=NOW + timedelta(seconds=119)))
    assert stored.verdict == "stored"
    stricter = door(ahead=timedelta(0))
    off = replace(desk.event("tourniquet_off", "draw:D-1"), happened_at=NOW + timedelta(seconds=1))
    assert desk.offer(off, door=stricter)[0].verdict == "refused"


@pytest.mark.parametrize(
    ("more", "part"),
    [
        ({"site": "coast"}, "no place coast"),
        ({"site": "pass"}, "belongs to valley, not to pass"),
        ({"who": "nobody"}, "Nobody called 'nobody'"),
        ({"who": "ilan"}, "written by collector, and ilan is bench"),
    ],
)
def test_strangers_are_refused(desk: Desk, more: dict[str, str], part: str) -> None:
    """A place or person that this desk does not know, another site's draw, another role."""
    assert part in desk.refused("tourniquet_on", "draw:D-1", **more)


def test_whoever_sends_must_be_allowed_to_write_it_too(desk: Desk) -> None:
    """A colleague on the same tablet may send it; somebody of another role may not."""
    event = desk.event("tourniquet_on", "draw:D-1", who="mira")
    (refused,) = desk.offer(event, sent_by="vera")
    assert "vera is quality" in refused.sentence
    (stored,) = desk.offer(event, sent_by="tove")
    assert stored.verdict == "stored"
    assert desk.records[-1].sent_by == "tove"


@pytest.mark.parametrize(
    ("patient", "requisition", "part"),
    [
        ("P-2", "R-2", "belongs to pass, not to valley"),
        ("P-2", "R-1", "not for this patient"),
        ("P-1", "R-9", "no requisition R-9"),
    ],
)
def test_another_sites_patient_is_refused(
    desk: Desk, patient: str, requisition: str, part: str
) -> None:
    """A draw is for a requisition of its own place, and for that patient."""
    assert part in desk.refused("draw_begun", "draw:D-2", patient=patient, requisition=requisition)


def test_a_refused_event_does_not_hold_up_those_after_it(desk: Desk) -> None:
    """Each is judged on its own, and may be sent again once it is possible."""
    off = desk.event("tourniquet_off", "draw:D-1")
    on = desk.event("tourniquet_on", "draw:D-1")
    answers = desk.offer(off, on)
    assert [a.verdict for a in answers] == ["refused", "stored"]
    assert desk.offer(off)[0].verdict == "stored"


def test_each_site_has_its_own_chain(desk: Desk) -> None:
    """Numbers run per site, and both chains hold."""
    desk.happen("draw_begun", "draw:D-7", site="pass", patient="P-2", requisition="R-2")
    desk.happen("tourniquet_on", "draw:D-1")
    valley = [r for r in desk.records if r.event.site == "valley"]
    beyond = [r for r in desk.records if r.event.site == "pass"]
    assert [r.sequence for r in beyond] == [1]
    assert verify_chain("valley", valley, desk.heads["valley"]).holds
    assert verify_chain("pass", beyond, desk.heads["pass"]).holds
