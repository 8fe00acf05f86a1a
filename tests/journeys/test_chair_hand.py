"""The chair under a heavy hand: second taps, odd scans, a second window, very long names."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from cubital.desk.record.models import Patient
from tests.journeys.chair import PIN, Chair, Desk, payload, recorded, second_collector
from tests.journeys.conftest import TABLET

KORALT = "OV-10001"
ODD = ("x" * 500, "бирка № 7", "標本一二三", "عينة ١٢٣", "<b>bold</b>", "OL26' OR 1=1 --")


def test_a_second_tap_answers_nothing_unread(desk: Desk) -> None:
    """A double click on Agrees agrees to one identifier; on Tourniquet on, takes it off no more."""
    chair = Chair(desk("mira"))
    chair.scan(chair.draw(KORALT)["requisition"])
    expect(chair.page.get_by_text("1 of 3")).to_be_visible()
    chair.button("Agrees").dblclick()
    chair.settle()
    expect(chair.page.get_by_text("2 of 3")).to_be_visible()
    chair.all_sent()
    said = [payload(e)["identifiers"] for e in recorded("identity_confirmed")]
    assert said == [["scan"], ["name"]]
    chair.tap("Agrees")
    expect(chair.page.get_by_text("3 of 3")).to_be_visible()
    chair.tap("Agrees")
    chair.until_needle()
    chair.button("Tourniquet on").dblclick()
    chair.scan(chair.tubes(KORALT)[0]["accession"])
    chair.at("tubes")
    chair.all_sent()
    assert [len(recorded(f"tourniquet_{way}")) for way in ("on", "off")] == [1, 0]


def test_questions_of_one_kind_are_asked_together(desk: Desk) -> None:
    """
    Six tests asked for twice are one page to read and one tap; each is named.

    The page is long, and the step after it begins with the patient's name again.
    """
    chair = Chair(desk("mira", {"width": 1280, "height": 560}))
    chair.identify(chair.draw(KORALT)["requisition"])
    chair.at("ask")
    twice = [f for f in chair.draw(KORALT)["show"]["findings"] if f["code"] == "test-twice"]
    assert len(twice) > 1
    for finding in twice:
        expect(chair.page.get_by_text(finding["sentence"])).to_be_visible()
    chair.tap("Seen, go on")
    chair.at("needle")
    expect(chair.page.locator(".band h1")).to_be_in_viewport()
    chair.all_sent()
    assert [payload(e)["finding"] for e in recorded("override_given")] == ["test-twice"]


@pytest.mark.parametrize("step", ["round", "scan", "identity", "tubes"])
def test_an_odd_scan_is_told_and_changes_nothing(desk: Desk, step: str) -> None:
    """Five hundred signs, other alphabets, marks of a program: a sentence, and the same step."""
    chair = Chair(desk("mira", TABLET))
    number = chair.draw("OV-10005")["requisition"]
    if step == "scan":
        chair.tap(chair.page.locator(".wait button").filter(has_text="Haldis"))
    if step == "identity":
        chair.scan(number)
    if step == "tubes":
        chair.identify(number)
        chair.until_needle()
        chair.tap("Tourniquet on")
        chair.scan(chair.tubes("OV-10005")[0]["accession"])
    chair.at(step)
    for odd in ODD:
        chair.page.evaluate(
            "(text) => { window.cubitalChair.app.message = null;"
            " window.cubitalChair.app.scan(text); }", odd,
        )  # fmt: skip
        chair.settle()
        expect(chair.page.locator("#message .message.stop")).to_be_visible()
        chair.at(step)
    assert not chair.page.evaluate("document.documentElement.scrollWidth > innerWidth")


def test_a_scan_before_an_open_question_is_not_swallowed(desk: Desk) -> None:
    """The dialog says that it comes first; the tube is scanned again afterwards."""
    chair = Chair(desk("mira"))
    tubes = chair.tubes("OV-10005")
    chair.identify(chair.draw("OV-10005")["requisition"])
    chair.until_needle()
    chair.tap("Tourniquet on")
    chair.scan(tubes[1]["accession"])
    dialog = chair.page.get_by_role("dialog")
    expect(dialog).to_contain_text("Not yet")
    chair.scan(tubes[0]["accession"])
    expect(dialog.get_by_role("alert")).to_contain_text("answer this first, then scan again")
    chair.tap("Put it aside")
    chair.scan(tubes[0]["accession"])
    chair.at("tubes")


def test_a_pin_on_keys_and_a_badge_scanned_twice(desk: Desk) -> None:
    """A second scan of the badge leaves no digits behind; Enter after the PIN sends it."""
    second_collector()
    chair = Chair(desk("mira"))
    chair.tap("Lock")
    chair.scan("BADGE-1")
    expect(chair.page.get_by_role("dialog", name="Your PIN")).to_be_visible()
    chair.scan("BADGE-1")
    expect(chair.page.locator(".pin")).to_contain_text("0 digits")
    chair.scan(PIN)
    expect(chair.page.get_by_role("dialog")).to_have_count(0)
    chair.at("round")


def test_two_windows_of_one_device(desk: Desk) -> None:
    """The second waits, says why, and goes on when the first is closed; nothing is twice."""
    chair = Chair(desk("mira"))
    chair.scan(chair.draw("OV-10005")["requisition"])
    chair.at("identity")
    chair.all_sent()
    second = chair.page.context.new_page()
    second.goto("/chair/")
    expect(second.get_by_role("heading", name="open in another window")).to_be_visible()
    chair.page.close()
    expect(second.locator("[data-step=identity]")).to_be_visible(timeout=20_000)
    assert len(recorded("draw_begun")) == 1


@pytest.mark.parametrize("name", ["عبد الرحمن بن محمد القرشي" * 4, "Aeschlimann-" * 8, "W" * 100])
def test_a_very_long_name_stays_on_the_page(desk: Desk, name: str) -> None:
    """At the chair and on the plan, on a tablet: nothing scrolls sideways, the name is whole."""
    Patient.objects.filter(number="OV-10005").update(family_name=name)
    chair = Chair(desk("mira", TABLET))
    page, sideways = chair.page, "document.documentElement.scrollWidth > innerWidth"
    assert not page.evaluate(sideways)
    number = chair.draw("OV-10005")["requisition"]
    chair.scan(number)
    chair.at("identity")
    expect(page.locator(".band h1")).to_contain_text(name)
    assert not page.evaluate(sideways)
    chair.tap("Something went wrong")
    chair.tap("Fainting")
    assert not page.evaluate("document.querySelector('dialog').scrollWidth > innerWidth")
    for address in (
        f"/requisitions/{number}/",
        "/",
        "/patients/OV-10005/",
        "/new/?patient=OV-10005",
    ):
        page.goto(address)
        assert not page.evaluate(sideways), address
