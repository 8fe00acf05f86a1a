"""The reception in the browser: a tray at scanner's speed, and a refusal to its recollection."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, ViewportSize, expect

from cubital.desk.record.models import Requisition, SpecimenNow, Stranger
from tests.desk.way import PASS, drawn, requisition
from tests.journeys.conftest import DESKTOP, TABLET
from tests.journeys.way import scan, tally, wrong_here, wrong_with

EDTA = ("edta-3", ["fbc"])
GEL = ("gel-3.5", ["sodium", "potassium", "creatinine"])
CITRATE = ("citrate-2.7", ["pt-inr"])


def test_a_tray_of_forty_with_one_wrong(desk: Callable[..., Page]) -> None:
    """Forty scans without a pause: 39 accepted, one stands out and has stopped nothing."""
    row = requisition(1)
    codes = drawn(row, *([EDTA] * 20))
    (short,) = drawn(row, CITRATE, fill="short", volume_ul=1200)
    codes += [short, *drawn(row, *([GEL] * 19))]
    page = desk("joren")
    page.goto("/reception/")
    page.get_by_role("button", name="Sounds").focus()  # a scan goes home from anywhere
    scan(page, *codes)
    tally(page, 39, 1, 0)
    states = dict(SpecimenNow.objects.filter(code__in=codes).values_list("code", "state"))
    assert {code for code, state in states.items() if state == "accepted"} == {*codes} - {short}
    assert states[short] == "received"

    out = page.locator("#look > li")
    expect(out).to_have_count(1)
    expect(out.locator(".mark")).to_have_text("Refuse")
    expect(out.locator(".mark svg")).to_be_visible()
    expect(out).to_contain_text("Filled to 44 %")
    expect(out.locator("[data-n]")).to_have_text("21")
    newest = page.locator("#done > li").first
    expect(newest.locator("[data-n]")).to_have_text("40")
    expect(newest.locator(".code")).to_have_text(codes[-1])
    expect(page.locator("#lists")).to_contain_text("Waiting for a decision: 1")

    scan(page, codes[3], short, "PROTOCOL-X")
    tally(page, 39, 2, 1)
    expect(page.locator("#look > li")).to_have_count(2)  # the same tube stands there once
    assert Stranger.objects.get().text == "PROTOCOL-X"
    expect(page.locator("body")).to_have_attribute("data-sound", "ask")


def test_a_refusal_to_its_recollection(desk: Callable[..., Page]) -> None:
    """Seen, judged live, refused for some tests, phoned, and back on the collector's list."""
    row = requisition(2)
    (code,) = drawn(row, ("gel-3.5", ["potassium", "creatinine"]))
    page = desk("joren")
    page.goto("/reception/")
    scan(page, code)
    tally(page, 1, 0, 0)
    page.get_by_role("link", name=f"Open {code}").click()
    expect(page.locator("h1")).to_have_text(code)
    expect(page.get_by_text("Drumlin, Aske")).to_be_visible()

    page.get_by_label("Haemolysis index, g/L").fill("6")
    verdict = page.locator("#verdict")
    expect(verdict).to_contain_text("Some of its tests are refused")
    expect(verdict.locator("li", has_text="Potassium").locator(".mark").first).to_have_text(
        "Refuse"
    )
    verdict.get_by_role("button", name="Accept 1, refuse 1").click()
    expect(page.get_by_role("status").first).to_contain_text(f"Asked for again as {row.number}-R1")

    page.goto("/reception/phone/")
    call = page.locator("section", has_text="Surgery 2")
    expect(call).to_contain_text("Haemolysed beyond what the test bears: K")
    expect(call).to_contain_text(f"requisition {row.number}-R1")
    call.get_by_label("Who was told").fill("Sister Ilva")
    call.get_by_label("What they said").fill("She will be there at ten.")
    call.get_by_role("button", name="Told").click()
    expect(page.get_by_text("Nobody has to be phoned.")).to_be_visible()
    expect(page.get_by_text("Sister Ilva, by telephone: She will be there at ten.")).to_be_visible()

    again = Requisition.objects.get(number=f"{row.number}-R1")
    collector = desk("mira")
    collector.goto("/")
    collector.locator(f"a[href='/requisitions/{again.number}/']").click()
    expect(collector.locator("h1")).to_have_text("Drumlin, Aske")
    expect(collector.get_by_text(f"Recollection of {row.number}")).to_be_visible()
    expect(collector.locator("ol.rack > li.tube")).to_have_count(1)


