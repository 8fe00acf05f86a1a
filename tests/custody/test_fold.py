"""Where each specimen is and how it stands."""

from __future__ import annotations

from typing import Any

import pytest

from cubital.custody import Box, Draw, Incident, Specimen, State, effective, fold
from cubital.custody.specimens import MOVES, NEXT
from tests.custody.makers import Desk, accepted, begun, drawn, tube


@pytest.fixture
def desk() -> Desk:
    """A record with nothing in it."""
    return Desk()


def specimen(desk: Desk, code: str) -> Specimen:
    """The specimen as it stands."""
    item = desk.items[f"specimen:{code}"]
    assert isinstance(item, Specimen)
    return item


def stands(desk: Desk, code: str) -> tuple[str, str]:
    """State and place."""
    item = specimen(desk, code)
    return str(item.state), item.place


def test_a_tube_goes_from_the_chair_to_the_waste(desk: Desk) -> None:
    """One specimen's whole way, each state and place on it."""
    begun(desk)
    subject = "specimen:S-1"
    way: list[tuple[str, dict[str, Any], tuple[str, str]]] = [
        ("tube_scanned", {"draw": "D-1", "patient": "P-1", "container": "serum-50"},
         ("planned", "chair")),
        ("tube_filled", {"fill": "short", "volume_ul": 2100}, ("drawn", "chair")),
        ("tube_mixed", {"inversions": 8}, ("drawn", "chair")),
        ("label_printed", {}, ("drawn", "chair")),
        ("label_matched", {"label": "S-1"}, ("labelled", "chair")),
        ("specimen_boxed", {"box": "B-1"}, ("boxed", "box:B-1")),
        ("specimen_unboxed", {"box": "B-1"}, ("labelled", "chair")),
        ("specimen_received", {"who": "ilan"}, ("received", "reception")),
        ("specimen_accepted", {"who": "ilan", "tests": ["sodium"]}, ("accepted", "bench")),
    ]  # fmt: skip
    for kind, said, expected in way:
        desk.happen(kind, subject, **said)
        assert stands(desk, "S-1") == expected
    desk.happen("spin_begun", "spin:C-1", who="ilan", centrifuge="big", specimens=["S-1"])
    assert stands(desk, "S-1") == ("spinning", "centrifuge:big")
    desk.happen("spin_ended", "spin:C-1", who="ilan", specimens=["S-1"], outcome="done")
    assert stands(desk, "S-1") == ("spun", "bench")
    desk.happen("aliquot_made", "specimen:S-1a", who="ilan", parent="S-1", patient="P-1",
                material="serum", volume_ul=500)  # fmt: skip
    assert stands(desk, "S-1") == stands(desk, "S-1a") == ("aliquoted", "bench")
    assert specimen(desk, "S-1a").parent == "S-1"
    desk.happen("specimen_stored", subject, who="ilan", storage="fridge-2")
    assert stands(desk, "S-1") == ("stored", "storage:fridge-2")
    desk.happen("specimen_taken_out", subject, who="ilan")
    assert stands(desk, "S-1") == ("aliquoted", "bench")
    desk.happen("specimen_discarded", subject, who="ilan", stream="yellow")
    assert stands(desk, "S-1") == ("discarded", "waste")
    assert specimen(desk, "S-1").spins == 1
    assert specimen(desk, "S-1").volume_ul == 2100


def test_a_box_carries_specimens_from_the_valley_to_the_pass(desk: Desk) -> None:
    """The holder changes on receipt, the sender can no longer touch them, and the box is reused."""
    drawn(desk, "S-1", "S-2", "S-3")
    for code in ("S-1", "S-2", "S-3"):
        desk.happen("specimen_boxed", f"specimen:{code}", box="B-1")
    assert "S-3 is in it but not listed" in desk.refused(
        "box_sent", "box:B-1", to="pass", specimens=["S-1", "S-2"]
    )
    desk.happen("box_sent", "box:B-1", to="pass", specimens=["S-1", "S-2", "S-3"])
    assert "in transit, box B-1" in desk.refused("specimen_unboxed", "specimen:S-1", box="B-1")
    desk.happen("box_opened", "box:B-1", site="pass", who="ilan")
    desk.happen("specimen_received", "specimen:S-1", site="pass", who="ilan")
    desk.happen("specimen_missing", "specimen:S-2", site="pass", who="ilan")
    assert specimen(desk, "S-1").site == "pass"
    assert stands(desk, "S-2") == ("missing", "box:B-1")
    assert stands(desk, "S-3") == ("in_transit", "box:B-1")
    assert "is held at pass, not at valley" in desk.refused(
        "specimen_discarded", "specimen:S-1", who="ilan"
    )
    desk.happen("specimen_received", "specimen:S-2", site="pass", who="ilan")
    desk.happen("specimen_boxed", "specimen:S-1", site="pass", box="B-1")
    box = desk.items["box:B-1"]
    assert isinstance(box, Box)
    assert (box.site, box.state, box.specimens) == ("pass", "packing", ("S-1",))


