"""The quality officer's day and the manager's, in a real browser; their pages looked at by axe."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Page, ViewportSize, expect

from cubital.desk.record.models import IncidentNow, WasteNow
from tests.desk.figures import MONTH, figures
from tests.desk.quality import asked, event, incident, pricked_twice, refused, store
from tests.journeys.conftest import DESKTOP, TABLET
from tests.journeys.test_pages import SMALL_TARGETS, TARGET_PX

Window = Callable[..., Page]


@pytest.fixture(scope="session")
def weeks(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Figures of nine past weeks."""
    return figures(tmp_path_factory.mktemp("weeks") / "lake")


@pytest.fixture
def morning(open_clinic: datetime) -> datetime:
    """Two needles, a refusal, a needlestick of Mira's and a patient's haematoma, this morning."""
    now = datetime.now(UTC)
    asked()
    store(pricked_twice(now - timedelta(hours=3)))
    store(refused(now - timedelta(hours=2)))
    store([
        incident("i-1", "needlestick", now - timedelta(hours=3), draw="D-71", people=["mira"],
                 note="The needle came through the swab."),
        incident("i-2", "haematoma", now - timedelta(hours=1), draw="D-71"),
    ])  # fmt: skip
    return now


@pytest.fixture
def bags(open_clinic: datetime) -> None:
    """One box at its limit, one bag closed long ago, one that is gone."""
    then = datetime.now(UTC) - timedelta(days=4)
    for code, stream in (("W-FULL", "sharps"), ("W-LATE", "soiled"), ("W-GONE", "plastic")):
        said = {"scheme": "local", "stream": stream}
        store([event("waste_opened", f"waste:{code}", then, **said)])
    store([
        event("waste_filled", "waste:W-FULL", then, percent=80),
        *(event("waste_closed", f"waste:{code}", then) for code in ("W-LATE", "W-GONE")),
        event("waste_weighed", "waste:W-GONE", then, weight_g=900),
        event("waste_handed_over", "waste:W-GONE", then, to="the van"),
    ])  # fmt: skip


def span() -> str:
    """Yesterday and today, so that midnight changes nothing."""
    day = timezone.localdate()
    return f"from={day - timedelta(days=1)}&to={day}"


def test_the_quality_officers_day(desk: Window, morning: datetime) -> None:
    """What is overdue stands on the first page; it is ticked off, followed up, and put on paper."""
    page = desk("sade")
    first = page.get_by_role("region", name="Due after an exposure to blood")
    expect(first).to_contain_text("overdue")
    expect(first).to_contain_text("Mira Tolvan")
    first.get_by_role("link").click()
    physician = page.locator("ul.due > li", has_text="See a physician")
    physician.get_by_role("button", name=re.compile("^Done")).click()
    expect(page.get_by_role("status").first).to_contain_text("Noted. Still to do: 7")
    expect(physician).to_have_count(0)

    page.get_by_role("navigation", name="Logbook").get_by_role(
        "link", name="Log", exact=True
    ).click()
    page.goto(f"/logbook/?{span()}")
    page.get_by_label(re.compile("^Words")).fill("clot")
    page.keyboard.press("Enter")
    expect(page.get_by_text("1 entry of 5")).to_be_visible()
    page.get_by_role("link", name=re.compile("Clot in an anticoagulated tube")).click()
    page.get_by_label("Corrective action").fill("Show how tubes are turned over.")
    page.get_by_label(re.compile("^To be done by")).fill(
        f"{timezone.localdate() + timedelta(days=3)}"
    )
    page.get_by_label(re.compile("^By whom")).select_option(label="Ilko Brandov")
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_role("status").first).to_contain_text("Written down")
    expect(page.locator("ul.due > li")).to_contain_text("To be done by Ilko Brandov")
    made = IncidentNow.objects.get(what="clotted")

    page.get_by_role("link", name="Form on paper").click()
    page.emulate_media(media="print")
    expect(page.locator("article.paper")).to_contain_text("Show how tubes are turned over.")
    expect(page.get_by_role("navigation", name="Main")).to_be_hidden()
    assert len(page.pdf(format="A4")) > 10_000
    page.emulate_media(media="screen")

    page.goto(f"/logbook/entry/{made.code}/")
    page.get_by_label("Corrective action").fill("Shown to all.")
    page.get_by_label("Nothing is left to do: close it").check()
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_role("status").first).to_contain_text("closed")
    assert IncidentNow.objects.get(code=made.code).closed

    page.goto(f"/logbook/needle-sticks/?{span()}")
    expect(page.locator("main")).to_contain_text("1 patient pricked more than once")
    expect(page.get_by_role("table")).to_contain_text("Vein entered but no flow")


def test_a_bag_by_its_bar_code_alone(desk: Window, open_clinic: datetime) -> None:
    """A collector opens a box, and from then on scans it for each step, by keyboard."""
    page = desk("mira")
    page.goto("/waste/")
    page.get_by_role("radio", name=re.compile("^Sharps")).check()
    page.get_by_role("button", name="Open it").click()
    code = WasteNow.objects.get().code
    expect(page.locator("main")).to_contain_text(code)
    page.get_by_role("button", name="75 %").click()
    expect(page.get_by_role("status").first).to_contain_text("close it and open a new one")
    page.get_by_role("button", name="Close it for good").click()
    expect(page.get_by_role("status").first).to_contain_text("Weigh it")
    for typed, said in (("2,35", "weighs 2.35 kg"), ("Ostrel treatment plant", "went with")):
        page.goto("/waste/")
        expect(page.get_by_label("Scan a bag or box")).to_be_focused()
        page.keyboard.type(code)
        page.keyboard.press("Enter")
        page.wait_for_url(f"**/waste/bag/{code}/")
        expect(page.locator("input[autofocus]")).to_be_focused()
        page.keyboard.type(typed)
        page.keyboard.press("Enter")
        expect(page.get_by_role("status").first).to_contain_text(said)
    expect(page.locator(".big-words")).to_contain_text("Handed over to")
    row = WasteNow.objects.get()
    assert (row.weight_g, row.handed_to) == (2350, "Ostrel treatment plant")


