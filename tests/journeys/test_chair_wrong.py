"""At the chair when something is wrong: told at once, kept, and never past a stop."""

from __future__ import annotations

from datetime import timedelta

from django.utils import timezone
from playwright.sync_api import expect

from cubital.chair import due_after
from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.record.models import (
    AttemptNow,
    DrawEffect,
    DrawFinding,
    DrawNow,
    IncidentNow,
    Patient,
    PatientDraw,
    Place,
    Requisition,
    SpecimenNow,
    StockLot,
)
from cubital.desk.record.places import place_change
from tests.journeys.chair import (
    PIN,
    Chair,
    Desk,
    labels,
    only_one_requisition,
    payload,
    recorded,
    second_collector,
)

KORALT = "OV-10001"


def at_the_needle(chair: Chair, patient: str = KORALT) -> list[dict]:
    """Identified, and the tourniquet on; gives the tubes."""
    tubes = chair.tubes(patient)
    chair.identify(chair.draw(patient)["requisition"])
    chair.until_needle()
    chair.tap("Tourniquet on")
    return tubes


def pin(chair: Chair, digits: str = PIN) -> None:
    """Give a PIN on the screen."""
    for digit in digits:
        chair.tap(chair.page.get_by_role("dialog").get_by_role("button", name=digit, exact=True))
    chair.tap("OK")


def test_an_identity_that_does_not_agree_ends_the_draw(desk: Desk) -> None:
    """Nobody overrides it: no needle, no tube, no way on but the end; and it is on record."""
    chair = Chair(desk("mira"))
    tubes = chair.tubes(KORALT)
    chair.scan(chair.draw(KORALT)["requisition"])
    chair.tap("Agrees")
    expect(chair.page.get_by_text("2 of 3")).to_be_visible()
    chair.tap("Does not agree")
    chair.at("mismatch")
    expect(chair.page.locator("#main")).to_contain_text("Nobody overrides this.")
    assert chair.sounds()[-1] == "wrong"
    buttons = chair.page.locator("#main button").all_inner_texts()
    assert buttons == ["End: nothing is drawn"]
    chair.scan(tubes[0]["accession"])
    chair.settle()
    chair.at("mismatch")
    chair.tap("End: nothing is drawn")
    chair.at("ended")
    chair.all_sent()
    kinds = [event.kind for event in recorded()]
    assert kinds == [
        "draw_begun", "identity_confirmed", "identity_confirmed", "identity_mismatch",
        "draw_not_obtained",
    ]  # fmt: skip
    assert payload(recorded("identity_mismatch")[0])["identifier"] == "birth_date"
    assert DrawNow.objects.get().state == "not_obtained"
    assert Requisition.objects.get(number=DrawNow.objects.get().requisition).state == "waiting"


def test_namesakes_of_the_day_are_warned_of(desk: Desk) -> None:
    """Somebody with the same family name today: look twice, before the answer is given."""
    row = Requisition.objects.get(number__endswith="D05").patient
    row.family_name = "Koralt"
    row.save()
    chair = Chair(desk("mira"))
    chair.scan(chair.draw(KORALT)["requisition"])
    expect(chair.page.locator("#main")).to_contain_text("Same name today: Koralt, Ingra")


def test_wrong_tubes_are_told_in_words_colour_and_sound(desk: Desk) -> None:
    """Another patient's label, an expired lot, a recalled one, a container that is not planned."""
    place = Place.objects.get(code="ostrel-valley")
    expired = StockLot.objects.get(place=place, expires_on__lt=timezone.localdate())
    recalled = StockLot.objects.get(place=place, recalled=True)
    chair = Chair(desk("mira"))
    other = chair.tubes("OV-10005")[0]["accession"]
    at_the_needle(chair)
    for scanned, said, code in (
        (other, "This belongs to somebody else: Haldis, Ingra", "other-patient"),
        (f"{expired.container}:{expired.number}", "expired on", "tube-expired"),
        (f"{recalled.container}:{recalled.number}", "is recalled", "lot-recalled"),
        ("acd-8.5:OL24129", "is not in this plan. Now comes", "wrong-container"),
    ):
        chair.scan(scanned)
        chair.says(said)
        message = chair.page.locator("#message .message.stop")
        expect(message).to_contain_text("Stop.")
        expect(message.locator("svg.icon.stop")).to_be_visible()
        assert message.evaluate("e => getComputedStyle(e).backgroundColor") == "rgb(122, 12, 12)"
        assert chair.sounds()[-1] == "wrong"
        chair.all_sent()
        assert payload(recorded("tube_refused")[-1])["finding"] == code
    assert not SpecimenNow.objects.exists()


