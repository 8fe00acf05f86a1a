"""A draw at the chair, as it goes well."""

from __future__ import annotations

from playwright.sync_api import expect

from cubital.desk.record.models import DrawEffect, DrawFinding, DrawNow, Requisition, SpecimenNow
from tests.journeys.chair import Chair, Desk, only_one_requisition, payload, recorded

KORALT = "OV-10001"


def test_a_plain_draw_of_four_tubes_takes_eleven_touches_and_no_typing(desk: Desk) -> None:
    """One scan, one tap an identifier, tourniquet on and off, four tubes, one finish."""
    only_one_requisition()
    chair = Chair(desk("mira"))
    tubes = chair.tubes(KORALT)
    assert len(tubes) == 4
    number = chair.draw(KORALT)["requisition"]
    chair.identify(number)
    chair.tap("Tourniquet on")
    chair.scan(tubes[0]["accession"])
    chair.at("tubes")
    chair.tap("Tourniquet off")
    for tube in tubes[1:]:
        chair.scan(tube["accession"])
    chair.at("finish")
    chair.tap("Finish")
    chair.at("ended")
    assert chair.touches == 11 <= 12
    chair.all_sent()

    draw = DrawNow.objects.get()
    assert (draw.state, draw.attempts, draw.specimens) == (
        "finished", 1, [t["accession"] for t in tubes],
    )  # fmt: skip
    assert {s.state for s in SpecimenNow.objects.all()} == {"labelled"}
    assert Requisition.objects.get(number=number).state == "drawn"
    assert DrawEffect.objects.get().volume_ul == sum(t["fill_ul"] for t in tubes)
    assert not DrawFinding.objects.exists()
    kinds = [event.kind for event in recorded()]
    assert kinds.count("tube_mixed") == kinds.count("tube_filled") == 4
    assert kinds[:5] == ["draw_begun"] + ["identity_confirmed"] * 4
    assert kinds[-2:] == ["attempt_ended", "draw_finished"]
    (needle,) = recorded("attempt_begun")
    assert payload(needle)["body_site"] == "median_cubital"
    expect(chair.page.get_by_text("4 tubes, 1 needle.")).to_be_visible()
