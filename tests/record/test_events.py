"""Events go into the record once, in order, with everything that follows from them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from threading import Thread

import pytest
from django.db import connection, connections, transaction

from cubital.custody import Event, Verdict
from cubital.desk.record.events import append_event, append_events
from cubital.desk.record.models import (
    ChainHead,
    DrawNow,
    RefusedEvent,
    SpecimenNow,
    Touch,
)
from cubital.desk.record.models import Event as EventRow
from cubital.errors import EventRefused
from tests.record.small_desk import draw, event

pytestmark = pytest.mark.usefixtures("database")


def verdicts(events: Sequence[Event], person: str = "mira") -> list[str]:
    """What became of each event."""
    return [str(answer.verdict) for answer in append_events(events=events, person=person)]


def test_a_draw_is_stored_with_what_follows_from_it() -> None:
    """Chain, head, subjects and projections are there after one call."""
    events = draw("D-1", "S-1", "S-2")
    assert set(verdicts(events)) == {"stored"}
    rows = list(EventRow.objects.all())
    assert [row.uuid for row in rows] == [each.id for each in events]
    assert [row.sequence for row in rows] == list(range(1, len(events) + 1))
    head = ChainHead.objects.get(site="valley")
    assert (head.sequence, head.hash) == (len(events), rows[-1].hash)
    assert DrawNow.objects.get(code="D-1").state == "finished"
    assert DrawNow.objects.get(code="D-1").specimens == ["S-1", "S-2"]
    tube = SpecimenNow.objects.get(code="S-2")
    assert (tube.state, tube.place, tube.patient) == ("labelled", "chair", "P-1")
    touching = Touch.objects.filter(subject="draw:D-1").values_list("position", flat=True)
    assert len(touching) == len(events) - 4  # all but tube_filled and label_matched, twice each


def test_the_same_event_twice_is_stored_once() -> None:
    """In one call, in the next, and from a colleague's sign-in."""
    events = draw("D-1", "S-1")
    assert set(verdicts([*events, *events])) == {"stored", "already"}
    assert set(verdicts(events, person="tove")) == {"already"}
    assert EventRow.objects.count() == len(events)


def test_other_content_under_a_known_id_is_refused_and_kept() -> None:
    """The refusal is on record with its reason, once, however often it is sent."""
    first = draw("D-1")[0]
    append_events(events=[first], person="mira")
    other = replace(first, payload={"patient": "P-1", "requisition": "R-1", "planned_ul": 9})
    for _ in range(3):
        (answer,) = append_events(events=[other], person="mira")
        assert answer.verdict is Verdict.REFUSED
    kept = RefusedEvent.objects.get()
    assert (kept.uuid, kept.sent_by, kept.sentence) == (first.id, "mira", answer.sentence)
    assert "planned_ul" in kept.offered


def test_an_impossible_event_is_an_error_where_one_must_be_taken() -> None:
    """``append_event`` raises the sentence."""
    with pytest.raises(EventRefused, match="no draw D-7"):
        append_event(event=event("tourniquet_on", "draw:D-7"), person="mira")
    assert RefusedEvent.objects.count() == 1


def test_a_callers_transaction_holds_the_events_too() -> None:
    """What rolls back takes its events with it; nothing of them is left."""
    with transaction.atomic():
        assert set(verdicts(draw("D-1", "S-1"))) == {"stored"}
        transaction.set_rollback(True)
    for table in (EventRow, ChainHead, DrawNow, SpecimenNow, Touch):
        assert not table.objects.exists()
    assert set(verdicts(draw("D-1", "S-1"))) == {"stored"}


def test_somebody_who_may_not_sign_in_any_more_is_refused() -> None:
    """A door that is shut counts at once."""
    from cubital.desk.record.models import Person

    Person.objects.filter(username="mira").update(is_active=False)
    (answer,) = append_events(events=draw("D-1")[:1], person="mira")
    assert "may sign in" in answer.sentence


def test_corrections_reach_the_projections() -> None:
    """A box that was another: the old one goes, the new one comes, also in the same call."""
    events = draw("D-1", "S-1")
    boxed = event("specimen_boxed", "specimen:S-1", box="B-1")
    mend = event("event_corrected", "specimen:S-1", corrects=boxed.id, reason="The blue one.",
                 payload={"box": "B-2"})  # fmt: skip
    assert set(verdicts([*events, boxed, mend])) == {"stored"}
    assert SpecimenNow.objects.get(code="S-1").place == "box:B-2"
    again = event("event_corrected", "specimen:S-1", corrects=boxed.id, reason="No, B-3.",
                  payload={"box": "B-3"})  # fmt: skip
    assert verdicts([again]) == ["stored"]
    assert SpecimenNow.objects.get(code="S-1").place == "box:B-3"


def test_many_threads_add_to_one_chain_without_a_gap() -> None:
    """Twelve senders at once, each its own draw: nothing fails, is lost, or is numbered twice."""
    failed: list[BaseException] = []

    def send(number: int) -> None:
        try:
            for each in draw(f"D-{number}", f"S-{number}"):
                assert verdicts([each]) == ["stored"]
        except BaseException as error:  # noqa: BLE001 - shown by the assert below
            failed.append(error)
        finally:
            connections.close_all()

    threads = [Thread(target=send, args=(n,)) for n in range(12)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    numbers = list(EventRow.objects.values_list("sequence", flat=True))
    assert numbers == list(range(1, 12 * 8 + 1))


def test_a_commit_waits_for_the_disk() -> None:
    """The settings under which a database keeps its word."""
    asked = {
        "sqlite": ("PRAGMA journal_mode", "PRAGMA synchronous", "PRAGMA foreign_keys"),
        "postgresql": ("SHOW synchronous_commit", "SHOW full_page_writes"),
    }
    answers = []
    for query in asked[connection.vendor]:
        with connection.cursor() as cursor:
            cursor.execute(query)
            answers.append(cursor.fetchone()[0])
    assert answers == {"sqlite": ["wal", 2, 1], "postgresql": ["on", "on"]}[connection.vendor]
