"""Two tabs, the Back button and a second press, on the laboratory's side."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime

from playwright.sync_api import Page, expect

from cubital.desk.record.models import Event, SpecimenNow, SpinNow, WasteNow
from tests.desk.bench import accepted, minutes, noon
from tests.desk.way import requisition
from tests.journeys.conftest import TABLET
from tests.journeys.way import wrong_here

Window = Callable[..., Page]


def test_a_clotting_tube_is_decided_on_once_in_two_tabs(
    desk: Window, open_clinic: datetime
) -> None:
    """The second tab says that nothing clots any more; Back begins no second run."""
    noon()
    (code,) = accepted(requisition(2), ("gel-5", ["potassium"]), ago=minutes(12))
    page = desk("joren", TABLET)
    other = page.context.new_page()
    for tab in (page, other):
        tab.goto(f"/bench/load/big/?tubes={code}")
        tab.get_by_text("Spin it now all the same").click()
        tab.get_by_label("Why it cannot wait").fill("The theatre waits.")
    assert not wrong_here(page, "a tube that still clots")
    for tab in (page, other):
        tab.get_by_role("button", name="Let it be spun now").click()
        tab.wait_for_load_state()
    expect(other.get_by_text("None of these clots any more")).to_be_visible()
    assert Event.objects.filter(kind="override_given").count() == 1
    page.get_by_role("button", name="It runs now").click()
    page.wait_for_url("**/bench/runs/")
    page.go_back()
    again = page.get_by_role("button", name="It runs now")
    if again.count():
        again.click()
        page.wait_for_load_state()
    assert SpinNow.objects.count() == 1
    assert SpecimenNow.objects.get(code=code).state == "spinning"


def test_a_step_of_waste_in_two_tabs(desk: Window, open_clinic: datetime) -> None:
    """Closed in one tab, the other says so; a correction sent again stands already."""
    page = desk("sade", TABLET)
    page.goto("/waste/")
    page.get_by_role("radio", name=re.compile("^Sharps")).check()
    page.get_by_role("button", name="Open it").click()
    page.wait_for_url("**/waste/bag/**")
    other = page.context.new_page()
    other.goto(page.url)
    page.get_by_role("button", name="Close it for good").click()
    expect(page.get_by_text("is closed. Weigh it.")).to_be_visible()
    other.get_by_role("button", name="Close it for good").click()
    expect(other.get_by_text("It is closed already")).to_be_visible()
    page.get_by_label("Weight, kg").first.fill("9")
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_text("weighs 9 kg").first).to_be_visible()
    for tab in (page, other):
        tab.goto(page.url)
        step = tab.locator("li.mend", has_text="Weighed: 9 kg")
        step.locator("summary").click()
        step.get_by_label("Weight, kg").fill("0.9")
        step.get_by_label("Why").fill("A slip of the pen.")
    assert not wrong_here(page, "the steps of a bag")
    for tab in (page, other):
        tab.locator("li.mend", has_text="Weighed").get_by_role("button", name="Correct it").click()
        tab.wait_for_load_state()
    expect(other.get_by_text("It stands so already")).to_be_visible()
    assert WasteNow.objects.get().weight_g == 900
    assert Event.objects.filter(kind="event_corrected").count() == 1


def test_a_urine_to_ask_for_again_can_be_used_by_everybody(
    desk: Window, open_clinic: datetime
) -> None:
    """Registered, refused, on the collector's first page; nothing small, nothing cut."""
    page = desk("joren", TABLET)
    page.goto("/reception/register/?material=urine&patient=OV-10001&test=urine-culture")
    page.get_by_role("radio", name="leaking").check()
    page.get_by_role("button", name="Register it").click()
    page.get_by_role("button", name="Refuse it").click()
    expect(page.get_by_text("on the first page of the place")).to_be_visible()
    expect(page.get_by_role("button", name="Refuse it")).to_have_count(0)
    collector = desk("mira", TABLET)
    collector.goto("/")
    expect(collector.get_by_role("heading", name="To ask for again: 1")).to_be_visible()
    collector.get_by_text("Not wanted any more").click()
    assert not wrong_here(collector, "to ask for again")
