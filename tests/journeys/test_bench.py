"""The bench in the browser: from the reception to the waste bag, by scanner, on one tube's way."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from playwright.sync_api import Page, ViewportSize, expect

from cubital.desk.record import selectors_way
from cubital.desk.record.models import Centrifuge, SpecimenNow, SpinNow
from tests.desk.bench import accepted, minutes, noon, spun
from tests.desk.way import PASS, VALLEY, boxed, drawn, made, requisition, stored
from tests.journeys.conftest import DESKTOP, TABLET
from tests.journeys.way import scan, tally, wrong_here, wrong_with

GEL = ("gel-5", ["tsh", "sodium", "hiv-ag-ab", "protein-electrophoresis"])


def state(code: str) -> str:
    """How a specimen stands."""
    return SpecimenNow.objects.get(code=code).state


def test_a_tube_from_the_reception_to_the_waste_bag(desk: Callable[..., Page]) -> None:
    """Accepted, spun, divided, labelled, stored, one more test, thrown away: by scan and by tap."""
    noon()
    row = requisition(5)
    gel, edta = drawn(row, GEL, ("edta-3", ["fbc"]), ago=minutes(50))
    page = desk("joren")
    wrong = []

    # accepted
    page.goto("/reception/")
    scan(page, gel, edta)
    tally(page, 2, 0, 0)

    # the worklist, and the run that is planned
    page.goto("/bench/")
    first = page.locator(".worklist > li").first
    expect(first).to_contain_text(gel)
    expect(first.locator(".lv")).to_have_text("Soon")
    expect(page.locator(".bench-plot svg")).to_be_visible()
    wrong += wrong_here(page, "worklist")
    page.get_by_role("link", name="Load it").click()

    # loaded: the planned tube by scan; a blood count never
    expect(page.locator("h1")).to_have_text("Load Valley swing-out, 24 places")
    expect(page.locator(".rotor")).to_be_visible()
    scan(page, gel)
    said = page.locator("#scan-said")
    expect(said).to_contain_text("Stands in")
    expect(said).to_contain_text("Place 1.")
    scan(page, edta)
    expect(said).to_contain_text("Full blood count is done in whole blood: never spun.")
    expect(page.locator("#look > li")).to_have_count(1)
    expect(page.locator("#load-tubes")).to_have_value(gel)
    wrong += wrong_here(page, "load")
    page.get_by_role("button", name="It runs now").click()
    expect(page.get_by_text("is on.")).to_be_visible()
    assert state(gel) == "spinning"

    # a quarter of an hour goes by
    run = SpinNow.objects.get(state="running").code
    SpinNow.objects.update(begun_at=datetime.now(UTC) - minutes(15))
    page.goto("/bench/")
    expect(page.get_by_text("should have ended at")).to_be_visible()
    page.get_by_role("link", name="It has ended").click()
    wrong += wrong_here(page, "run")
    page.get_by_role("button", name="It has ended").click()
    expect(page.get_by_text(f"Run {run} has ended.")).to_be_visible()
    assert state(gel) == "spun"

    # divided: two portions, the rest stays under its gel
    page.get_by_label("Scan a tube or a run").focus()
    scan(page, gel)
    expect(page.locator("h1")).to_have_text(gel)
    page.get_by_role("link", name="Divide it").click()
    page.get_by_label("Seen in the tube").fill("1,6")
    page.keyboard.press("Tab")
    expect(page.locator("#division h2").first).to_contain_text("2 portions of 1.6 mL")
    wrong += wrong_here(page, "divide")
    page.get_by_role("button", name="Make 2 portions").click()
    expect(page.locator("#portions-inside h2")).to_have_text("2 still to be scanned")

    # labelled, and each label scanned on its portion
    one, two = SpecimenNow.objects.filter(parent=gel).order_by("code")
    sheet = page.context.expect_event("response", lambda each: "labels.pdf" in each.url)
    with sheet as labels, page.expect_popup() as popup:
        page.get_by_role("button", name="Print labels").click()
    assert labels.value.status == 200
    popup.value.close()
    scan(page, one.code, gel, two.code)
    expect(page.locator("#portions-inside h2")).to_have_text("All scanned")
    expect(page.locator("#look > li")).to_contain_text("scan the portion")
    wrong += wrong_here(page, "portions")
    assert SpecimenNow.objects.get(code=one.code).label_printed

    # put away: the shelf by its own code, then what goes there
    page.get_by_role("link", name="Put them away").click()
    expect(page.get_by_label("Fridge, shelf A")).not_to_be_checked()
    scan(page, "FR-A")
    expect(page.get_by_label("Fridge, shelf A")).to_be_checked()
    scan(page, one.code, two.code, "RK-1", gel)
    expect(page.locator("#done > li").first).to_contain_text("On Rack 1")
    assert {state(one.code), state(two.code), state(gel)} == {"stored"}
    wrong += wrong_here(page, "storage")

    # one more test, from the patient's page
    page.goto("/patients/OV-10005/")
    for code in (gel, one.code, two.code, edta):
        expect(page.get_by_role("link", name=code)).to_be_visible()
    page.get_by_label("Test or panel to add").fill("Ferritin")
    page.get_by_role("button", name="Is there enough?").click()
    answer = page.locator("#add-answer")
    expect(answer).to_contain_text("No new needle stick for")
    expect(answer).to_contain_text(gel)
    wrong += wrong_here(page, "patient")
    answer.get_by_role("button", name="Add 1 test").click()
    expect(page.locator("h1")).to_have_text(gel)
    expect(page.get_by_role("status").first).to_contain_text("1 test added")

    # out of the store, measured, thrown away before its time with a reason
    page.get_by_role("button", name="Take it out").click()
    expect(page.get_by_text(f"{gel} is back at the bench.")).to_be_visible()
    page.get_by_role("button", name="These were measured").click()
    expect(page.get_by_text("3 tests measured.")).to_be_visible()
    page.get_by_text("Throw it away before its time").click()
    page.get_by_label("Why", exact=True).fill("the gel has come loose")
    page.get_by_role("button", name="Throw it away").click()
    expect(page.get_by_text("goes into the red bag (plastic)")).to_be_visible()
    assert state(gel) == "discarded"
    kinds = [event.kind for event in selectors_way.events_of(f"specimen:{gel}")]
    assert kinds == [
        "tube_scanned", "tube_filled", "label_matched", "specimen_received", "specimen_accepted",
        "spin_begun", "spin_ended", "aliquot_made", "aliquot_made", "specimen_stored",
        "tests_added", "specimen_taken_out", "tests_done", "specimen_discarded",
    ]  # fmt: skip
    assert wrong == []


def test_what_is_due_goes_into_its_bag_by_scan(desk: Callable[..., Page]) -> None:
    """Two that are due, one that is not: the scans say which, and the list says the stream."""
    noon()
    old = accepted(requisition(2), ("edta-3", ["fbc"]), ("edta-3", ["fbc"]))
    (young,) = accepted(requisition(5), ("edta-3", ["fbc"]))
    for code, days in ((old[0], 9), (old[1], 8), (young, 1)):
        stored(made("specimen_stored", f"specimen:{code}", site=VALLEY, who="joren",
                    at=datetime.now(UTC) - timedelta(days=days), storage="FR-B",
                    condition="fridge"))  # fmt: skip
    page = desk("joren")
    page.goto("/bench/storage/")
    expect(page.get_by_role("heading", name="To throw away today: 2")).to_be_visible()
    page.get_by_role("radio", name="throw away").check()
    scan(page, old[0], young)
    expect(page.locator("#done > li")).to_contain_text("Into the red bag, plastic.")
    expect(page.locator("#look > li")).to_contain_text("It is kept until")
    expect(page.locator("body")).to_have_attribute("data-sound", "ask")
    page.reload()
    page.get_by_text("All of them at once").click()
    page.get_by_role("button", name="Throw away 1 specimen").click()
    expect(page.get_by_text("1 specimen into the red bag, plastic.")).to_be_visible()
    assert [state(code) for code in (*old, young)] == ["discarded", "discarded", "stored"]


def test_the_worklist_asks_again_by_itself_and_keeps_the_focus(desk: Callable[..., Page]) -> None:
    """What is accepted elsewhere appears without a hand; where one stood, one still stands."""
    noon()
    (first,) = accepted(requisition(2), ("edta-3", ["fbc"]))
    page = desk("joren")
    page.clock.install()
    page.goto("/bench/")
    page.locator(f"[id='line-{first}']").focus()
    (second,) = accepted(requisition(5), ("gel-5", ["tsh"]), ago=minutes(45))
    page.clock.run_for(31_000)
    expect(page.locator(f"[id='line-{second}']")).to_be_visible()
    expect(page.locator(f"[id='line-{first}']")).to_be_focused()


@pytest.mark.parametrize("width", [DESKTOP, TABLET], ids=["1280", "820"])
def test_every_page_of_the_bench_can_be_used_by_everybody(
    desk: Callable[..., Page], width: ViewportSize
) -> None:
    """No axe-core violation, no target under 48 px, no sideways scrolling, on any page."""
    noon()
    two = accepted(requisition(2), ("citrate-2.7-alt2000", ["pt-inr"]),
                   ("gel-5", ["sodium", "potassium"]), ago=minutes(61))  # fmt: skip
    (many,) = accepted(requisition(14), GEL, ago=minutes(95))
    spun([many], ago=minutes(20))
    accepted(requisition(9), ("gel-5", ["potassium"]), ago=minutes(300))
    boxed("BOX-7", drawn(requisition(15), ("gel-3.5", ["sodium"]), site=PASS))
    (kept,) = accepted(requisition(5), ("edta-3", ["fbc"]))
    stored(made("specimen_stored", f"specimen:{kept}", site=VALLEY, who="joren",
                at=datetime.now(UTC) - timedelta(days=9), storage="FR-A",
                condition="fridge"))  # fmt: skip
    page = desk("joren", width)
    machine = Centrifuge.objects.get(place__code=VALLEY, code="big").pk
    wrong = wrong_with(page, [
        "/bench/",
        "/bench/runs/",
        f"/bench/load/big/?tubes={two[1]}",
        f"/bench/load/big/?tubes={two[0]}+{two[1]}+{many}",
        "/bench/portions/",
        f"/bench/specimens/{many}/",
        f"/bench/specimens/{many}/divide/?seen=0.3",
        f"/bench/specimens/{kept}/",
        "/bench/storage/",
        "/bench/storage/shelves/FR-A/",
        "/bench/machines/",
        f"/bench/machines/{machine}/",
        f"/bench/add-on/{requisition(2).patient.number}/?add_test=liver",
        f"/patients/{requisition(14).patient.number}/",
    ])  # fmt: skip
    manager = desk("ilko", width)
    wrong += wrong_with(manager, ["/bench/machines/", f"/bench/machines/{machine}/"])
    assert wrong == []
