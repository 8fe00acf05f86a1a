"""The projections and the events agree, and can be made to."""

from __future__ import annotations

from random import Random

import pytest

from cubital.desk.record.events import append_events
from cubital.desk.record.models import DrawNow, SpecimenNow, Touch
from cubital.desk.record.models import Event as EventRow
from cubital.desk.record.rebuild import rebuild
from cubital.desk.record.rows import items_load
from tests.custody.makers import Desk
from tests.custody.test_walks import TEMPLATES, made
from tests.record.small_desk import draw

pytestmark = pytest.mark.usefixtures("database")


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_random_day_is_the_same_in_memory_in_the_tables_and_rebuilt(seed: int) -> None:
    """
    Events of every kind, corrections among them, are offered to the core and to the database
    alike: the answers agree one by one, the items agree, and rebuilding finds nothing to mend.
    """
    random, desk = Random(seed), Desk()
    for step in range(600):
        kind = random.choice(TEMPLATES)
        event = made(desk, kind, random.randint(0, 3), random.randint(0, 3), random.randint(0, 99))
        (expected,) = desk.offer(event)
        if expected.verdict == "refused" and step % 5:
            continue
        (answer,) = append_events(events=[event], person=event.who)
        assert (answer.verdict, answer.sequence) == (expected.verdict, expected.sequence), event
    assert items_load(desk.items) == desk.items
    found = rebuild(only_compare=True)
    assert found.equal, found
    assert found.events == EventRow.objects.count() == len(desk.records)
    assert found.items == len(desk.items)


def test_damaged_projections_are_found_and_made_again() -> None:
    """A row changed, one lost, one that no event made, and the list of subjects."""
    append_events(events=draw("D-1", "S-1", "S-2"), person="mira")
    before = items_load(["draw:D-1", "specimen:S-1", "specimen:S-2"])
    SpecimenNow.objects.filter(code="S-1").update(state="discarded")
    SpecimenNow.objects.filter(code="S-2").delete()
    ghost = DrawNow.objects.get(code="D-1")
    ghost.code = "D-9"
    ghost.save(force_insert=True)
    Touch.objects.filter(subject="specimen:S-1").delete()
    Touch.objects.create(subject="specimen:S-9", position=1)
    looked = rebuild(only_compare=True)
    assert looked.different == ("draw:D-9", "specimen:S-1", "specimen:S-2")
    assert looked.touches_different == 4
    assert rebuild() == looked
    assert rebuild().equal
    assert items_load(["draw:D-1", "draw:D-9", "specimen:S-1", "specimen:S-2"]) == before
