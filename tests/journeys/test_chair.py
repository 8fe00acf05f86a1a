"""A draw at the chair, as it goes well."""

from __future__ import annotations

from playwright.sync_api import expect

from cubital.desk.record.models import (
    DrawEffect,
    DrawFinding,
    DrawNow,
    Habit,
    Patient,
    Requisition,
    SpecimenNow,
)
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
    chair.draw_all(tubes)
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


def test_the_round_says_who_waits_and_who_cannot_be_drawn(desk: Desk) -> None:
    """Every waiting requisition of the day; one with a single identifier says so."""
    Patient.objects.filter(number="OV-10013").update(family_name="", given_name="")
    chair = Chair(desk("mira"))
    rows = chair.page.locator(".wait")
    assert (
        rows.count()
        == Requisition.objects.filter(state="waiting", place__code="ostrel-valley").count()
    )
    refused = chair.page.locator(".wait.refused")
    expect(refused).to_contain_text("2 identifiers at least are needed at the chair and 1 is known")
    chair.scan("OV-10013")
    chair.says("2 identifiers at least are needed at the chair")
    chair.scan("no-such-code")
    chair.says("Nobody on this round has this code")
    assert chair.sounds()[-1] == "wrong"


def test_a_patient_with_two_requisitions_is_asked_which(desk: Desk) -> None:
    """The wristband fits both; a requisition fits one, and a label is no patient."""
    chair = Chair(desk("mira"))
    second = chair.draw(KORALT, 1)
    chair.scan(KORALT)
    expect(chair.page.get_by_role("dialog")).to_contain_text("Which requisition?")
    chair.tap(chair.page.get_by_role("button").filter(has_text=second["requisition"]))
    chair.at("identity")
    expect(chair.page.locator(".band")).to_contain_text(second["requisition"])


def test_a_row_that_is_tapped_still_wants_the_scan(desk: Desk) -> None:
    """Opening a draw by hand or by a label identifies nobody; somebody else's band is refused."""
    chair = Chair(desk("mira"))
    label = chair.tubes(KORALT)[0]["accession"]
    chair.scan(label)
    chair.at("scan")
    chair.says("A label is no patient")
    chair.scan("OV-10005")
    chair.says("Ask again who the patient is")
    assert chair.sounds()[-1] == "wrong"
    chair.tap("Back to the round")
    chair.at("round")
    chair.tap(chair.page.locator(".wait button").filter(has_text="Haldis"))
    chair.at("scan")
    chair.tap("Type it instead")
    chair.page.get_by_label("Number under the bar code").fill("OV-10005")
    chair.tap("Take it")
    chair.at("identity")


def test_preparation_is_asked_and_a_no_takes_the_tests_out(desk: Desk) -> None:
    """Lithium too early after the dose is not drawn; what else was asked for is."""
    chair = Chair(desk("mira"))
    chair.identify(chair.draw("OV-10014")["requisition"])
    chair.at("preparation")
    expect(chair.page.get_by_text("Draw lithium 12 hours after the last dose")).to_be_visible()
    chair.tap("No")
    chair.tap("Not known")
    expect(chair.page.get_by_role("dialog")).to_contain_text("Not so, or not known")
    chair.tap("The requester knows and wants it")
    chair.until_needle()
    chair.all_sent()
    answers = [(payload(e)["need"], payload(e)["answer"]) for e in recorded("preparation_answered")]
    assert answers == [("after_dose_h", "not_met"), ("before_dose", "unknown")]
    given = [payload(e) for e in recorded("override_given")]
    assert {"finding": "preparation-unmet", "reason": "The requester knows and wants it"} in given


def test_site_and_device_stand_as_planned_and_can_be_changed(desk: Desk) -> None:
    """Only open sites are offered, and why one is shut is said; the needle carries the choice."""
    chair = Chair(desk("mira"))
    chair.identify(chair.draw("OV-10006")["requisition"])  # left mastectomy
    chair.until_needle()
    expect(chair.page.locator(".with-what")).to_contain_text("right median cubital vein")
    chair.tap("Change")
    chair.tap("Where")
    dialog = chair.page.get_by_role("dialog")
    expect(dialog).to_contain_text("left median cubital vein:")
    expect(dialog.get_by_role("button", name="left median cubital vein")).to_have_count(0)
    chair.tap("right cephalic vein")
    expect(chair.page.locator(".with-what")).to_contain_text("right cephalic vein")
    chair.tap("Change")
    chair.tap("With what")
    chair.tap("winged set and holder")
    chair.tap(chair.page.get_by_role("dialog").get_by_role("button", name="23 G"))
    expect(chair.page.locator(".with-what")).to_contain_text("winged set and holder, 23 G")
    chair.tap("Tourniquet on")
    chair.scan(chair.tubes("OV-10006")[0]["accession"])
    chair.at("tubes")
    chair.all_sent()
    needle = payload(recorded("attempt_begun")[0])
    assert (needle["body_site"], needle["side"]) == ("cephalic", "right")
    assert (needle["device"], needle["gauge"]) == ("winged", 23)


def test_the_tourniquet_warns_before_its_time_and_is_a_finding_after_it(desk: Desk) -> None:
    """Stricter with a coagulation tube; warned in words, colour and sound; kept by the record."""
    chair = Chair(desk("mira"))
    page = chair.page
    tubes = chair.tubes("OV-10008")  # a citrate tube
    chair.identify(chair.draw("OV-10008")["requisition"])
    chair.until_needle()
    page.clock.install()
    chair.tap("Tourniquet on")
    expect(page.locator(".timer")).to_contain_text("at most 0:45")
    page.clock.run_for(31_000)
    expect(page.locator(".timer.soon")).to_contain_text("Tourniquet off soon")
    page.clock.run_for(15_000)
    expect(page.locator(".timer.over")).to_contain_text("Too long: over 0:45")
    assert chair.sounds()[-2:] == ["time", "time"]
    for tube in tubes:
        chair.scan(tube["accession"])
        page.clock.run_for(400)
    chair.tap("Tourniquet off")
    page.clock.run_for(400)
    chair.tap("Finish")
    page.clock.run_for(400)
    expect(page.locator("#main")).to_contain_text("The tourniquet was on for")
    page.clock.run_for(2000)
    chair.all_sent()
    (finding,) = DrawFinding.objects.all()
    assert finding.code == "tourniquet-long"
    assert "more than 45 s" in finding.sentence


def test_reminders_come_at_their_moment_and_can_be_switched_off(desk: Desk) -> None:
    """
    Before the needle, while the blood flows; off for who wants them off, on this device and at
    the desk.
    """
    only_one_requisition()
    chair = Chair(desk("mira"))
    tubes = chair.tubes("OV-10005")
    chair.identify(chair.draw("OV-10005")["requisition"])
    chair.until_needle()
    reminders = chair.page.get_by_role("list", name="Reminders")
    expect(reminders).to_contain_text("Skin cleaned and dry; do not touch it again.")
    chair.tap("Tourniquet on")
    chair.scan(tubes[0]["accession"])
    expect(reminders).to_contain_text("Blood flows: tourniquet off.")
    chair.tap("More")
    chair.tap("Reminders: on")
    chair.tap("Sounds: on")
    chair.tap("Back")
    expect(reminders).to_have_count(0)
    played = len(chair.sounds())
    chair.scan("???")
    chair.says("This code is not known here")
    assert len(chair.sounds()) == played
    assert (Habit.objects.get().reminders, Habit.objects.get().sounds) == (False, False)