def test_a_tube_out_of_its_turn_goes_aside_or_on_with_a_reason(desk: Desk) -> None:
    """Too early: put aside, nothing is drawn; gone on with, the reason is on record."""
    only_one_requisition()
    chair = Chair(desk("mira"))
    tubes = at_the_needle(chair)
    chair.scan(tubes[3]["accession"])
    dialog = chair.page.get_by_role("dialog")
    expect(dialog).to_contain_text("Before fluoride/oxalate tube 4 mL comes")
    assert chair.sounds()[-1] == "ask"
    chair.tap("Put it aside")
    chair.at("needle")
    chair.scan(tubes[3]["accession"])
    chair.tap("It is on the needle already")
    chair.at("tubes")
    chair.scan(tubes[0]["accession"])
    expect(dialog).to_contain_text("its additive may have been carried over")
    chair.tap("Put it aside")
    chair.scan(tubes[3]["accession"])
    chair.says("is drawn already")
    chair.all_sent()
    assert [payload(e)["reason"] for e in recorded("override_given")] == [
        "It is on the needle already"
    ]
    assert [s.code for s in SpecimenNow.objects.all()] == [tubes[3]["accession"]]


def test_a_lot_in_the_hand_belongs_to_the_label_that_is_scanned_next(desk: Desk) -> None:
    """
    The lot's bar code, then the label: kept together, counted off the stock; a label on another
    container is a stop.
    """
    only_one_requisition()
    place = Place.objects.get(code="ostrel-valley")
    chair = Chair(desk("mira"))
    tubes = at_the_needle(chair)
    gel = StockLot.objects.get(place=place, container=tubes[0]["container"])
    edta = StockLot.objects.get(place=place, container="edta-3")
    chair.scan(f"edta-3:{edta.number}")
    chair.says("now scan its label")
    chair.scan(tubes[0]["accession"])
    chair.says("K2 EDTA tube 3 mL was taken where serum gel tube 3.5 mL is planned")
    chair.scan(f"{gel.container}:{gel.number}")
    chair.scan(tubes[0]["accession"])
    chair.at("tubes")
    chair.all_sent()
    assert payload(recorded("tube_scanned")[0])["lot"] == gel.number
    before = gel.count
    gel.refresh_from_db()
    assert gel.count == before - 1


def test_attempts_run_out_and_another_collector_takes_over(desk: Desk) -> None:
    """Two needles by one, then badge and PIN of the next; the log of attempts needs no typing."""
    only_one_requisition()
    second_collector()
    chair = Chair(desk("mira"))
    tubes = at_the_needle(chair)
    chair.tap("No blood")
    chair.tap("No vein found")
    chair.at("needle")
    expect(chair.page.get_by_text("second attempt, a new needle")).to_be_visible()
    chair.tap("Tourniquet on")
    chair.tap("No blood")
    chair.tap("Vein collapsed")
    chair.at("hand_over")
    expect(chair.page.locator("#main")).to_contain_text(
        "2 attempts are used up: hand over to another collector."
    )
    chair.scan(tubes[0]["accession"])
    chair.says("attempts are used up")
    chair.tap("Hand over to another collector")
    chair.scan("BADGE-2")
    pin(chair, "1234")
    expect(chair.page.get_by_role("alert").last).to_contain_text("do not belong together")
    pin(chair)
    chair.at("needle")
    expect(chair.page.locator("#head")).to_contain_text("Oskan Weyl")
    chair.tap("Tourniquet on")
    for tube in tubes:
        chair.scan(tube["accession"])
        chair.settle()
    chair.tap("Tourniquet off")
    chair.tap("Finish")
    chair.at("ended")
    expect(chair.page.get_by_text("4 tubes, 3 needles.")).to_be_visible()
    chair.all_sent()
    attempts = AttemptNow.objects.order_by("begun_at")
    assert [(a.who, a.success, a.reason) for a in attempts] == [
        ("mira", False, "no_vein"), ("mira", False, "collapsed"), ("oskan", True, ""),
    ]  # fmt: skip
    assert payload(recorded("draw_handed_over")[0])["to"] == "oskan"
    assert {e.sent_by for e in recorded("draw_finished")} == {"oskan"}
    assert not DrawFinding.objects.exists()