def test_a_named_person_decides_where_a_rule_asks(desk: Callable[..., Page]) -> None:
    """Two labels: do it or not, who, and why; all of it by tapping."""
    (code,) = drawn(requisition(2), EDTA)
    page = desk("joren")
    page.goto("/reception/")
    scan(page, code)
    tally(page, 1, 0, 0)
    SpecimenNow.objects.filter(code=code).update(state="received", place="reception")
    page.goto(f"/reception/specimens/{code}/")
    page.get_by_label("two or more").check()
    verdict = page.locator("#verdict")
    expect(verdict).to_contain_text("A named person decides.")
    verdict.get_by_label("do it").check()
    verdict.get_by_label("Who decides").select_option("joren")
    verdict.get_by_role("button", name="Store the decision").click()
    expect(page.get_by_role("alert")).to_contain_text("Write why it is accepted nevertheless")
    page.get_by_label("do it").check()
    page.get_by_label("Why", exact=True).fill("Both labels are his.")
    page.get_by_role("button", name="Store the decision").click()
    expect(page.get_by_role("status").first).to_contain_text("is accepted for 1 of its tests")


def test_a_scan_on_a_specimens_page_opens_the_next(desk: Callable[..., Page]) -> None:
    """Also while the focus stands in a box of figures: the scanner's pace tells."""
    one, two = drawn(requisition(2), EDTA, GEL)
    page = desk("joren")
    page.goto(f"/reception/specimens/{one}/")
    expect(page.get_by_text("It has not been received here yet.")).to_be_visible()
    page.get_by_role("button", name="Receive it").click()
    expect(page.get_by_role("status").first).to_contain_text("Accepted")
    page.goto(f"/reception/specimens/{one}/")
    page.get_by_label("Haemolysis index, g/L").fill("0.2")
    scan(page, two)
    expect(page).to_have_url(re.compile(re.escape(f"/reception/specimens/{two}/") + "$"))


def test_urine_is_registered_by_its_own_rules(desk: Callable[..., Page]) -> None:
    """The form follows the material; a cup that is not sterile is refused for the culture."""
    page = desk("joren")
    page.goto("/reception/register/")
    page.get_by_label("Patient’s number").fill("OV-10001")
    page.get_by_label("Material").select_option("stool")
    expect(page.get_by_label("Stool culture")).to_be_visible()
    page.get_by_label("Material").select_option("urine")
    page.get_by_label("Urine culture wants a sterile cup").check()
    page.get_by_label("at", exact=True).fill("00:01")
    page.get_by_label("Container").select_option("clean cup")
    page.get_by_role("button", name="Register it").click()
    expect(page.locator("#verdict")).to_contain_text("wants a sterile cup")
    assert "csrf" not in page.url


def test_a_desk_that_does_not_answer_loses_no_scan_silently(desk: Callable[..., Page]) -> None:
    """With the network cut each scan stands out as not stored; afterwards it goes on."""
    one, two = drawn(requisition(2), EDTA, GEL)
    page = desk("joren")
    page.goto("/reception/")
    page.context.set_offline(True)
    scan(page, one)
    tally(page, 0, 1, 0)
    expect(page.locator("#look > li").first).to_contain_text(f"Not stored: {one}")
    page.context.set_offline(False)
    scan(page, two, one)
    tally(page, 2, 1, 0)


@pytest.mark.parametrize("width", [DESKTOP, TABLET], ids=["1280", "820"])
def test_every_page_of_the_reception_can_be_used_by_everybody(
    desk: Callable[..., Page], width: ViewportSize
) -> None:
    """No axe-core violation, no small target, nothing cut: empty, full, and in the middle of it."""
    row = requisition(2)
    good, old = drawn(row, GEL, EDTA)
    (short,) = drawn(row, CITRATE, fill="short", volume_ul=1200)
    (newborn,) = drawn(requisition(3), CITRATE, fill="short", volume_ul=1200)
    (away,) = drawn(requisition(15), EDTA, site=PASS)
    page = desk("joren", width)
    wrong = wrong_with(page, ["/reception/", "/reception/phone/", "/reception/register/"])
    page.goto("/reception/")
    scan(page, good, old, short, newborn, away, "WARD-0815", good)
    tally(page, 2, 4, 1)
    wrong += wrong_here(page, "a tray")
    page.goto(f"/reception/specimens/{short}/")
    page.get_by_role("button", name="Refuse it").click()
    page.get_by_role("status").first.wait_for()
    pk = Stranger.objects.get(text="WARD-0815").pk
    wrong += wrong_with(
        page,
        [
            *(f"/reception/specimens/{code}/" for code in (good, short, newborn, away)),
            "/reception/phone/",
            f"/reception/unknown/{pk}/",
            f"/reception/register/?material=blood&requisition={row.number}",
            "/reception/register/?material=urine_24h",
        ],
    )
    assert wrong == []
