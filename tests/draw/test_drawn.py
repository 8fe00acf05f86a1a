"""Specimens that a plan leaves in the laboratory."""

from __future__ import annotations

from datetime import UTC, datetime

from cubital.catalogue import shipped
from cubital.draw import plan_draw
from cubital.draw.drawn import drawn_specimens
from cubital.draw.onhand import OnHand
from cubital.requisition.values import OrderedTest, Patient, Requisition

NOW = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)


def specimens(*codes: str) -> tuple[OnHand, ...]:
    """What is on hand when these tests of a grown man were drawn as planned."""
    patient = Patient("P-1", "Tarn", birth_date=datetime(1980, 1, 1, tzinfo=UTC).date(),
                      weight_g=80_000)  # fmt: skip
    tests = tuple(OrderedTest(code) for code in codes)
    plan = plan_draw(Requisition("R-1", patient, tests, NOW), shipped(), now=NOW)
    return drawn_specimens(plan, NOW, {1: "OL26030200019"})


def test_each_specimen_holds_its_fill_without_what_its_tests_take() -> None:
    """What is left lies between nothing and the fill, and each test stands in one specimen."""
    found = specimens("fbc", "potassium", "creatinine", "pt-inr")
    assert sorted(code for one in found for code in one.tests) == [
        "creatinine", "fbc", "potassium", "pt-inr",
    ]  # fmt: skip
    for one in found:
        assert 0 <= one.volume_left_ul < shipped().containers[one.container].nominal_ul
    assert found[0].accession == "OL26030200019"
    assert found[1].accession == "tube 2"


def test_a_discard_tube_or_culture_bottle_is_no_specimen_to_add_to() -> None:
    """Only containers of blood for the bench count."""
    found = specimens("culture-blood", "fbc")
    assert [one.tests for one in found] == [("fbc",)]


def test_what_must_travel_on_ice_is_known_to_have_done_so() -> None:
    """Handling that the plan asks for is taken as kept."""
    assert {one.cooling for one in specimens("ammonia")} == {"ice"}
    assert {one.cooling for one in specimens("cryoglobulin")} == {"warm"}
    assert {one.cooling for one in specimens("fbc")} == {"ambient"}