def test_a_run_broken_off_leaves_the_specimens_as_they_were(desk: Desk) -> None:
    """A power cut in the middle of a run is no spin."""
    accepted(desk, "S-1", "S-2")
    both = ["S-1", "S-2"]
    desk.happen("spin_begun", "spin:C-1", who="ilan", centrifuge="big", specimens=both)
    assert "cannot be spun" in desk.refused(
        "spin_begun", "spin:C-2", who="ilan", centrifuge="small", specimens=["S-1"]
    )
    assert "does not agree with what went in" in desk.refused(
        "spin_ended", "spin:C-1", who="ilan", specimens=["S-1"], outcome="done"
    )
    desk.happen("spin_ended", "spin:C-1", who="ilan", specimens=both, outcome="broken_off")
    assert stands(desk, "S-1") == stands(desk, "S-2") == ("accepted", "bench")
    assert specimen(desk, "S-1").spins == 0


def test_an_empty_tube_may_be_tried_again(desk: Desk) -> None:
    """No blood came; the same tube fills at the next attempt, and its label already agrees."""
    begun(desk)
    desk.happen("tube_scanned", "specimen:S-1", draw="D-1", patient="P-1", container="edta-30")
    desk.happen("label_matched", "specimen:S-1")
    desk.happen("tube_filled", "specimen:S-1", fill="none")
    assert stands(desk, "S-1") == ("empty", "chair")
    desk.happen("tube_filled", "specimen:S-1", fill="full")
    assert stands(desk, "S-1") == ("labelled", "chair")


def test_a_specimen_from_elsewhere_is_registered(desk: Desk) -> None:
    """Urine from a ward has no draw: it begins at the reception."""
    desk.happen("specimen_registered", "specimen:U-1", who="ilan", material="urine", patient="P-1",
                collected_at="2026-11-25T05:30:00Z")  # fmt: skip
    assert stands(desk, "U-1") == ("received", "reception")
    assert specimen(desk, "U-1").collected_at is not None


def test_an_incident_stays_open_until_it_is_closed(desk: Desk) -> None:
    """A follow-up sets the next date, and the last one closes it."""
    desk.happen("incident_recorded", "incident:I-1", what="needlestick", people=["mira"])
    desk.happen("incident_followed_up", "incident:I-1", action="Seen by a physician.",
                due_on="2027-01-06", who="vera")  # fmt: skip
    item = desk.items["incident:I-1"]
    assert isinstance(item, Incident)
    assert (item.due_on, item.closed) == ("2027-01-06", False)
    desk.happen("incident_followed_up", "incident:I-1", action="Done.", closed=True)
    assert getattr(desk.items["incident:I-1"], "closed", None) is True


