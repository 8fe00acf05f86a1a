"""The chair looked at by axe, and held to its own measures: AAA contrast, 64 px, keyboard alone."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, ViewportSize, expect

from tests.journeys.chair import Chair, Desk, labels, only_one_requisition, second_collector
from tests.journeys.conftest import DESKTOP, TABLET

KORALT = "OV-10001"
RULES = {
    "runOnly": {
        "type": "tag",
        "values": ["wcag2a", "wcag2aa", "wcag2aaa", "wcag21a", "wcag21aa", "wcag22aa",
                   "best-practice"],
    },
    "rules": {"color-contrast-enhanced": {"enabled": True}, "target-size": {"enabled": True}},
}  # fmt: skip
SMALL = """
() => [...document.querySelectorAll("button, a, input:not([type=hidden])")]
  .filter((each) => each.checkVisibility() && !each.closest("[hidden]"))
  .map((each) => [each.innerText || each.id, each.closest("label") || each])
  .map(([words, each]) => [words, each.getBoundingClientRect()])
  .filter(([, box]) => box.width < 64 || box.height < 64)
  .map(([words, box]) => `${words}: ${box.width} x ${box.height}`)
"""
FOCUSED = "() => document.activeElement.dataset.key ? document.activeElement.innerText : ''"
WIDE = "() => document.documentElement.scrollWidth <= window.innerWidth"


def look(page: Page, what: str) -> None:
    """No violation, contrast of 7:1, nothing small, nothing beside the screen."""
    page.wait_for_timeout(50)
    found = Axe().run(page, options=RULES)
    assert found.violations_count == 0, (what, found.generate_report())
    looked = {each["id"] for part in ("passes", "incomplete") for each in found.response[part]}
    assert {"color-contrast-enhanced", "target-size"} <= looked, what
    assert page.evaluate(SMALL) == [], what
    assert page.evaluate(WIDE), what


@pytest.mark.parametrize("viewport", [DESKTOP, TABLET], ids=["1280", "820"])
def test_every_step_is_seen_by_everybody(desk: Desk, viewport: ViewportSize) -> None:
    """The round, each panel, each dialog, right and wrong, at both widths."""
    only_one_requisition()
    second_collector()
    labels("after")
    chair = Chair(desk("mira", viewport))
    page = chair.page
    look(page, "round")
    tubes = chair.tubes(KORALT)
    chair.tap(page.locator(".wait button").filter(has_text="Koralt, Vesna"))
    look(page, "scan")
    chair.scan(KORALT)
    chair.at("identity")
    look(page, "identity")
    for _ in range(3):
        chair.tap("Agrees")
        chair.settle()
    chair.at("needle")
    look(page, "needle")
    chair.tap("Change")
    look(page, "change")
    chair.tap("Back")
    chair.tap("Tourniquet on")
    look(page, "tourniquet")
    chair.scan("no-such-code")
    chair.settle()
    look(page, "wrong scan")
    chair.scan(f"{tubes[1]['container']}:OL24113")
    chair.settle()
    look(page, "a tube, maybe too early")
    if page.get_by_role("dialog").count():
        chair.tap("Put it aside")
    codes = {c["container"]: c["code"] for c in chair.draw(KORALT)["sheet"]["stock"]}
    chair.scan(codes[tubes[0]["container"]])
    chair.at("tubes")
    look(page, "tubes")
    page.evaluate("() => { document.querySelector('[data-timer]').dataset.since -= 61_000; }")
    page.wait_for_timeout(400)
    look(page, "tourniquet too long")
    chair.tap("Tourniquet off")
    chair.tap("Not full")
    look(page, "short")
    chair.tap("2 mL", exact=False)
    chair.tap("3 mL", exact=False)
    expect(page.get_by_text("With 3 mL")).to_be_visible()
    look(page, "what is still possible")
    chair.tap("Do it so")
    chair.tap("Something went wrong")
    look(page, "mishaps")
    chair.tap("Needlestick of the collector")
    look(page, "card")
    chair.tap("Opened by mistake")
    chair.tap("No more blood")
    look(page, "reasons")
    chair.tap("Back")
    chair.scan(codes[tubes[1]["container"]])
    chair.at("labels")
    look(page, "labels")
    chair.tap("More")
    look(page, "more")
    chair.tap("Switch person")
    look(page, "switch")
    chair.scan("BADGE-2")
    expect(page.get_by_role("dialog", name="Your PIN")).to_be_visible()
    look(page, "PIN")


def test_a_whole_draw_by_keyboard_alone(desk: Desk) -> None:
    """Tab and Enter reach everything; the focus stays with the step, never lost to the page."""
    only_one_requisition()
    chair = Chair(desk("mira"))
    page = chair.page
    tubes = chair.tubes("OV-10005")
    chair.scan("OV-10005")
    for number in range(3):
        expect(page.get_by_text(f"{number + 1} of 3")).to_be_visible()
        press(chair, "Agrees")
    chair.settle()
    chair.until_needle()
    press(chair, "Tourniquet on")
    chair.scan(tubes[0]["accession"])
    press(chair, "Tourniquet off")
    chair.scan(tubes[1]["accession"])
    press(chair, "Finish")
    chair.at("ended")
    press(chair, "Next patient")
    chair.at("round")


def press(chair: Chair, words: str) -> None:
    """Go to a button with Tab and press Enter; it must be in sight of the focus."""
    expect(chair.button(words)).to_be_visible()
    chair.settle()
    for _ in range(30):
        at = chair.page.evaluate(FOCUSED)
        if at.strip() == words:
            break
        chair.page.keyboard.press("Tab")
    expect(chair.button(words)).to_be_focused()
    chair.page.keyboard.press("Enter")
