"""At the chair with somebody of whom fewer identifiers are known than are asked for."""

from __future__ import annotations

from pathlib import Path

from playwright.sync_api import expect

from cubital.desk.record.models import DrawFinding, DrawNow, Place
from tests.journeys.chair import Chair, Desk, payload, recorded, second_collector

MAN = "OV-10013"  # unknown, without a birth date


def reach(chair: Chair, reason: str) -> str:
    """Scan the requisition, and say why fewer identifiers are known."""
    number = str(chair.draw(MAN)["requisition"])
    chair.scan(number)
    chair.at("few")
    expect(chair.page.locator("#main")).to_contain_text(
        "Only 2 of 3 identifiers are known, no birth date"
    )
    chair.tap(reason)
    return number


def draw_all(chair: Chair, patient: str = MAN) -> None:
    """Every tube of the man, or of somebody else, and the end."""
    chair.until_needle()
    chair.draw_all(chair.tubes(patient))
    chair.all_sent()


def policy(folder: Path, word: str) -> None:
    """The laboratory's own check."""
    (folder / "settings.csv").write_text(
        f"key,value,unit,meaning,source\nidentifiers_few_check,{word},,Our rule.,common_practice\n",
        encoding="utf-8",
    )
    Place.objects.filter(code="ostrel-valley").update(catalogue_folder=str(folder))


def test_somebody_unconscious_is_drawn_with_a_reason_and_the_wristband(desk: Desk) -> None:
    """
    Identifiers are read on the band, the band is scanned and not the paper; the record has it as
    an event, a finding of the draw, and a line of the logbook.
    """
    chair = Chair(desk("mira"))
    expect(chair.page.locator(".wait").filter(has_text=MAN)).to_contain_text("fewer identifiers")
    number = reach(chair, "Unconscious or too ill to answer")
    chair.at("identity")
    expect(chair.page.get_by_role("heading", name="Read the name on the wristband")).to_be_visible()
    chair.tap("Agrees")
    expect(chair.page.get_by_text("2 of 2")).to_be_visible()
    chair.tap("Agrees")
    chair.at("few_check")
    chair.scan(number)
    chair.says("That is the requisition")
    chair.scan("OV-10005")
    chair.says(f"This is not the wristband of {MAN}")
    chair.at("few_check")
    chair.page.reload()
    chair.at("few_check")
    chair.scan(MAN)
    draw_all(chair)
    assert DrawNow.objects.get().state == "finished"
    given = [payload(e) for e in recorded("identity_confirmed") if "reason" in payload(e)]
    assert given == [{"identifiers": ["wristband"], "reason": "unconscious"}]
    assert {
        "finding": "identifier-missing",
        "reason": "Unconscious or too ill to answer; wristband read",
    } in [payload(e) for e in recorded("override_given")]
    assert [f.code for f in DrawFinding.objects.all()].count("identifiers-few") == 1
    quality = desk("sade")
    quality.goto("/logbook/")
    expect(quality.locator("main")).to_contain_text("Went on although a rule asked")
    expect(quality.locator("main")).to_contain_text("wristband read")


def test_a_mismatch_stops_this_patient_too(desk: Desk) -> None:
    """A reason is no way around an identifier, or a band, that does not agree."""
    chair = Chair(desk("mira"))
    reach(chair, "Neither patient nor family knows the birth date")
    expect(chair.page.get_by_role("heading", name="What is your full name?")).to_be_visible()
    chair.tap("Agrees")
    expect(chair.page.get_by_text("2 of 2")).to_be_visible()
    chair.tap("Agrees")
    chair.at("few_check")
    chair.tap("Does not agree")
    chair.at("mismatch")
    expect(chair.page.locator("#main")).to_contain_text("Nobody overrides this")
    chair.tap("End: nothing is drawn")
    chair.at("ended")
    chair.all_sent()
    assert payload(recorded("identity_mismatch")[0])["identifier"] == "wristband"
    assert not recorded("attempt_begun")


def test_a_second_person_where_local_policy_wants_one(desk: Desk, tmp_path: Path) -> None:
    """Another badge, or a name in any script; never the collector's own."""
    second_collector()
    policy(tmp_path, "both")
    chair = Chair(desk("mira"))
    reach(chair, "Unconscious or too ill to answer")
    for _ in range(2):
        chair.at("identity")
        chair.tap("Agrees")
        chair.settle()
    chair.scan(MAN)
    expect(chair.page.get_by_role("heading", name="A second person looks too")).to_be_visible()
    chair.scan("BADGE-1")
    chair.says("The second person is somebody else than you")
    chair.scan("NO-BADGE")
    chair.says("This badge is not known here")
    chair.scan("BADGE-2")
    chair.until_needle()
    chair.all_sent()
    said = [payload(e) for e in recorded("identity_confirmed")]
    assert {"identifiers": ["second_person"], "second": "oskan"} in said
    words = payload(recorded("override_given")[0])["reason"]
    assert words.endswith("; wristband read, second person oskan")


def test_the_second_person_may_have_no_badge(desk: Desk, tmp_path: Path) -> None:
    """Then the name is written; the reason can be changed before."""
    policy(tmp_path, "second_person")
    chair = Chair(desk("mira"))
    reach(chair, "Confused, or no common language")
    for _ in range(2):
        chair.at("identity")
        chair.tap("Agrees")
        chair.settle()
    chair.at("few_check")
    chair.tap("Another reason")
    chair.at("few")
    chair.tap("Unconscious or too ill to answer")
    chair.at("few_check")
    chair.tap("Write the name instead")
    chair.page.get_by_label("Name of the second person").fill("पद्मा गुरुङ")
    chair.tap("Take it")
    chair.until_needle()
    chair.all_sent()
    said = [payload(e) for e in recorded("identity_confirmed")]
    assert {
        "identifiers": ["second_person"], "reason": "unconscious", "second": "पद्मा गुरुङ",
    } in said  # fmt: skip


def test_a_known_patient_who_cannot_say_it_is_read_on_the_band(desk: Desk) -> None:
    """
    Nothing lacks, and nobody has to pretend: a reason, the band read and scanned, all on record.

    Who says it after all goes back.
    """
    chair = Chair(desk("mira"))
    draw = chair.draw("OV-10005")
    chair.scan(str(draw["requisition"]))
    expect(chair.page.get_by_role("heading", name="What is your full name?")).to_be_visible()
    chair.tap("The patient cannot say it")
    chair.at("few")
    chair.tap("Back: the patient says it")
    expect(chair.page.get_by_role("heading", name="What is your full name?")).to_be_visible()
    chair.tap("The patient cannot say it")
    chair.tap("Unconscious or too ill to answer")
    expect(chair.page.get_by_role("heading", name="Read the name on the wristband")).to_be_visible()
    for number in range(3):
        expect(chair.page.get_by_text(f"{number + 1} of 3")).to_be_visible()
        chair.tap("Agrees")
    chair.at("few_check")
    expect(chair.button("Another reason")).to_have_count(0)
    chair.page.reload()
    chair.at("few_check")
    chair.scan("OV-10005")
    draw_all(chair, "OV-10005")
    said = [payload(e) for e in recorded("identity_confirmed")]
    assert {"identifiers": ["name"], "reason": "unconscious"} in said
    assert {"identifiers": ["wristband"]} in said
    assert [payload(e)["finding"] for e in recorded("override_given")] == ["identifiers-read"]
    assert [f.code for f in DrawFinding.objects.all()].count("identifiers-read") == 1
