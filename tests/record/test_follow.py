"""What follows from a draw: its requisition, its blood, the core's own verdict on its events."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from cubital.chair.values import Sheet
from cubital.custody import Event, Verdict
from cubital.desk.record.events import append_event, append_events
from cubital.desk.record.models import (
    ChairSheet,
    DrawEffect,
    DrawFinding,
    LotUse,
    PatientDraw,
    Place,
    Requisition,
    StockLot,
)
from cubital.desk.record.rebuild import rebuild
from cubital.desk.record.sheets import sheet_kept, sheets_keep
from tests.chair.makers import sheet
from tests.record.small_desk import draw, event

pytestmark = pytest.mark.usefixtures("database")

TUBES = tuple(tube.accession for tube in sheet().tubes)


def paper(**more: object) -> Sheet:
    """The chair's sheet of requisition R-1."""
    return replace(sheet(), patient="P-1", scans=("P-1", "R-1"), discard_ul=1000, **more)


def kept(paper: Sheet) -> str:
    """The sheet given to a chair; gives its code."""
    row = Requisition.objects.get(number="R-1")
    (shape,) = sheets_keep(given=[(row, paper, {})])
    return str(shape["code"])


def story(code: str = "") -> list[Event]:
    """A whole draw of four tubes by that sheet; three identifiers are said one by one."""
    events = draw("D-1", *TUBES)
    begun = replace(events[0], payload={**events[0].payload, **({"sheet": code} if code else {})})
    said = [
        event("identity_confirmed", "draw:D-1", identifiers=[each])
        for each in ("name", "birth_date", "number")
    ]
    scanned = replace(events[1], payload={"identifiers": ["scan"], "scanned": True})
    whole = [begun, scanned, *said, *events[2:]]
    return [replace(each, payload=as_planned(each)) for each in whole]


def as_planned(each: Event) -> dict[str, object]:
    """Each tube in the container that the sheet plans."""
    planned = {f"specimen:{tube.accession}": tube.container for tube in sheet().tubes}
    if each.kind != "tube_scanned":
        return dict(each.payload)
    return {**each.payload, "container": planned[each.subject]}


def stands() -> tuple[str, list[int]]:
    """The state of the requisition, and the blood on the patient's account."""
    row = Requisition.objects.get(number="R-1")
    return row.state, list(PatientDraw.objects.values_list("volume_ul", flat=True))


def test_a_finished_draw_is_drawn_counted_and_judged() -> None:
    """Four full tubes and a discard; nothing stands against it."""
    code = kept(paper())
    append_events(events=story(code), person="mira")
    assert stands() == ("drawn", [4 * 2700 + 1000])
    assert DrawEffect.objects.get().draw == "D-1"
    assert not DrawFinding.objects.exists()
    assert rebuild(only_compare=True).equal


def test_what_the_core_finds_is_what_the_record_keeps() -> None:
    """A needle before every identifier was said, and tubes out of order: kept as found."""
    code = kept(paper())
    events = [each for each in story(code) if each.payload.get("identifiers") != ["number"]]
    append_events(events=events, person="mira")
    found = [(row.severity, row.code) for row in DrawFinding.objects.all()]
    assert found[0] == ("stop", "identity-open")
    assert ("stop", "nothing-drawn") in found
    assert stands()[0] == "drawn"  # it happened, whoever forged or forgot: the blood is out


def test_without_a_sheet_nothing_is_judged_and_what_was_said_is_counted() -> None:
    """A draw from a program that knows no sheets: the volumes it named."""
    events = [
        replace(each, payload={"fill": "short", "volume_ul": 900})
        if each.kind == "tube_filled"
        else each
        for each in story()
    ]
    append_events(events=events, person="mira")
    assert stands() == ("drawn", [4 * 900])
    assert not DrawFinding.objects.exists()


