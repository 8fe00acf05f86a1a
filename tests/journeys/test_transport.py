"""A box in the browser: packed at the pass, warm on its way, unpacked in the valley."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from playwright.sync_api import Page, ViewportSize, expect

from cubital.desk.record.models import BoxLog, SpecimenNow
from tests.desk.test_transport_log import csv
from tests.desk.way import PASS, boxed, drawn, requisition
from tests.journeys.conftest import DESKTOP, TABLET
from tests.journeys.way import scan, wrong_here, wrong_with

EDTA = ("edta-3", ["fbc"])
GEL = ("gel-3.5", ["sodium", "crp"])
CITRATE = ("citrate-2.7", ["pt-inr"])
WARM = [20.0, 21.0, 22.0, 27.0, 31.0, 33.0, 31.0, 28.0, 24.0, 22.0, 20.0, 14.0, 12.0, 16.0, 20.0]


def logger(page: Page, text: str) -> None:
    """Choose the logger's file."""
    page.get_by_label("The logger’s CSV file").set_input_files(
        {"name": "tag-04.csv", "mimeType": "text/csv", "buffer": text.encode()}
    )


def test_a_box_with_a_warm_log(desk: Callable[..., Page]) -> None:
    """Scanned in, stopped by a rule, sent another way, opened, one missing, the log judged."""
    codes = drawn(requisition(15), GEL, EDTA, CITRATE, site=PASS, ago=timedelta(hours=4))
    page = desk("mira")
    page.get_by_role("button", name="Ostrel pass post").click()
    page.goto("/transport/")
    scan(page, "B-12")
    expect(page).to_have_url(re.compile("/transport/boxes/B-12/$"))
    page.wait_for_load_state("load")
    scan(page, *codes)
    expect(page.locator("#inside")).to_have_text("In the box: 3")
    page.get_by_label("To", exact=True).select_option("ostrel-valley")
    page.get_by_label("Kept").select_option("cool_packs")
    expect(page.locator("#packing")).to_contain_text("must never be chilled")
    expect(page.get_by_role("button", name="Send it")).to_be_disabled()
    page.get_by_label("Kept").select_option("ambient")
    expect(page.get_by_role("button", name="Send it")).to_be_enabled()
    page.get_by_label("Who carries it").fill("the mail van")
    page.get_by_role("button", name="Send it").click()
    expect(page.get_by_text("Box B-12 is on its way.")).to_be_visible()

    bench = desk("joren")
    bench.goto("/transport/")
    bench.get_by_role("link", name="B-12").click()
    bench.get_by_role("button", name="Open it").click()
    expect(bench.get_by_label("Scan what is in it")).to_be_focused()
    logger(bench, csv(WARM, head="when,probe"))
    bench.get_by_role("button", name="Read it").click()
    asked = bench.locator("#log-answer")
    expect(asked).to_contain_text("do not say which column is which")
    asked.get_by_label("The time is in").select_option("when")
    asked.get_by_label("The temperature is in").select_option("probe")
    asked.get_by_label("in", exact=True).select_option("C")
    bench.get_by_role("button", name="Read it").click()
    bench.wait_for_url("**/transport/logs/**")
    expect(bench.get_by_role("img", name="Temperature in the box")).to_be_visible()
    expect(bench.locator("polygon.out")).to_have_count(2)
    expect(bench.get_by_label("Excursions")).to_contain_text("33.0 °C, too warm")
    means = bench.locator(".verdict-list > li", has_text="Prothrombin")
    expect(means.locator(".mark")).to_have_text("spoilt")
    assert BoxLog.objects.get().columns["temperature"] == "probe"

    bench.get_by_role("link", name="To the box").click()
    bench.wait_for_load_state("load")
    scan(bench, codes[0], codes[2], "STRAY-1")
    compared = bench.locator("#compared")
    expect(compared).to_contain_text("2 of 3 found")
    expect(compared).to_contain_text(f"{codes[1]} is on the list and not in the box")
    expect(compared).to_contain_text("STRAY-1 is in the box and not on the list")
    expect(bench.locator("#done > li")).to_have_count(1)
    out = bench.locator("#look > li", has_text=codes[2])
    expect(out).to_contain_text("is too old")
    bench.get_by_role("button", name="Nothing more is in it: 1 missing").click()
    expect(bench.get_by_text(f"Missing from box B-12: {codes[1]}.")).to_be_visible()
    states = dict(SpecimenNow.objects.filter(code__in=codes).values_list("code", "state"))
    assert [states[code] for code in codes] == ["accepted", "missing", "received"]


def test_out_of_the_box_by_scan_and_by_tap(desk: Callable[..., Page]) -> None:
    """The same tube in, out, in again; and its line has a button of its own."""
    (code,) = drawn(requisition(2), EDTA)
    page = desk("mira")
    page.goto("/transport/boxes/V-3/")
    scan(page, code)
    expect(page.locator("#inside")).to_have_text("In the box: 1")
    page.get_by_label("out of the box").check()
    scan(page, code)
    expect(page.locator("#inside")).to_have_text("In the box: 0")
    page.get_by_label("into the box").check()
    scan(page, code, code)
    expect(page.locator("#packing [role=status]")).to_contain_text("in this box already")
    page.get_by_role("button", name=f"Take out {code}").click()
    expect(page.get_by_text(f"{code} is taken out.")).to_be_visible()
    assert SpecimenNow.objects.get(code=code).state == "labelled"


@pytest.mark.parametrize("width", [DESKTOP, TABLET], ids=["1280", "820"])
def test_every_page_of_transport_can_be_used_by_everybody(
    desk: Callable[..., Page], width: ViewportSize
) -> None:
    """No axe-core violation, no small target, nothing cut: empty, packed, opened, with a log."""
    codes = drawn(requisition(15), GEL, EDTA, CITRATE, site=PASS, ago=timedelta(hours=4))
    boxed("B-12", codes, ago=timedelta(hours=3))
    boxed("V-3", drawn(requisition(2), ("gel-3.5", ["potassium"]), GEL), site="ostrel-valley",
          sent=False)  # fmt: skip
    page = desk("joren", width)
    wrong = wrong_with(
        page, ["/transport/", "/transport/boxes/NEW/", "/transport/boxes/V-3/",
               "/transport/boxes/B-12/"],
    )  # fmt: skip
    page.goto("/transport/boxes/V-3/")
    page.get_by_label("Kept").select_option("cool_packs")
    page.get_by_text("must not travel so").wait_for()
    wrong += wrong_here(page, "a box that is stopped")
    page.goto("/transport/boxes/B-12/")
    page.get_by_role("button", name="Open it").click()
    page.get_by_label("Scan what is in it").wait_for()
    logger(page, csv(WARM, head="when,probe"))
    page.get_by_role("button", name="Read it").click()
    page.get_by_label("The time is in").select_option("when")
    wrong += wrong_here(page, "asked which column")
    page.get_by_label("The temperature is in").select_option("probe")
    page.get_by_label("in", exact=True).select_option("C")
    page.get_by_role("button", name="Read it").click()
    page.wait_for_url("**/transport/logs/**")
    page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
    wrong += wrong_here(page, "a log")
    page.goto("/transport/boxes/B-12/")
    scan(page, codes[0], "STRAY-1")
    page.locator("#look > li").first.wait_for()
    wrong += wrong_here(page, "a box half unpacked")
    assert wrong == []