IMPOSSIBLE: list[tuple[str, str, dict[str, Any], str]] = [
    ("draw_begun", "draw:D-1", {"patient": "P-1", "requisition": "R-1"}, "already begun"),
    ("tourniquet_off", "draw:D-1", {}, "tourniquet is not on"),
    ("attempt_begun", "attempt:A-2", {"draw": "D-1"}, "has not ended"),
    ("attempt_begun", "attempt:A-2", {"draw": "D-9"}, "no draw D-9"),
    ("attempt_ended", "attempt:A-2", {"draw": "D-1", "success": True}, "no attempt A-2"),
    ("draw_finished", "draw:D-1", {}, "still in; end the attempt first"),
    ("draw_not_obtained", "draw:D-1", {"reason": "no_vein"}, "end the attempt first"),
    ("tube_filled", "specimen:S-9", {"fill": "full"}, "no specimen S-9"),
    ("tube_filled", "specimen:S-1", {"fill": "full"}, "cannot be filled"),
    ("tube_scanned", "specimen:S-1", {"draw": "D-1", "patient": "P-1", "container": "edta-30"},
     "already in the record"),
    ("tube_scanned", "specimen:S-2", {"draw": "D-1", "patient": "P-2", "container": "edta-30"},
     "for another patient"),
    ("specimen_accepted", "specimen:S-1", {"who": "ilan"}, "cannot be accepted"),
    ("specimen_taken_out", "specimen:S-1", {"who": "ilan"}, "cannot be taken out of a store"),
    ("specimen_unboxed", "specimen:S-1", {"box": "B-9"}, "no box B-9|cannot be taken out"),
    ("box_opened", "box:B-9", {}, "no box B-9"),
    ("spin_ended", "spin:C-9", {"who": "ilan", "specimens": ["S-1"], "outcome": "done"},
     "no run C-9"),
    ("incident_followed_up", "incident:I-9", {"action": "None."}, "no incident I-9"),
    ("aliquot_made", "specimen:S-2", {"who": "ilan", "parent": "S-2", "patient": "P-1",
     "material": "serum", "volume_ul": 5}, "portion of itself"),
    ("aliquot_made", "specimen:S-2", {"who": "ilan", "parent": "S-1", "patient": "P-1",
     "material": "serum", "volume_ul": 5}, "cannot be divided"),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "subject", "said", "part"), IMPOSSIBLE)
def test_what_cannot_have_happened_is_refused(
    desk: Desk, kind: str, subject: str, said: dict[str, Any], part: str
) -> None:
    """While a needle is in and tube S-1 is filled and labelled, these are impossible."""
    begun(desk)
    tube(desk, "S-1")
    before = dict(desk.items)
    sentence = desk.refused(kind, subject, **said)
    assert any(each in sentence for each in part.split("|")), sentence
    assert sentence.endswith(".")
    assert desk.items == before


def test_nothing_goes_on_after_an_identity_that_does_not_agree(desk: Desk) -> None:
    """The draw stops; what ends it safely may still be written; nobody withdraws the mismatch."""
    desk.happen("draw_begun", "draw:D-1", patient="P-1", requisition="R-1")
    desk.happen("identity_confirmed", "draw:D-1", identifiers=["name"])
    desk.happen("tourniquet_on", "draw:D-1")
    wrong = desk.happen("identity_mismatch", "draw:D-1", identifier="birth_date")
    for kind, subject, said in (
        ("identity_confirmed", "draw:D-1", {"identifiers": ["birth_date"]}),
        ("attempt_begun", "attempt:A-1", {"draw": "D-1"}),
        ("tube_scanned", "specimen:S-1",
         {"draw": "D-1", "patient": "P-1", "container": "edta-30"}),
        ("draw_finished", "draw:D-1", {}),
    ):  # fmt: skip
        assert "nobody overrides that" in desk.refused(kind, subject, **said)
    assert "never corrected or withdrawn" in desk.refused(
        "event_withdrawn", "draw:D-1", corrects=wrong.id, reason="Please."
    )
    desk.happen("tourniquet_off", "draw:D-1")
    desk.happen("draw_not_obtained", "draw:D-1", reason="identity")
    assert "is over" in desk.refused("tourniquet_on", "draw:D-1")


def test_no_needle_before_the_identity(desk: Desk) -> None:
    """An attempt before any identifier is confirmed is refused."""
    desk.happen("draw_begun", "draw:D-1", patient="P-1", requisition="R-1")
    assert "confirm who the patient is" in desk.refused("attempt_begun", "attempt:A-1", draw="D-1")


def test_no_blood_before_a_needle(desk: Desk) -> None:
    """A tube that fills without an attempt would spoil the count of attempts."""
    desk.happen("draw_begun", "draw:D-1", patient="P-1", requisition="R-1")
    desk.happen("identity_confirmed", "draw:D-1", identifiers=["name"])
    desk.happen("tube_scanned", "specimen:S-1", draw="D-1", patient="P-1", container="edta-30")
    assert "no attempt is on record" in desk.refused("tube_filled", "specimen:S-1", fill="full")
    desk.happen("tube_filled", "specimen:S-1", fill="none")


