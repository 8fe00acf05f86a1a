"""Forms of the collector's desk under a heavy hand: nothing stored twice, nothing typed lost."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, Route, expect

from cubital.desk.record.models import Event, Requisition
from tests.journeys.chair import Desk


def filled(page: Page) -> None:
    """A requisition for Ingra Haldis, all but sent."""
    page.goto("/new/?patient=OV-10005")
    box = page.get_by_label("Test or panel: name, code or scan")
    box.fill("fbc")
    box.press("Enter")
    page.locator("input[name=test][value=fbc]").wait_for(state="attached")
    page.get_by_label("Remarks").fill("rings at the door twice")
    page.wait_for_load_state("networkidle")


def send(page: Page) -> None:
    """The last button of the page."""
    page.get_by_role("button", name="Store and plan the draw").click()


def of_ingra() -> int:
    """How many requisitions she has with that remark."""
    return Requisition.objects.filter(
        patient__number="OV-10005", remarks="rings at the door twice"
    ).count()


def test_a_double_click_stores_one_requisition(desk: Desk) -> None:
    """And so does Back, then the same button again, which says so."""
    page = desk("mira")
    filled(page)
    page.get_by_role("button", name="Store and plan the draw").dblclick()
    page.wait_for_url("**/requisitions/**")
    expect(page.get_by_text("is on the desk.")).to_be_visible()
    assert of_ingra() == 1
    page.go_back()
    if page.locator("input[name=test][value=fbc]").count() == 0:  # the browser kept no page
        filled(page)
    send(page)
    page.wait_for_url("**/requisitions/**")
    expect(page.get_by_text("was stored already; it is not stored twice.")).to_be_visible()
    assert of_ingra() == 1


def test_a_double_click_on_the_answers_is_one_event(desk: Desk) -> None:
    """And on the way back they stand there."""
    page = desk("mira")
    number = Requisition.objects.get(number__endswith="D14").number
    page.goto(f"/requisitions/{number}/")
    page.get_by_text("Write down the answers").click()
    page.get_by_label("Hours since last dose").fill("12")
    page.get_by_role("button", name="Store and plan anew").dblclick()
    expect(page.get_by_text("Stored; the plan follows.")).to_be_visible()
    assert Event.objects.filter(kind="requisition_answered").count() == 1


@pytest.mark.parametrize(
    ("leave", "words", "back"),
    [("Sign out", "You are signed out", "Sign in"), ("Lock", "The screen is locked", "Unlock")],
)
def test_a_session_that_ends_in_another_tab_loses_nothing_typed(
    desk: Desk, leave: str, words: str, back: str
) -> None:
    """The form stays with a sentence and a way; after it the same form is sent and stored."""
    page = desk("mira")
    filled(page)
    other = page.context.new_page()
    other.goto("/")
    other.get_by_role("button", name=leave).click()
    other.wait_for_load_state()
    send(page)
    expect(page.get_by_role("alert").filter(has_text=words)).to_be_visible()
    expect(page.get_by_label("Remarks")).to_have_value("rings at the door twice")
    assert of_ingra() == 0
    with page.context.expect_page() as opened:
        page.get_by_role("link", name=back).click()
    door = opened.value
    if leave == "Sign out":
        door.get_by_label("Name").fill("mira")
    door.get_by_role("textbox", name="Password").fill("ostrel-valley")
    door.get_by_role("button", name="Sign in" if leave == "Sign out" else "Go on").last.click()
    door.wait_for_url("**/")
    send(page)
    page.wait_for_url("**/requisitions/**")
    assert of_ingra() == 1


def test_a_search_while_signed_out_leaves_the_form_where_it_is(desk: Desk) -> None:
    """Not the sign-in page in its place."""
    page = desk("mira")
    filled(page)
    page.context.clear_cookies()
    page.get_by_label("Test or panel: name, code or scan").fill("potas")
    expect(page.get_by_role("alert").filter(has_text="You are signed out")).to_be_visible()
    assert page.url.endswith("/new/?patient=OV-10005")
    expect(page.get_by_label("Remarks")).to_have_value("rings at the door twice")


def test_a_desk_that_does_not_answer_loses_nothing_typed(desk: Desk) -> None:
    """The sentence, and the same form is sent when the network is back."""
    page = desk("mira")
    filled(page)
    page.context.set_offline(True)
    send(page)
    expect(page.get_by_role("alert").filter(has_text="The desk does not answer")).to_be_visible()
    page.context.set_offline(False)
    send(page)
    page.wait_for_url("**/requisitions/**")
    assert of_ingra() == 1


def test_a_slow_desk_gets_the_form_once(desk: Desk) -> None:
    """However often the button is pressed while it thinks."""
    page = desk("mira")
    filled(page)
    sent: list[str] = []

    def slowly(route: Route, *_: Any) -> None:
        sent.append(route.request.url)
        page.wait_for_timeout(400)
        route.continue_()

    page.route("**/here/", slowly)
    for _ in range(3):
        send(page)
    page.wait_for_url("**/requisitions/**")
    assert len(sent) == 1
    assert of_ingra() == 1
