"""The menu on a desk and on a tablet, by mouse, by keyboard and without scripts."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Page, expect

from cubital.desk.record.models import Role
from tests.journeys.conftest import TABLET
from tests.journeys.way import wrong_here

Window = Callable[..., Page]
LINE_PX = 70
PEOPLE = {"collector": "mira", "bench": "joren", "quality": "sade", "manager": "ilko"}


def test_the_menu_keeps_to_one_line_on_a_tablet(desk: Window) -> None:
    """Whoever signs in has the menu beside the sign of the house, in one line."""
    assert set(PEOPLE) == set(Role.values)
    for name in PEOPLE.values():
        page = desk(name, TABLET)
        assert page.locator(".top-in").bounding_box()["height"] < LINE_PX, name


def test_what_is_opened_now_and_then_unfolds_by_keyboard(desk: Window) -> None:
    """A manager on a tablet comes to the people with the keyboard alone; a desk shows all lines."""
    page = desk("ilko", TABLET)
    menu = page.get_by_role("navigation", name="Main")
    expect(menu.get_by_role("link", name="People")).to_be_hidden()
    menu.locator("summary").focus()
    page.keyboard.press("Enter")
    expect(menu.get_by_role("link", name="Stock")).to_be_visible()
    assert not wrong_here(page, "the menu, unfolded")
    for _ in range(4):
        page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("People")
    expect(menu.locator("summary.here")).to_be_visible()
    page.set_viewport_size({"width": 1280, "height": 900})
    expect(menu.locator("summary")).to_be_hidden()
    expect(menu.get_by_role("link", name="People")).to_have_attribute("aria-current", "page")
