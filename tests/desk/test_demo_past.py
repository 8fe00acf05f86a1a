"""The invented clinic's past: whole, the same each time, and put in once."""

from __future__ import annotations

from collections import Counter
from datetime import datetime

from cubital.desk.demo.past import past_fill
from cubital.desk.record.models import Event, Patient, RefusedEvent, Requisition, WasteNow
from cubital.desk.record.rebuild import rebuild
from cubital.desk.record.verify import verify
from tests.desk.figures import Loose


def test_two_past_weeks_are_recorded_as_if_it_had_been_then(clinic: datetime) -> None:
    """Twelve working days, no event refused, the record whole, and a second start adds nothing."""
    assert past_fill(now=clinic, weeks=2) == 12
    assert not RefusedEvent.objects.exists()
    kinds = Counter(Event.objects.values_list("kind", flat=True))
    assert kinds["draw_begun"] > 100
    assert {"incident_recorded", "specimen_refused", "box_sent", "waste_handed_over"} <= set(kinds)
    assert set(WasteNow.objects.values_list("state", flat=True)) >= {"open", "handed_over"}
    assert verify().holds
    assert rebuild(only_compare=True).equal
    counts = [table.objects.count() for table in (Event, Patient, Requisition)]
    assert past_fill(now=clinic, weeks=2) == 0
    assert counts == [table.objects.count() for table in (Event, Patient, Requisition)]


def test_a_past_day_is_the_same_each_time() -> None:
    """The same events to the last id: chance is seeded by the day."""
    book, again = Loose(), Loose()
    assert book.day(book.first).events == again.day(again.first).events