@pytest.mark.parametrize(
    ("last", "part"), [(None, "nothing is said about how tube S-1"), ("full", "no matched label")]
)
def test_a_draw_does_not_end_with_a_tube_open(desk: Desk, last: str | None, part: str) -> None:
    """Each tube is filled and labelled, or said to be empty, before the patient goes."""
    begun(desk)
    desk.happen("tube_scanned", "specimen:S-1", draw="D-1", patient="P-1", container="edta-30")
    if last:
        desk.happen("tube_filled", "specimen:S-1", fill=last)
    desk.happen("attempt_ended", "attempt:A-1", draw="D-1", success=True)
    for kind, said in (("draw_finished", {}), ("draw_not_obtained", {"reason": "fainted"})):
        assert part in desk.refused(kind, "draw:D-1", **said)


def test_a_refused_specimen_is_accepted_only_by_a_named_person(desk: Desk) -> None:
    """Irreplaceable specimens are kept when somebody answers for it."""
    drawn(desk, "S-1")
    desk.happen("specimen_received", "specimen:S-1", who="ilan")
    desk.happen("specimen_refused", "specimen:S-1", who="ilan", reason="RH")
    assert "named person" in desk.refused("specimen_accepted", "specimen:S-1", who="ilan")
    desk.happen("specimen_accepted", "specimen:S-1", who="ilan", decided_by="ilan")
    assert specimen(desk, "S-1").state is State.ACCEPTED


def test_attempts_are_counted_and_the_collector_changes(desk: Desk) -> None:
    """A failed attempt, a hand-over, another collector's success."""
    begun(desk)
    desk.happen("attempt_ended", "attempt:A-1", draw="D-1", success=False, reason="no_flow")
    desk.happen("draw_handed_over", "draw:D-1", to="tove")
    desk.happen("attempt_begun", "attempt:A-2", draw="D-1", who="tove")
    draw = desk.items["draw:D-1"]
    assert isinstance(draw, Draw)
    assert (draw.who, draw.attempts, draw.open_attempt) == ("tove", 2, "A-2")


def test_the_whole_log_folds_to_the_same_items(desk: Desk) -> None:
    """Event by event and all at once agree."""
    accepted(desk, "S-1", "S-2")
    assert fold(effective(desk.records)) == desk.items


@pytest.mark.parametrize(
    ("state", "words", "kinds"),
    [
        (State.DRAWN, "Match its label", ["label_matched", "specimen_received"]),
        (State.LABELLED, "into a box", ["specimen_boxed", "specimen_received"]),
        (State.BOXED, "Take it out of that box", ["specimen_unboxed", "box_sent"]),
        (State.IN_TRANSIT, "Scan it at the reception", ["specimen_received"]),
        (State.MISSING, "Scan it at the reception", ["specimen_received"]),
        (State.RECEIVED, "Accept or refuse", ["specimen_accepted", "specimen_refused"]),
        (State.REFUSED, "Accept it", ["specimen_accepted", "recollection_asked"]),
        (State.SPINNING, "End its run", ["spin_ended"]),
        (State.STORED, "Take it out of its store", ["specimen_taken_out"]),
        (State.DISCARDED, "recollection", ["recollection_asked"]),
    ],
)
def test_a_refusal_says_what_can_be_done_next(state: State, words: str, kinds: list[str]) -> None:
    """Every state has its sentence, and what the sentence names is open to that state."""
    assert set(NEXT) == set(State)
    assert words in NEXT[state]
    assert all(state in MOVES[kind].start for kind in kinds)


def test_the_next_step_ends_the_sentence_of_a_refusal(desk: Desk) -> None:
    """A specimen in a box that is boxed again: how it stands, what is refused, what to do."""
    drawn(desk, "S-1")
    desk.happen("specimen_boxed", "specimen:S-1", box="B-1")
    said = desk.refused("specimen_boxed", "specimen:S-1", box="B-2")
    assert "is boxed, box B-1; it cannot be boxed. Take it out of that box first" in said
