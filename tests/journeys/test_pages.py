"""Every page at the desk's and the tablet's width: accessible, big enough to hit, nothing cut."""

from __future__ import annotations

from collections.abc import Callable

import pypdfium2
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, ViewportSize

from cubital.desk.record.models import Person, Requisition
from tests.journeys.conftest import DESKTOP, TABLET

TARGET_PX = 47.5  # 48 px, and half a pixel for rounding
SMALL_TARGETS = """
px => [...document.querySelectorAll("a, button, input, select, textarea, summary")]
  .filter(each => {
    const own = each.getBoundingClientRect();
    const held = (each.closest("label") || each).getBoundingClientRect();
    if (!own.width || own.bottom < 0 || each.matches(".skip")) return false;
    return Math.max(own.height, held.height) < px || Math.max(own.width, held.width) < px;
  })
  .map(each => each.outerHTML.slice(0, 120))
"""


def pages() -> list[str]:
    """Every page that can be looked at, with an example of each kind of plan."""
    numbers = {row.number[-3:]: row.number for row in Requisition.objects.all()}
    plans = [numbers[f"D{serial:02d}"] for serial in (2, 3, 10, 13, 15)]
    drawn = numbers["D02"]
    return [
        "/",
        "/?day=2001-01-01",
        "/find/?q=koralt",
        "/new/",
        "/new/?patient=OV-10006",
        "/from-file/",
        "/patients/?q=o",
        "/patients/OV-10001/",
        "/patients/OV-10006/change/",
        *(f"/requisitions/{number}/" for number in plans),
        f"/requisitions/{drawn}/short/?obtained=2.4",
        f"/requisitions/{drawn}/add-on/?add_test=ferritin",
        f"/requisitions/{drawn}/sheet/",
        "/catalogue/",
        "/catalogue/?q=no+such+test",
        "/catalogue/potassium/",
        "/catalogue/renal/",
        "/catalogue/sources/",
        "/place/",
        "/place/new/",
        "/stock/",
        "/people/",
        f"/people/{Person.objects.get(role='bench').pk}/",
        "/no-such-page/",
    ]


@pytest.mark.parametrize("width", [DESKTOP, TABLET], ids=["1280", "820"])
def test_every_page_can_be_used_by_everybody(
    desk: Callable[..., Page], width: ViewportSize
) -> None:
    """No axe-core violation, no target under 48 px, no sideways scrolling, on any page."""
    page = desk("ilko", width)
    axe, wrong = Axe(), []
    for address in pages():
        page.goto(address)
        page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
        found = axe.run(page)
        for violation in found.response["violations"]:
            nodes = [node["html"][:150] for node in violation["nodes"][:3]]
            wrong.append((address, violation["id"], nodes))
        small = page.evaluate(SMALL_TARGETS, TARGET_PX)
        if small:
            wrong.append((address, "small targets", small[:3]))
        if page.evaluate("document.documentElement.scrollWidth") > width["width"]:
            wrong.append((address, "scrolls sideways", []))
    assert wrong == []


@pytest.mark.parametrize("width", [DESKTOP, TABLET], ids=["1280", "820"])
def test_the_sign_in_page_can_be_used_by_everybody(
    desk: Callable[..., Page], width: ViewportSize
) -> None:
    """Signed out, before and after a wrong password."""
    page = desk("", width)
    page.goto("/sign-in/")
    assert Axe().run(page).violations_count == 0
    page.get_by_label("Name").fill("mira")
    page.get_by_label("Password").fill("wrong")
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("alert").wait_for()
    assert Axe().run(page).violations_count == 0
    assert page.evaluate(SMALL_TARGETS, TARGET_PX) == []


def test_the_sheet_prints_on_one_page_of_a4(desk: Callable[..., Page]) -> None:
    """A plan of four containers with its findings: one page, no menu on it."""
    page = desk("mira")
    number = Requisition.objects.get(number__endswith="D02").number
    page.goto(f"/requisitions/{number}/sheet/")
    pdf = pypdfium2.PdfDocument(page.pdf(prefer_css_page_size=True))
    assert len(pdf) == 1
    width, height = pdf[0].get_size()
    assert (round(width), round(height)) == (595, 842)
    text = pdf[0].get_textpage().get_text_bounded()
    assert "Drumlin, Aske" in text
    assert "light blue" in text
    assert "Sign out" not in text