def test_a_short_draw_changes_the_plan_in_front_of_the_collector(desk: Desk) -> None:
    """Not full, and little more to come: the core says what is still possible, and why not."""
    only_one_requisition()
    chair = Chair(desk("mira"))
    tubes = at_the_needle(chair)
    chair.scan(tubes[0]["accession"])
    chair.tap("Tourniquet off")
    chair.tap("Not full")
    chair.at("short")
    expect(chair.page.get_by_role("button", name="0.5 mL")).to_contain_text("accepted")
    chair.tap("2 mL", exact=False)
    expect(chair.page.get_by_text("How much more blood will there be?")).to_be_visible()
    chair.tap("3 mL", exact=False)
    expect(chair.page.get_by_text("With 3 mL")).to_be_visible()
    expect(chair.page.locator(".fills")).to_contain_text("2. K2 EDTA tube 3 mL: 2.01 mL")
    expect(chair.page.locator(".fills .out")).to_have_count(2)
    expect(chair.page.locator("#main")).to_contain_text("Haemoglobin A1c: takes at least")
    chair.tap("Do it so")
    chair.at("tubes")
    expect(chair.page.locator(".rack-tube.out")).to_have_count(2)
    chair.scan(tubes[1]["accession"])
    chair.at("finish")
    expect(chair.page.locator("#main")).to_contain_text("Reason: Short of blood")
    chair.tap("Finish")
    chair.at("ended")
    chair.all_sent()
    drawn = {s.code: (s.fill, s.volume_ul) for s in SpecimenNow.objects.all()}
    assert drawn[tubes[0]["accession"]] == ("short", 2000)
    assert drawn[tubes[1]["accession"]][0] == "short"
    assert 2000 <= drawn[tubes[1]["accession"]][1] <= 2223
    assert {f.code for f in DrawFinding.objects.all()} == {"tube-left-out"}
    reasons = [payload(e) for e in recorded("override_given")]
    assert reasons == [{"finding": "tube-left-out", "reason": "Short of blood"}] * 2
    taken = DrawEffect.objects.get().volume_ul
    assert PatientDraw.objects.filter(patient__number=KORALT, volume_ul=taken).exists()


def test_short_in_the_syringe_is_asked_before_the_tubes(desk: Desk) -> None:
    """With a syringe the blood is there first: how much, and which tubes get it."""
    chair = Chair(desk("mira"))
    at_the_needle(chair, "OV-10008")
    chair.tap("Change")
    chair.tap("With what")
    chair.tap("syringe and needle")
    chair.tap(chair.page.get_by_role("dialog").get_by_role("button", name="21 G"))
    chair.tap("Short in the syringe")
    expect(chair.page.get_by_text("How much blood is in the syringe?")).to_be_visible()
    chair.tap("None")
    chair.tap("Do it so")
    chair.at("nothing")
    chair.tap("End: nothing is drawn")
    chair.tap("Vein entered but no flow")
    chair.at("ended")
    chair.all_sent()
    assert payload(recorded("draw_not_obtained")[0])["reason"] == "no_flow"


