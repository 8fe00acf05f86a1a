"""Add-on tests from what stands at the bench."""

from __future__ import annotations

from cubital.bench import add_from_hand, on_hand
from cubital.requisition.values import OrderedTest, Patient, Requisition
from tests.bench.small import NOW, minutes, ostrel, tube

SPUN = {"spins": 1, "spun_at": NOW - minutes(20), "separated": True}


def asked(*tests: str) -> Requisition:
    """More tests for a patient."""
    patient = Patient("P-7", "Ostrelin", "Mira")
    return Requisition("R-2", patient, tuple(map(OrderedTest, tests)), NOW)


def test_a_specimen_as_the_draw_room_wants_it() -> None:
    """Number, container, times, what is left, how it is kept."""
    one = on_hand(tube("A", **SPUN, condition="fridge"), 800)
    assert (one.accession, one.container, one.volume_left_ul) == ("A", "gel-5", 800)
    assert (one.spun_at, one.condition, one.received_at) == (
        NOW - minutes(20), "fridge", NOW - minutes(5),
    )  # fmt: skip


def test_what_is_left_and_young_enough_serves() -> None:
    """Creatinine from spun serum; nothing from a tube that is still on its way."""
    here = (tube("A", **SPUN), 1500)
    coming = (tube("B", here=30), 5000)
    found = add_from_hand(asked("creatinine"), [here, coming], ostrel(), now=NOW)
    assert [(each.test, each.accession) for each in found.added] == [("creatinine", "A")]
    nothing = add_from_hand(asked("creatinine"), [coming], ostrel(), now=NOW)
    assert [each.test for each in nothing.needs_draw] == ["creatinine"]


def test_too_little_or_the_wrong_tube_needs_a_draw() -> None:
    """20 µL are not enough; a count needs whole blood."""
    short = add_from_hand(asked("creatinine", "fbc"), [(tube("A", **SPUN), 20)], ostrel(), now=NOW)
    assert [each.test for each in short.needs_draw] == ["creatinine", "fbc"]
