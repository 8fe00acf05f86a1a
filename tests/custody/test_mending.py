"""Mistakes are mended by later events."""

from __future__ import annotations

import pytest

from cubital.custody import Draw, Specimen, effective, fold
from tests.custody.makers import Desk, begun, drawn, tube


@pytest.fixture
def desk() -> Desk:
    """A desk with draw D-1 under way."""
    desk = Desk()
    begun(desk)
    return desk


def folded_again(desk: Desk) -> bool:
    """Whether the whole log folds to what the record holds."""
    return fold(effective(desk.records)) == desk.items


def test_a_wrong_fill_is_corrected(desk: Desk) -> None:
    """Short instead of full, with the estimate; the label stays matched."""
    tube(desk, "S-1")
    filled = next(r.event for r in desk.records if r.event.kind == "tube_filled")
    desk.happen("event_corrected", "specimen:S-1", corrects=filled.id, reason="Looked again.",
                payload={"fill": "short", "volume_ul": 1500})  # fmt: skip
    item = desk.items["specimen:S-1"]
    assert isinstance(item, Specimen)
    assert (item.fill, item.volume_ul, item.state) == ("short", 1500, "labelled")
    assert folded_again(desk)


def test_the_last_correction_of_an_event_counts(desk: Desk) -> None:
    """Corrected, withdrawn, and after all as it was."""
    on = desk.happen("tourniquet_on", "draw:D-1")
    desk.happen("event_withdrawn", "draw:D-1", corrects=on.id, reason="It was not.")
    draw = desk.items["draw:D-1"]
    assert isinstance(draw, Draw)
    assert draw.tourniquet_on_at is None
    earlier = "2026-11-25T06:59:00.000000Z"
    desk.happen("event_corrected", "draw:D-1", corrects=on.id, reason="It was, but earlier.",
                payload={}, happened_at=earlier)  # fmt: skip
    draw = desk.items["draw:D-1"]
    assert isinstance(draw, Draw)
    assert draw.tourniquet_on_at is not None
    assert draw.tourniquet_on_at.minute == 59
    assert folded_again(desk)


def test_withdrawing_what_later_events_stand_on_needs_them_all(desk: Desk) -> None:
    """One alone is refused and names the later event; together they are taken, and it is gone."""
    tube(desk, "S-1")
    mine = [r.event for r in desk.records if r.event.subject == "specimen:S-1"]
    scanned = mine[0]
    sentence = desk.refused(
        "event_withdrawn", "specimen:S-1", corrects=scanned.id, reason="Another tube."
    )
    assert mine[1].id in sentence
    answers = desk.offer(
        *(
            desk.event("event_withdrawn", "specimen:S-1", corrects=each.id, reason="Another tube.")
            for each in mine
        )
    )
    assert {a.verdict for a in answers} == {"stored"}
    assert "specimen:S-1" not in desk.items
    draw = desk.items["draw:D-1"]
    assert isinstance(draw, Draw)
    assert draw.specimens == ()
    assert folded_again(desk)
    tube(desk, "S-1")
    assert folded_again(desk)


def test_an_attempt_of_a_finished_draw_is_withdrawn_in_one_step() -> None:
    """Its beginning and its end go together, or the draw would have ended with a needle in."""
    desk = Desk()
    begun(desk)
    desk.happen("attempt_ended", "attempt:A-1", draw="D-1", success=False, reason="no_vein")
    again = desk.happen("attempt_begun", "attempt:A-2", draw="D-1")
    tube(desk, "S-1")
    end = desk.happen("attempt_ended", "attempt:A-2", draw="D-1", success=True)
    desk.happen("draw_finished", "draw:D-1")
    steps = [
        desk.event("event_withdrawn", "attempt:A-2", corrects=each.id, reason="The same needle.")
        for each in (again, end)
    ]
    (alone,) = desk.offer(steps[0])
    assert alone.verdict == "refused"
    assert [a.verdict for a in desk.offer(*steps)] == ["stored", "stored"]
    assert [a.verdict for a in desk.offer(*steps)] == ["already", "already"]
    draw = desk.items["draw:D-1"]
    assert isinstance(draw, Draw)
    assert draw.attempts == 1
    assert "attempt:A-2" not in desk.items
    assert folded_again(desk)


def test_a_correction_is_checked_as_the_event_it_makes(desk: Desk) -> None:
    """Payload, patient, requisition and time of the corrected event are looked at again."""
    tube(desk, "S-1")
    first = desk.records[0].event
    scanned = next(r.event for r in desk.records if r.event.kind == "tube_scanned")

    def correct(original: str, subject: str, payload: dict[str, str], **more: str) -> str:
        return desk.refused("event_corrected", subject, corrects=original, reason="Wrong.",
                            payload=payload, **more)  # fmt: skip

    assert "payload.container is missing" in correct(
        scanned.id, "specimen:S-1", {"draw": "D-1", "patient": "P-1"}
    )
    assert "another patient" in correct(
        scanned.id, "specimen:S-1", {"draw": "D-1", "patient": "P-2", "container": "edta-30"}
    )
    assert "no requisition R-7" in correct(
        first.id, "draw:D-1", {"patient": "P-1", "requisition": "R-7"}
    )
    assert "still to come" in correct(
        first.id, "draw:D-1", {"patient": "P-1", "requisition": "R-1"},
        happened_at="2027-01-01T00:00:00Z",
    )  # fmt: skip


def test_what_may_not_be_mended_is_refused() -> None:
    """Nothing there, another subject, another site, a correction itself, another role."""
    desk = Desk()
    drawn(desk, "S-1")
    event = desk.records[-1].event
    withdraw = {"reason": "By mistake."}
    nothing = "019f0000-0000-7000-8000-000000000000"
    assert "no event" in desk.refused("event_withdrawn", "draw:D-1", corrects=nothing, **withdraw)
    assert "happened to draw:D-1" in desk.refused(
        "event_withdrawn", "draw:D-2", corrects=event.id, **withdraw
    )
    assert "at valley" in desk.refused(
        "event_withdrawn", "draw:D-1", site="pass", corrects=event.id, **withdraw
    )
    assert "ilan is bench" in desk.refused(
        "event_withdrawn", "draw:D-1", who="ilan", corrects=event.id, **withdraw
    )
    mended = desk.happen("event_withdrawn", "draw:D-1", who="vera", corrects=event.id, **withdraw)
    assert "itself a correction" in desk.refused(
        "event_withdrawn", "draw:D-1", corrects=mended.id, **withdraw
    )


def test_moving_a_specimen_to_another_box_mends_both_boxes() -> None:
    """A correction that names another subject folds the old one and the new one again."""
    desk = Desk()
    drawn(desk, "S-1")
    boxed = desk.happen("specimen_boxed", "specimen:S-1", box="B-1")
    desk.happen("event_corrected", "specimen:S-1", corrects=boxed.id, reason="The blue one.",
                payload={"box": "B-2"})  # fmt: skip
    assert "box:B-1" not in desk.items
    assert "box:B-2" in desk.items
    desk.happen("event_corrected", "specimen:S-1", corrects=boxed.id, reason="No, B-3.",
                payload={"box": "B-3"})  # fmt: skip
    assert "box:B-2" not in desk.items
    assert "box:B-3" in desk.items
    assert folded_again(desk)