def test_labels_after_the_draw_are_matched_before_the_patient_goes(desk: Desk) -> None:
    """Printed at the chair, each scanned on its tube; a wrong one is a stop; no finish before."""
    only_one_requisition()
    labels("after")
    place = Place.objects.get(code="ostrel-valley")
    chair = Chair(desk("mira"))
    tubes = at_the_needle(chair)
    chair.scan(tubes[0]["accession"])
    chair.says("This tube is not drawn yet")
    for tube in tubes:
        lot = StockLot.objects.get(place=place, container=tube["container"])
        chair.scan(f"{lot.container}:{lot.number}")
        chair.settle()
    chair.tap("Tourniquet off")
    chair.at("labels")
    expect(chair.button("Finish")).to_have_count(0)
    with chair.page.context.expect_page() as printed:
        chair.tap("Print labels")
    printed.value.close()
    expect(chair.page.get_by_text("Label tube 1", exact=True)).to_be_visible()
    chair.scan(tubes[1]["accession"])
    chair.says(f"Label {tubes[1]['accession']} does not belong on serum gel tube 3.5 mL")
    assert chair.sounds()[-1] == "wrong"
    chair.tap(chair.page.locator(".rack-tube").nth(2).get_by_role("button"))
    chair.scan(tubes[2]["accession"])
    chair.says("3. K2 EDTA tube 3 mL: the label agrees.")
    for tube in (tubes[0], tubes[1], tubes[3]):
        expect(chair.button("Finish")).to_have_count(0)
        chair.scan(tube["accession"])
        chair.settle()
    chair.at("finish")
    chair.tap("Finish")
    chair.at("ended")
    chair.all_sent()
    specimens = SpecimenNow.objects.all()
    assert {s.state for s in specimens} == {"labelled"}
    assert all(s.label_printed and s.lot for s in specimens)
    refused = [payload(e)["finding"] for e in recorded("tube_refused")]
    assert refused == ["tube-not-drawn", "label-mismatch"]
    assert not DrawFinding.objects.exists()


def test_a_needlestick_opens_its_card_and_is_written_with_time_and_people(desk: Desk) -> None:
    """The place's own numbers on top, a physician now, dates and sources; one event, no typing."""
    second_collector()
    place_change(
        place=Place.objects.get(code="ostrel-valley"),
        phone_numbers=[["Occupational physician", "555-0142"], ["Ambulance", "112"]],
    )
    chair = Chair(desk("mira"))
    tubes = at_the_needle(chair)
    chair.scan(tubes[0]["accession"])
    chair.settle()
    chair.tap("Something went wrong")
    chair.tap("Needlestick of the collector")
    card = chair.page.get_by_role("dialog")
    expect(card.locator("h2 + *")).to_contain_text("Occupational physician")
    expect(card).to_contain_text("Follow your local protocol first")
    expect(card).to_contain_text("See a physician now")
    expect(card.locator(".due li")).to_have_count(8)
    expect(card.locator(".due li").first).to_contain_text("best within 1 to 2 hours")
    expect(card.locator(".due li").first.locator(".source")).not_to_be_empty()
    card.get_by_label("Oskan Weyl").check()
    chair.tap("Write it down")
    chair.says("Needlestick of the collector: written down.")
    chair.at("tubes")
    chair.all_sent()
    (event,) = recorded("incident_recorded")
    said = payload(event)
    assert (said["what"], said["people"]) == ("needlestick", ["mira", "oskan"])
    assert (said["patient"], said["draw"]) == (KORALT, DrawNow.objects.get().code)
    incident = IncidentNow.objects.get()
    due = due_after(catalogue_at(""), incident.what, incident.happened_at)
    assert due[0].until - incident.happened_at == timedelta(hours=2)


