"""A collector's morning in the browser, mostly by keyboard."""

from __future__ import annotations

import re
from collections.abc import Callable

from playwright.sync_api import Page, Route, expect

from cubital.accession import is_sound
from cubital.desk.record.models import Accession, Patient, Requisition


def typed(page: Page, text: str) -> None:
    """Type as a scanner does: the text, then Enter."""
    page.keyboard.type(text)
    page.keyboard.press("Enter")


def test_a_requisition_by_keyboard_alone_to_its_labels(desk: Callable[..., Page]) -> None:
    """Sign in, ask for tests, see the plan, ask about a short sample, print labels: no mouse."""
    page = desk()
    page.goto("/sign-in/")
    page.keyboard.type("mira")
    page.keyboard.press("Tab")
    typed(page, "ostrel-valley")
    page.get_by_role("link", name="New requisition").press("Enter")

    expect(page.locator("#patient-box")).to_be_focused()
    typed(page, "OV-10005")
    expect(page.get_by_text("Haldis, Ingra")).to_be_visible()
    expect(page.locator("#test-box")).to_be_focused()
    for said in ("renal", "fbc", "pt-inr"):
        typed(page, said)
        expect(page.locator(f"input[name=test][value={said}]")).to_have_count(1)
    page.locator("#ward").press_sequentially("Home visit")
    page.keyboard.press("Enter")

    expect(page.locator("h1")).to_have_text("Haldis, Ingra")
    tubes = page.locator("ol.rack > li.tube")
    places = [int(text) for text in tubes.locator(".n").all_inner_texts()]
    assert places == list(range(1, len(places) + 1))
    colours = [text.strip() for text in tubes.locator("text.t-name").all_text_contents()]
    assert "light blue" in colours
    assert "lavender" in colours

    page.get_by_label("Blood in the syringe, mL").focus()
    address = page.url
    typed(page, "2.5")
    answer = page.locator("#short-answer")
    expect(answer).to_contain_text("of 2.5 mL go into")
    expect(answer).to_contain_text("Not done with this blood")
    assert page.url == address, "the answer came into the page"

    row = Requisition.objects.get(ward="Home visit", entered_by__username="mira")
    form = page.locator(f"form[action='/requisitions/{row.number}/labels.pdf']")
    token = form.locator("input[name=csrfmiddlewaretoken]").get_attribute("value")
    pdf = page.request.post(
        f"/requisitions/{row.number}/labels.pdf",
        form={"csrfmiddlewaretoken": token or ""},
        headers={"Referer": page.url},
    )
    assert pdf.headers["content-type"] == "application/pdf"
    assert pdf.body().startswith(b"%PDF")
    numbers = [each.number for each in Accession.objects.filter(requisition=row)]
    assert len(numbers) == len(places)
    assert all(is_sound(number) for number in numbers)

    page.goto("/")
    typed(page, numbers[0])
    expect(page).to_have_url(re.compile(rf"/requisitions/{row.number}/$"))


def test_a_new_patient_with_a_slip_and_its_mend(desk: Callable[..., Page]) -> None:
    """A weight that cannot be is one sentence; nothing typed is lost, nothing half stored."""
    page = desk("mira")
    page.goto("/new/")
    expect(page.locator("#patient-box")).to_be_focused()
    typed(page, "Zzyx")
    expect(page.locator("#family_name")).to_be_focused()
    expect(page.locator("#family_name")).to_have_value("Zzyx")
    page.get_by_label("Given name").fill("Åse 明")
    page.get_by_label("Born on").fill("1990-02-28")
    page.get_by_label("Weight, kg").fill("-5")
    page.get_by_label("Condition").select_option("mastectomy")
    page.get_by_label("Side").select_option("right")
    page.get_by_role("button", name="Add condition").click()
    expect(page.locator("#conditions li")).to_have_count(1)
    page.locator("#test-box").focus()
    typed(page, "crp")
    expect(page.locator("#chosen li")).to_have_count(1)
    page.get_by_role("button", name="Store and plan").click()

    said = page.get_by_role("alert")
    expect(said).to_contain_text("Weight")
    expect(said).to_contain_text("kilograms")
    expect(said).to_be_focused()
    assert not Patient.objects.filter(family_name="Zzyx").exists()
    expect(page.get_by_label("Given name")).to_have_value("Åse 明")
    expect(page.locator("#conditions li")).to_have_count(1)
    expect(page.locator("#chosen li")).to_have_count(1)

    page.get_by_label("Weight, kg").fill("61,5")
    page.get_by_role("button", name="Store and plan").click()
    expect(page.locator("h1")).to_have_text("Zzyx, Åse 明")
    expect(page.get_by_label("Shut for this patient")).to_contain_text("right")
    assert Patient.objects.get(family_name="Zzyx").weight_g == 61_500


def test_the_last_thing_asked_for_a_patient_is_the_one_that_counts(
    desk: Callable[..., Page],
) -> None:
    """An answer to an earlier scan comes too late: the new patient's fields stay."""
    page = desk("mira")
    page.goto("/new/")
    expect(page.locator("#patient-box")).to_be_focused()
    held: list[Route] = []
    late = re.compile(r"/new/patient/\?(?!.*new=).*q=OV-10005")
    page.route(late, lambda route: held.append(route))
    with page.expect_request(late):
        typed(page, "OV-10005")
    page.keyboard.type("Zzyx")
    with page.expect_event("requestfailed", lambda request: bool(late.search(request.url))):
        page.get_by_role("button", name="Register a new patient").press("Enter")
    expect(page.locator("#family_name")).to_have_value("Zzyx")
    assert len(held) == 1