def test_nothing_obtained_leaves_the_requisition_waiting() -> None:
    """No blood, no effect; the core's findings are kept all the same."""
    code = kept(paper())
    events = story(code)[:5]
    append_events(
        events=[*events, event("draw_not_obtained", "draw:D-1", reason="refused")], person="mira"
    )
    assert stands() == ("waiting", [])
    assert not DrawEffect.objects.exists()


def test_a_correction_changes_what_followed() -> None:
    """A volume entered wrongly is counted anew; an end that did not happen is taken back."""
    code = kept(paper())
    events = story(code)
    append_events(events=events, person="mira")
    filled = next(e for e in events if e.kind == "tube_filled")
    append_event(
        event=event("event_corrected", filled.subject, corrects=filled.id, reason="half full",
                    payload={"fill": "short", "volume_ul": 1300}),
        person="mira",
    )  # fmt: skip
    assert stands() == ("drawn", [3 * 2700 + 1300 + 1000])
    assert rebuild(only_compare=True).equal
    append_event(
        event=event("event_withdrawn", "draw:D-1", corrects=events[-1].id, reason="another draw"),
        person="mira",
    )
    assert stands() == ("waiting", [])
    assert not DrawEffect.objects.exists()
    assert rebuild(only_compare=True).equal


def test_what_was_damaged_is_found_and_made_again() -> None:
    """An effect lost, a finding forged: named, and put right from the events."""
    code = kept(paper())
    append_events(events=story(code), person="mira")
    before = stands()
    DrawEffect.objects.all().delete()
    Requisition.objects.filter(number="R-1").update(state="waiting")
    PatientDraw.objects.all().delete()
    DrawFinding.objects.create(draw="D-1", number=1, code="forged", severity="stop",
                               sentence="No.", source="x")  # fmt: skip
    looked = rebuild(only_compare=True)
    assert looked.different == ("what follows from draw:D-1",)
    assert rebuild() == looked
    assert stands() == before
    assert not DrawFinding.objects.exists()
    assert rebuild().equal


def test_a_container_is_taken_from_its_lot_once() -> None:
    """Scanned with its lot it counts; sent twice it counts once; an unknown lot counts nothing."""
    place = Place.objects.get(code="valley")
    lot = StockLot.objects.create(place=place, container="edta-30", number="A3", count=2,
                                  expires_on=date(2030, 1, 1))  # fmt: skip
    events = story()
    for n, each in enumerate(events):
        if each.kind == "tube_scanned" and each.subject.endswith(TUBES[2]):
            events[n] = replace(each, payload={**each.payload, "lot": "A3"})
        if each.kind == "tube_scanned" and each.subject.endswith(TUBES[1]):
            events[n] = replace(each, payload={**each.payload, "lot": "nobody knows"})
    append_events(events=events, person="mira")
    append_events(events=events, person="mira")
    lot.refresh_from_db()
    assert lot.count == 1
    assert [use.specimen for use in LotUse.objects.all()] == [TUBES[2]]


def test_a_sheet_is_kept_once_and_comes_back() -> None:
    """The same content is the same row; one that cannot be read any more is none."""
    code = kept(paper())
    assert kept(paper()) == code
    assert ChairSheet.objects.count() == 1
    assert sheet_kept(code) == replace(paper(), others=())
    assert sheet_kept("no-such") is None
    ChairSheet.objects.update(document={"schema": "cubital.chair/0"})
    assert sheet_kept(code) is None


def test_the_way_of_its_tubes_is_no_fault_of_the_draw() -> None:
    """What the reception writes after the draw has ended is not judged as if at the chair."""
    append_events(events=story(kept(paper())), person="mira")
    tube = f"specimen:{TUBES[0]}"
    later = [
        event("label_printed", tube, who="mira", copies=1),
        event("specimen_received", tube, who="ilan"),
        event("specimen_accepted", tube, who="ilan"),
    ]
    for each in later:
        (answer,) = append_events(events=[each], person=each.who)
        assert answer.verdict is Verdict.STORED, answer.sentence
    assert rebuild(only_compare=True).equal
    assert not DrawFinding.objects.exists()