def test_fainting_takes_the_needle_out_and_ends_the_draw(desk: Desk) -> None:
    """What is in the tubes stays; the rest is left out, with the mishap as the reason."""
    only_one_requisition()
    chair = Chair(desk("mira"))
    tubes = at_the_needle(chair)
    chair.scan(tubes[0]["accession"])
    chair.settle()
    chair.tap("Something went wrong")
    chair.tap("Fainting")
    expect(chair.page.get_by_role("dialog")).to_contain_text("Lay the patient flat")
    chair.tap("Write it down")
    chair.at("finish")
    expect(chair.page.locator("#main")).to_contain_text("Reason: Fainting")
    chair.tap("Finish")
    chair.at("ended")
    chair.all_sent()
    attempt = AttemptNow.objects.get()
    assert (attempt.success, attempt.reason) == (True, "fainting")
    assert DrawNow.objects.get().state == "finished"
    assert payload(recorded("override_given")[0])["reason"] == "Fainting"


def test_a_spill_between_patients_is_written_too(desk: Desk) -> None:
    """No draw is open: the incident stands alone."""
    chair = Chair(desk("mira"))
    chair.tap("Something went wrong")
    chair.tap("Spill")
    expect(chair.page.get_by_role("dialog")).to_contain_text("fresh 1 % hypochlorite")
    chair.tap("Write it down")
    chair.all_sent()
    assert IncidentNow.objects.get().draw == ""


def test_nothing_obtained_is_said_with_its_reason(desk: Desk) -> None:
    """The patient refuses at the needle: the draw ends, the requisition waits on."""
    chair = Chair(desk("mira"))
    at_the_needle(chair)
    chair.tap("No blood")
    chair.tap("Patient refused")
    chair.at("ended")
    expect(chair.page.locator("#main")).to_contain_text("nothing was drawn")
    chair.all_sent()
    assert DrawNow.objects.get().reason == "refused"
    chair.tap("Next patient")
    expect(chair.page.locator(".wait").filter(has_text="Koralt, Vesna").first).to_contain_text(
        "not obtained"
    )


def test_a_plan_that_is_stopped_is_not_drawn(desk: Desk) -> None:
    """Every site is shut: the stop is said, no needle is offered, only the end with its reason."""
    salme = Patient.objects.get(number="OV-10006")
    for side in ("left", "right"):
        salme.conditions.create(code="graft", side=side)
        salme.conditions.create(code="infected_skin", side=side, site="ankle_foot")
    chair = Chair(desk("mira"))
    chair.scan("OV-10006")
    chair.at("barred")
    expect(chair.page.locator("#main")).to_contain_text("Every site is shut for this patient")
    assert chair.page.locator("#main .step-barred button").all_inner_texts() == [
        "End: nothing is drawn"
    ]
    chair.tap("End: nothing is drawn")
    chair.tap("No vein found")
    chair.at("ended")
    chair.all_sent()
    assert DrawNow.objects.get().state == "not_obtained"


def test_a_vein_that_gives_no_more_is_an_attempt_that_gave_something(desk: Desk) -> None:
    """
    One tube, then nothing: the needle counts as obtained with its reason, and the next goes on
    with the tubes that are left.
    """
    only_one_requisition()
    chair = Chair(desk("mira"))
    tubes = at_the_needle(chair)
    chair.scan(tubes[0]["accession"])
    chair.at("tubes")
    chair.tap("No more blood")
    chair.tap("Vein collapsed")
    chair.at("needle")
    expect(chair.page.get_by_text("second attempt, a new needle")).to_be_visible()
    expect(chair.page.get_by_text("put the tourniquet on again in")).to_be_visible()
    chair.tap("Tourniquet on")
    for tube in tubes[1:]:
        chair.scan(tube["accession"])
        chair.settle()
    chair.tap("Tourniquet off")
    chair.tap("Finish")
    chair.at("ended")
    chair.all_sent()
    attempts = AttemptNow.objects.order_by("begun_at")
    assert [(a.success, a.reason) for a in attempts] == [(True, "collapsed"), (True, "")]
    assert not DrawFinding.objects.exists()
