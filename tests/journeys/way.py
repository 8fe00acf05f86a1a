"""What the journeys of transport and reception share: scanning, and a look at every page."""

from __future__ import annotations

from collections.abc import Iterable

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

import cubital.desk.urls  # noqa: F401 - every page is loaded before a browser waits for one
from tests.journeys.test_pages import SMALL_TARGETS, TARGET_PX


def scan(page: Page, *codes: str) -> None:
    """Scan one after another at a scanner's speed: the text, then Enter, wherever the focus is."""
    for code in codes:
        page.keyboard.type(code)
        page.keyboard.press("Enter")


def tally(page: Page, accepted: int, look: int, twice: int) -> None:
    """Wait until the page has counted so many."""
    counts = page.get_by_label("This tray").locator("strong")
    for at, number in enumerate((accepted, look, twice)):
        expect(counts.nth(at)).to_have_text(str(number), timeout=20_000)


def wrong_with(page: Page, addresses: Iterable[str]) -> list[tuple[str, str, list[str]]]:
    """axe-core violations, targets under 48 px and sideways scrolling, on each page."""
    axe, wrong = Axe(), []
    for address in addresses:
        page.goto(address)
        page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
        wrong += wrong_here(page, address, axe)
    return wrong


def wrong_here(page: Page, name: str, axe: Axe | None = None) -> list[tuple[str, str, list[str]]]:
    """The same on the page as it stands."""
    found = (axe or Axe()).run(page)
    wrong = [
        (name, violation["id"], [node["html"][:150] for node in violation["nodes"][:3]])
        for violation in found.response["violations"]
    ]
    small = page.evaluate(SMALL_TARGETS, TARGET_PX)
    if small:
        wrong.append((name, "small targets", small[:3]))
    if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
        wrong.append((name, "scrolls sideways", []))
    return wrong