def test_somebody_at_the_bench_is_splashed(desk: Window, open_clinic: datetime) -> None:
    """Written down in a minute: first aid at once, and the follow-ups on the own first page."""
    page = desk("joren")
    page.get_by_role("link", name="Logbook").click()
    page.get_by_role("link", name="Write down").click()
    page.get_by_label("What happened").select_option(label="Blood in eye or mouth of the collector")
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_role("heading", name="At once")).to_be_visible()
    expect(page.get_by_text("Flush eye, nose or mouth")).to_be_visible()
    page.goto("/")
    expect(page.get_by_role("region", name="Due after an exposure")).to_contain_text("Joren Askel")


def test_figures_are_made_while_one_looks(
    desk: Window, morning: datetime, settings: Any, tmp_path: Path
) -> None:
    """The button begins it in the background; the page tells how far it is and then shows them."""
    settings.LAKE, settings.LAKE_IN_BACKGROUND = str(tmp_path / "lake"), True
    page = desk("sade")
    page.get_by_role("link", name="Indicators").click()
    page.get_by_role("button", name="Make the figures").click()
    expect(page.get_by_role("heading", name="In short")).to_be_visible(timeout=20_000)
    expect(page.locator("main")).to_contain_text("Figures of")


def test_the_managers_month(
    desk: Window, open_clinic: datetime, settings: Any, weeks: Path
) -> None:
    """Overview, report with charts that are there, by ward, and the PDF; nobody's own figures."""
    settings.LAKE = str(weeks)
    page = desk("ilko")
    page.goto(f"/indicators/?month={MONTH}")
    expect(page.get_by_role("heading", name="Indicators of November 2026")).to_be_visible()
    row = page.get_by_role("row", name=re.compile("Pre-Clot"))
    expect(row).to_contain_text("IFCC specification of 2017")
    page.get_by_role("link", name="Report with charts").click()
    picture = page.get_by_role("img", name=re.compile("^Control chart by week")).first
    picture.scroll_into_view_if_needed()
    page.wait_for_function(
        "image => image.complete && image.naturalWidth > 300", arg=picture.element_handle()
    )
    page.locator("summary", has_text="The figures of this chart").first.click()
    expect(page.get_by_role("columnheader", name="Upper limit").first).to_be_visible()
    page.get_by_role("link", name="By place").click()
    expect(page.get_by_label("By", exact=True).locator("option")).to_have_text(
        ["place", "ward", "hour", "device", "gauge", "age group"]
    )
    page.get_by_label("By", exact=True).select_option("ward")
    page.get_by_role("button", name="Count").click()
    expect(page.get_by_role("table")).to_contain_text("Surgery 2")
    pdf = page.request.get(f"/indicators/report.pdf?month={MONTH}")
    assert pdf.body().startswith(b"%PDF")


def addresses() -> dict[str, list[str]]:
    """Every page of the logbook, of waste and of the indicators, by who looks at it."""
    quality = [
        "/",
        f"/logbook/?{span()}",
        "/logbook/?from=yesterday",
        "/logbook/entry/i-1/",
        "/logbook/entry/i-1/form/",
        "/logbook/day/",
        f"/logbook/needle-sticks/?{span()}&all=yes",
        "/logbook/follow-ups/",
        "/logbook/new/",
        "/logbook/recorded/i-1/",
        "/waste/",
        "/waste/bag/W-FULL/",
        "/waste/bag/W-LATE/",
        "/waste/bag/W-GONE/",
        "/waste/tables/?by=month",
        "/waste/disinfectant/?use=spill&stock=5&volume=1000",
        "/waste/disinfectant/?use=spill&stock=x&volume=1000",
        f"/indicators/?month={MONTH}",
        f"/indicators/report/?month={MONTH}",
        f"/indicators/by/?by=collector&indicator=desk-pricks&month={MONTH}",
        f"/indicators/haemolysis/?month={MONTH}",
    ]
    return {"sade": quality, "mira": ["/logbook/follow-ups/", f"/indicators/mine/?month={MONTH}"]}


@pytest.mark.parametrize("width", [DESKTOP, TABLET], ids=["1280", "820"])
def test_every_page_of_quality_can_be_used_by_everybody(
    desk: Window, morning: datetime, bags: None, settings: Any, weeks: Path, width: ViewportSize
) -> None:
    """No axe-core violation, no target under 48 px, no sideways scrolling, on any page."""
    settings.LAKE = str(weeks)
    axe, wrong = Axe(), []
    for name, pages in addresses().items():
        page = desk(name, width)
        for address in pages:
            page.goto(address)
            page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
            for violation in axe.run(page).response["violations"]:
                nodes = [node["html"][:150] for node in violation["nodes"][:3]]
                wrong.append((address, violation["id"], nodes))
            small = page.evaluate(SMALL_TARGETS, TARGET_PX)
            if small:
                wrong.append((address, "small targets", small[:3]))
            if page.evaluate("document.documentElement.scrollWidth") > width["width"]:
                wrong.append((address, "scrolls sideways", []))
    assert wrong == []