def test_arrow_keys_walk_the_answers(desk: Callable[..., Page]) -> None:
    """Down goes from the box into the answers, Escape back; a second scan of a test is told."""
    page = desk("mira")
    page.goto("/new/?patient=OV-10005")
    expect(page.locator("#test-box")).to_be_focused()
    page.keyboard.type("potas")
    answers = page.locator("#test-answers button")
    expect(answers.first).to_be_visible()
    page.keyboard.press("ArrowDown")
    expect(answers.first).to_be_focused()
    page.keyboard.press("Escape")
    expect(page.locator("#test-box")).to_be_focused()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    expect(page.locator("#chosen li")).to_have_count(1)
    expect(page.locator("#test-box")).to_be_focused()
    expect(page.locator("#test-box")).to_have_value("")
    typed(page, "potassium")
    expect(page.locator("#test-answers")).to_contain_text("already on this requisition")
    page.locator("#test-box").fill("")
    typed(page, "no such test at all")
    expect(page.locator("#test-answers")).to_contain_text("No test or panel is called")
    page.locator("#chosen [data-remove]").press("Enter")
    expect(page.locator("#chosen li")).to_have_count(0)
    expect(page.locator("#test-box")).to_be_focused()


def test_an_add_on_is_answered_in_the_page(desk: Callable[..., Page]) -> None:
    """At the bench: one more test from the blood of this morning."""
    page = desk("joren")
    page.goto("/")
    page.get_by_role("link", name="Drumlin, Aske").click()
    page.get_by_label("Test or panel to add").focus()
    typed(page, "Ferritin")
    expect(page.locator("#add-answer")).to_contain_text(re.compile("needle stick|new draw"))
    typed(page, "xyzzy")
    expect(page.locator("#add-answer")).to_contain_text("no test or panel is called")


def test_a_stop_is_said_in_a_word_and_a_shape(desk: Callable[..., Page]) -> None:
    """What stops is told by word and drawing, not by colour alone."""
    page = desk("mira")
    page.goto("/")
    page.get_by_role("link", name="Selm, Orla").click()
    stop = page.locator(".findings li.stop").first
    expect(stop.locator(".word")).to_have_text("Stop.")
    expect(stop.locator("svg")).to_be_visible()


def test_signing_out_shuts_the_door(desk: Callable[..., Page]) -> None:
    """After signing out a page asks to sign in, and comes back to where one was."""
    page = desk("mira")
    page.get_by_role("button", name="Sign out").click()
    page.goto("/catalogue/potassium/")
    expect(page).to_have_url(re.compile(r"/sign-in/\?next="))
    page.get_by_label("Name").fill("mira")
    page.get_by_label("Password").fill("ostrel-valley")
    page.get_by_role("button", name="Sign in").click()
    expect(page).to_have_url(re.compile(r"/catalogue/potassium/$"))


def two_pages(desk: Callable[..., Page]) -> tuple[Page, Page]:
    """A patient's page, and the first page in another tab of the same browser."""
    page = desk("mira")
    page.get_by_role("link", name="Selm, Orla").click()
    expect(page.locator("h1")).to_have_text("Selm, Orla")
    other = page.context.new_page()
    other.goto("/")
    return page, other


def comes_back(page: Page) -> None:
    """As when the Back button brings a page that the browser kept whole."""
    page.evaluate("dispatchEvent(new PageTransitionEvent('pageshow', { persisted: true }))")


def test_back_shows_nobody_after_signing_out(desk: Callable[..., Page]) -> None:
    """Neither the browser's cache nor a page it kept whole gives a patient away."""
    page, other = two_pages(desk)
    other.get_by_role("button", name="Sign out").click()
    expect(other).to_have_url(re.compile(r"/sign-in/"))
    comes_back(page)
    expect(page).to_have_url(re.compile(r"/sign-in/"))
    page.go_back()
    expect(page).to_have_url(re.compile(r"/sign-in/"))
    expect(page.get_by_text("Selm, Orla")).to_have_count(0)


def test_back_shows_nobody_on_a_locked_screen(desk: Callable[..., Page]) -> None:
    """A page that the browser kept whole leads to the lock."""
    page, other = two_pages(desk)
    other.get_by_role("button", name="Lock").click()
    expect(other).to_have_url(re.compile(r"/locked/"))
    comes_back(page)
    expect(page).to_have_url(re.compile(r"/locked/"))


def test_back_keeps_what_was_typed_while_signed_in(desk: Callable[..., Page]) -> None:
    """A page that the browser kept whole is not asked for again while one may see it."""
    page = desk("mira")
    page.goto("/new/")
    page.locator("#ward").fill("Home visit")
    with page.expect_response("**/here/") as answer:
        comes_back(page)
    assert answer.value.status == 204
    expect(page.locator("#ward")).to_have_value("Home visit")


def test_back_makes_a_page_anew_for_the_next_person(desk: Callable[..., Page]) -> None:
    """A page that was made for somebody else is not shown to whoever works here now."""
    page, other = two_pages(desk)
    other.get_by_role("button", name="Sign out").click()
    other.get_by_label("Name").fill("joren")
    other.get_by_label("Password").fill("ostrel-valley")
    other.get_by_role("button", name="Sign in").click()
    expect(other.get_by_text("Joren Askel")).to_be_visible()
    expect(page.get_by_text("Mira Tolvan")).to_be_visible()
    comes_back(page)
    expect(page.get_by_text("Joren Askel")).to_be_visible()
