"""Trees of specimens, both ways, and thaws."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from cubital.bench import may_thaw, of_patient, thaws, tree_of, way_up
from cubital.catalogue import shipped
from cubital.custody import Event, Specimen, State, uuid7
from cubital.errors import InputError

NOW = datetime(2026, 1, 12, 9, 0, tzinfo=UTC)


def specimen(code: str, parent: str = "", patient: str = "P-7") -> Specimen:
    """A specimen of a patient."""
    return Specimen(
        code=code, site="valley", state=State.ALIQUOTED, place="bench", patient=patient,
        parent=parent, changed_at=NOW,
    )  # fmt: skip


SPECIMENS = {
    one.code: one
    for one in (
        specimen("T1"),
        specimen("A1", "T1"),
        specimen("A2", "T1"),
        specimen("B1", "A1"),
        specimen("T2"),
        specimen("X1", patient="P-8"),
    )
}


def test_from_a_portion_up_to_the_patient() -> None:
    """Portion of a portion, portion, tube, patient."""
    assert way_up(SPECIMENS, "B1") == ("B1", "A1", "T1", "P-7")
    assert way_up(SPECIMENS, "T2") == ("T2", "P-7")


def test_from_the_tube_down_wherever_one_looks_from() -> None:
    """The same tree from any of its specimens."""
    for code in ("T1", "A2", "B1"):
        tree = tree_of(SPECIMENS, code)
        assert [(kin.depth, kin.code) for kin in tree.lines()] == [
            (0, "T1"), (1, "A1"), (2, "B1"), (1, "A2"),
        ]  # fmt: skip


def test_both_ways_agree() -> None:
    """Each specimen of a tree has the tree's first tube on its way up."""
    for tree in of_patient(SPECIMENS, "P-7"):
        for kin in tree.lines():
            way = way_up(SPECIMENS, kin.code)
            assert way[-2:] == (tree.code, "P-7")
            assert len(way) == kin.depth + 2
    codes = [kin.code for tree in of_patient(SPECIMENS, "P-7") for kin in tree.lines()]
    assert sorted(codes) == ["A1", "A2", "B1", "T1", "T2"]


def test_a_circle_and_a_stranger_are_refused() -> None:
    """No specimen is its own grandparent."""
    circle = {"A": specimen("A", "B"), "B": specimen("B", "A")}
    with pytest.raises(InputError, match="circle"):
        way_up(circle, "A")
    with pytest.raises(InputError, match="no specimen"):
        way_up(SPECIMENS, "Q")


def event(number: int, kind: str, code: str, **payload: object) -> Event:
    """Something that happened to a specimen."""
    return Event(
        id=uuid7(NOW, bytes(10)), site="valley", kind=kind,
        happened_at=NOW + timedelta(minutes=number), who="mira", subject=f"specimen:{code}",
        payload=payload,  # type: ignore[arg-type]
    )  # fmt: skip


def test_each_time_out_of_the_cold_counts_and_portions_inherit() -> None:
    """Frozen, out, frozen, divided, out: the portion made in between has one thaw."""
    events = [
        event(0, "specimen_stored", "T", storage="f1", condition="frozen"),
        event(1, "specimen_taken_out", "T"),
        event(2, "aliquot_made", "A", parent="T"),
        event(3, "specimen_stored", "T", storage="f1", condition="frozen"),
        event(4, "specimen_stored", "T", storage="r1", condition="fridge"),
        event(5, "specimen_stored", "A", storage="r1", condition="fridge"),
        event(6, "specimen_taken_out", "A"),
    ]
    assert [thaws(events, code) for code in ("T", "A", "Q")] == [2, 1, 0]
    assert thaws(events[:2], "T") == 1
    assert thaws(events[:1], "T") == 0


def test_thawed_as_often_as_it_may() -> None:
    """Once, unless the laboratory says otherwise."""
    assert may_thaw(0, "A", shipped()) is None
    found = may_thaw(1, "A", shipped())
    assert found is not None
    assert "once already" in found.sentence
