"""The indicators' pages: who sees which figures, what they say, and what they are made from."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from django.test import Client
from django.utils import timezone

from cubital.desk.demo.past import MORE_PEOPLE
from cubital.desk.indicators import asked as asked_page
from cubital.desk.indicators import groups
from cubital.desk.indicators.kept import Kept
from cubital.desk.indicators.lake import MAKER, Maker, made
from cubital.desk.record import selectors_quality as quality
from cubital.desk.record.models import Person
from cubital.errors import InputError
from cubital.indicators.lake import write_lake
from cubital.indicators.values import LakeRows, LakeSite
from tests.desk.figures import MONTH as WHOLE
from tests.desk.figures import figures
from tests.desk.quality import asked, incident, pricked_twice, refused, store
from tests.desk.test_safety import INLINE

Sign = Callable[[str], Client]
MONTH = f"month={WHOLE}"
PAGES = (
    "/indicators/", "/indicators/report/", "/indicators/haemolysis/", "/indicators/by/",
)  # fmt: skip


@pytest.fixture(scope="session")
def past_figures(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Nine past weeks, made once."""
    return figures(tmp_path_factory.mktemp("figures") / "lake")


@pytest.fixture
def lake(settings: Any, past_figures: Path) -> Path:
    """The desk's lake holds nine past weeks."""
    settings.LAKE = str(past_figures)
    return past_figures


@pytest.fixture
def own_lake(settings: Any, past_figures: Path, tmp_path: Path) -> Path:
    """A copy that a test may spoil."""
    settings.LAKE = str(shutil.copytree(past_figures, tmp_path / "lake"))
    return tmp_path / "lake"


@pytest.fixture
def no_lake(settings: Any, tmp_path: Path) -> Path:
    """No figures were made yet."""
    settings.LAKE = str(tmp_path / "lake")
    return tmp_path / "lake"


@pytest.fixture
def colleagues(clinic: datetime) -> None:
    """The collectors of the past weeks besides Mira."""
    for username, given, family, _, _ in MORE_PEOPLE:
        Person.objects.create(
            username=username, first_name=given, last_name=family, role="collector"
        )


def text(answer: Any) -> str:
    """A page's text without its tags."""
    assert answer.status_code == 200
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))


# ------------------------------------------------------------------ made from the record


def test_figures_are_made_from_the_record(clinic: datetime, no_lake: Path, signed_in: Sign) -> None:
    """First there are none; then the button makes them, and the day's draw is counted."""
    client = signed_in("quality")
    assert "There are no figures yet" in text(client.get("/indicators/"))
    asked()
    now = datetime.now(UTC)
    store(pricked_twice(now - timedelta(minutes=30)))
    store(refused(now - timedelta(minutes=10)))
    assert client.post("/indicators/make/")["Location"] == "/indicators/"
    assert made().upto == quality.last_position()
    month = f"{timezone.localtime(now - timedelta(minutes=30)):%Y-%m}"
    page = client.get(f"/indicators/?month={month}")
    report = page.context["report"]
    assert (report.specimens, report.draws) == (1, 1)
    assert page.context["newer"] == 0
    store([incident("i-1", "spill", now - timedelta(minutes=5))])
    assert "1 event since then" in text(client.get(f"/indicators/?month={month}"))


def test_a_record_without_events_has_a_month_with_nothing(
    clinic: datetime, no_lake: Path, signed_in: Sign
) -> None:
    """No division by zero anywhere: every page says that nothing was counted."""
    client = signed_in("manager")
    client.post("/indicators/make/")
    assert "No specimens and no draws are on record" in text(client.get("/indicators/"))
    for page in PAGES:
        assert client.get(page).status_code == 200
    assert client.get("/indicators/report.pdf").content.startswith(b"%PDF")


def test_a_folder_that_holds_something_else_is_left_alone(
    clinic: datetime, no_lake: Path, signed_in: Sign
) -> None:
    """The figures are not made, and the page says why."""
    no_lake.mkdir()
    (no_lake / "letters.txt").write_text("not figures")
    client = signed_in("quality")
    page = text(client.post("/indicators/make/", follow=True))
    assert "something else than a lake" in page
    assert [path.name for path in no_lake.iterdir()] == ["letters.txt"]


def test_progress_is_told_and_ends(
    clinic: datetime, lake: Path, signed_in: Sign, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While they are made the page asks again each second; then it is loaded anew."""
    client = signed_in("quality")
    monkeypatch.setattr(MAKER, "running", True)
    monkeypatch.setattr(MAKER, "words", "Reading the record: 5,000 of 13,000 events.")
    monkeypatch.setattr(MAKER, "failed", "")
    page = client.get("/indicators/").content.decode()
    assert "Reading the record: 5,000 of 13,000 events." in page
    assert 'hx-trigger="every 1s"' in page
    assert "being made already" in text(client.post("/indicators/make/", follow=True))
    piece = client.get("/indicators/making/", headers={"HX-Request": "true"})
    assert "HX-Refresh" not in piece
    monkeypatch.setattr(MAKER, "running", False)
    piece = client.get("/indicators/making/", headers={"HX-Request": "true"})
    assert piece["HX-Refresh"] == "true"


def test_an_accident_while_making_is_told(
    db: None, no_lake: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever goes wrong, the maker is free again and says so in a sentence."""
    maker = Maker()

    def fails(**_: object) -> None:
        raise RuntimeError("a disk came off")

    monkeypatch.setattr("cubital.desk.indicators.lake.lake_make", fails)
    assert maker.begin(datetime.now(UTC))
    assert not maker.running
    assert maker.failed == "The figures could not be made; the desk’s log says why."


# ------------------------------------------------------------------ the month


def test_the_overview_says_value_interval_level_and_change(
    clinic: datetime, lake: Path, signed_in: Sign
) -> None:
    """Each line has its figure with an interval, the published level with its year, the change."""
    page = signed_in("quality").get(f"/indicators/?{MONTH}")
    words = text(page)
    clotted = next(e for e in page.context["harmonised"] if e.what.code == "Pre-Clot")
    assert re.fullmatch(r"[\d.]+ %", clotted.figure)
    assert re.fullmatch(r"[\d.]+ to [\d.]+ %", clotted.interval)
    assert "IFCC specification of 2017: high performance up to 0.08 %" in words
    assert "Korean survey, published 2024" in words
    assert "percentage points" in words
    assert "they are never ranked" in words
    assert {each.what.code for each in page.context["none_found"]} >= {"Pre-MisR", "Pre-Cont"}


def test_a_month_with_few_says_so(clinic: datetime, lake: Path, signed_in: Sign) -> None:
    """Of September there is one day: what is too few is a count and no share."""
    page = signed_in("manager").get("/indicators/?month=2026-09")
    lines = [*page.context["harmonised"], *page.context["own"]]
    few = [each for each in lines if each.few]
    assert few
    assert {each.figure for each in few} == {"too few for a share"}
    assert {each.interval for each in few} == {""}


@pytest.mark.parametrize("month", ["2026-13", "november", "1899-01", "2026-1", "9999999-01"])
def test_a_month_that_is_none_is_a_sentence(
    clinic: datetime, lake: Path, signed_in: Sign, month: str
) -> None:
    """The last month with figures is shown instead."""
    page = text(signed_in("quality").get(f"/indicators/?month={month}"))
    assert f"“{month[:20]}” is no month; shown is December 2026." in page


def test_a_month_without_figures_is_no_fault(clinic: datetime, lake: Path, signed_in: Sign) -> None:
    """Years ago and years to come: nothing on record, and the pages stand."""
    client = signed_in("quality")
    for month in ("1950-01", "2031-07"):
        for page in PAGES:
            assert client.get(f"{page}?month={month}").status_code == 200
        assert "No specimens and no draws" in text(client.get(f"/indicators/?month={month}"))


def test_every_chart_is_a_picture_with_its_figures_beside_it(
    clinic: datetime, lake: Path, signed_in: Sign
) -> None:
    """Each picture on the report is served as SVG, says what it shows, and has a table."""
    client = signed_in("quality")
    page = client.get(f"/indicators/report/?{MONTH}").content.decode()
    pictures = re.findall(r'<img src="(/indicators/chart/[^"]+)" alt="([^"]*)"', page)
    assert len(pictures) > 15
    assert page.count("<summary>The figures of this chart") == len(pictures) - 1  # all but drivers
    names = [address for address, _ in pictures]
    assert any("-funnel" in name for name in names)
    assert any("-times" in name for name in names)
    for address, alt in pictures[:3] + pictures[-2:]:
        answer = client.get(address.replace("&amp;", "&"))
        assert answer["Content-Type"] == "image/svg+xml"
        assert b"<svg" in answer.content[:600]
        assert len(alt) > 30


def test_the_table_of_a_chart_has_its_limits(clinic: datetime, lake: Path, signed_in: Sign) -> None:
    """The control chart's weeks with value and limits; the funnel's places in order."""
    page = signed_in("quality").get(f"/indicators/report/?{MONTH}")
    line = next(e for e in page.context["lines"] if e.what.code == "Pre-HemV")
    (_, alt, (control,)), (_, _, (places,)) = line.charts
    assert "Control chart by week" in alt
    assert control.heads == (
        "Week", "Counted", "Value", "Lower limit", "Upper limit", "Signal",
    )  # fmt: skip
    assert control.rows[0][0].startswith("2026-W")
    assert all(re.fullmatch(r"[\d.]+ %|–", row[4]) for row in control.rows)
    assert [row[0] for row in places.rows] == ["Ostrel pass post", "Ostrel valley laboratory"]


def test_a_chart_that_is_not_there(clinic: datetime, lake: Path, signed_in: Sign) -> None:
    """404, also where there is no lake at all."""
    assert signed_in("quality").get("/indicators/chart/no-such.svg").status_code == 404


def test_the_report_on_paper(clinic: datetime, lake: Path, signed_in: Sign) -> None:
    """A PDF of several pages that names the month."""
    answer = signed_in("manager").get(f"/indicators/report.pdf?{MONTH}")
    assert answer["Content-Type"] == "application/pdf"
    paper = pypdfium2.PdfDocument(answer.content)
    assert len(paper) > 3
    assert "November 2026" in paper[0].get_textpage().get_text_range()
    assert "indicators-2026-11.pdf" in answer["Content-Disposition"]


def test_what_drives_haemolysis_comes_with_its_caution(
    clinic: datetime, lake: Path, signed_in: Sign
) -> None:
    """Effects with intervals, and that they prove no cause; with too few there is no model."""
    client = signed_in("quality")
    page = text(client.get(f"/indicators/haemolysis/?{MONTH}"))
    assert "Gauge 23 G against 21 G" in page
    assert "not a proof of cause" in page
    assert "There is no model" in text(client.get("/indicators/haemolysis/?month=2026-09"))


# ------------------------------------------------------------------ by groups and by person


@pytest.mark.parametrize("by", [*groups.GROUPS, "collector"])
@pytest.mark.parametrize("code", ["Pre-HemV", "desk-attempts", "desk-blood", "desk-tourniquet"])
def test_each_kind_of_figure_by_each_group(
    clinic: datetime, lake: Path, signed_in: Sign, by: str, code: str
) -> None:
    """Shares, rates, ratios and times, each by every group, with what was counted."""
    page = signed_in("quality").get(f"/indicators/by/?by={by}&indicator={code}&{MONTH}")
    rows = page.context["rows"]
    assert rows
    assert all(row.name and row.counted for row in rows)
    assert "never ranked" in text(page)


def test_groups_stand_in_their_own_order(clinic: datetime, lake: Path, signed_in: Sign) -> None:
    """Hours by the clock, ages from young to old, gauges with their unit, places by name."""
    client = signed_in("manager")

    def names(by: str) -> list[str]:
        page = client.get(f"/indicators/by/?by={by}&indicator=desk-pricks&{MONTH}")
        return [row.name for row in page.context["rows"]]

    assert names("hour") == sorted(names("hour"))
    assert names("gauge") == ["21 G", "23 G"]
    assert names("age_group")[-1] == "65 years and older"
    assert names("site") == ["Ostrel pass post", "Ostrel valley laboratory"]
    assert "straight needle and holder" in names("device")


@pytest.mark.parametrize("asked_for", ["by=moon", "indicator=no-such", "span=many", "by="])
def test_what_cannot_be_counted_falls_back(
    clinic: datetime, lake: Path, signed_in: Sign, asked_for: str
) -> None:
    """A sentence, and haemolysis by place; an odd span is three months."""
    page = signed_in("quality").get(f"/indicators/by/?{asked_for}&{MONTH}")
    assert page.status_code == 200
    assert (page.context["by"], page.context["span"]) == ("site", 3)
    assert bool(page.context["said"]) == ("span" not in asked_for)


def test_figures_of_persons_are_for_the_quality_role(
    colleagues: None, lake: Path, signed_in: Sign
) -> None:
    """The quality role sees all by name; a manager gets a page that says no."""
    address = f"/indicators/by/?by=collector&indicator=desk-pricks&{MONTH}"
    page = text(signed_in("quality").get(address))
    assert "Tove Arnvik" in page
    assert "begin a talk" in page
    client = signed_in("manager")
    assert client.get(address).status_code == 403
    assert "collector" not in client.get("/indicators/by/").content.decode().lower()
    for address in ("/indicators/", "/indicators/report/", "/indicators/haemolysis/"):
        page = client.get(f"{address}?{MONTH}").content.decode()
        assert "tove" not in page.lower()
        assert "Mira" not in page


def test_a_collector_sees_their_own_figures_only(
    colleagues: None, lake: Path, signed_in: Sign
) -> None:
    """Two collectors, two pages, and neither holds the other's name or counts."""

    def own(username: str) -> Any:
        client = Client()
        client.force_login(Person.objects.get(username=username))
        return client.get(f"/indicators/mine/?{MONTH}")

    mira, tove = own("mira"), own("tove")
    assert "Tove" not in mira.content.decode()
    assert "Mira" not in tove.content.decode()
    counted = [[row.counted for _, row in page.context["rows"]] for page in (mira, tove)]
    assert len(counted[0]) > 8
    assert counted[0] != counted[1]
    assert signed_in("bench").get("/indicators/mine/").status_code == 403


def test_a_collector_without_draws_or_figures(
    clinic: datetime, lake: Path, settings: Any, tmp_path: Path
) -> None:
    """Somebody new has no figures; without a lake the page says whom to ask."""
    Person.objects.create(username="newly", role="collector")
    client = Client()
    client.force_login(Person.objects.get(username="newly"))
    assert "No draw of yours" in text(client.get(f"/indicators/mine/?{MONTH}"))
    settings.LAKE = str(tmp_path / "none")
    assert "There are no figures yet" in text(client.get("/indicators/mine/"))


# ------------------------------------------------------------------ what is broken


def test_a_half_written_file_is_told_and_never_counted(
    clinic: datetime, own_lake: Path, signed_in: Sign
) -> None:
    """A file cut in half: one sentence with its name, no figure, no chart; making anew mends it."""
    client = signed_in("quality")
    part = max(own_lake.glob("specimens/year=*/month=11/**/part-0.parquet"))
    part.write_bytes(part.read_bytes()[:200])
    page = text(client.get(f"/indicators/?{MONTH}"))
    assert "half-written" in page
    assert part.relative_to(own_lake).as_posix() in page
    assert client.get(f"/indicators/chart/pre-hemv-chart.svg?{MONTH}").status_code == 404
    client.post("/indicators/make/")
    assert client.get("/indicators/").context["report"].specimens == 0


def test_a_stamp_that_cannot_be_read_stops_nothing(
    clinic: datetime, own_lake: Path, signed_in: Sign
) -> None:
    """When the figures were made is not known; they are shown all the same."""
    (own_lake / "made.json").write_text("{half")
    page = signed_in("quality").get(f"/indicators/?{MONTH}")
    assert page.context["made"] is None
    assert page.context["report"].specimens > 100


def test_a_lake_exported_by_hand_is_a_new_one(
    clinic: datetime, own_lake: Path, signed_in: Sign
) -> None:
    """The desk shows the new figures, and does not claim to know when they were made."""
    client = signed_in("quality")
    assert client.get(f"/indicators/?{MONTH}").context["report"].specimens > 100
    write_lake(own_lake, LakeRows((), ()), sites=[LakeSite("x", "X")], edition="by hand")
    page = client.get(f"/indicators/?{MONTH}")
    assert page.context["made"] is None
    assert page.context["report"].specimens == 0


def test_no_page_of_figures_holds_a_style_of_its_own(
    clinic: datetime, lake: Path, signed_in: Sign
) -> None:
    """The strict policy needs no exception: charts are pictures."""
    client = signed_in("quality")
    for page in PAGES:
        assert not INLINE.search(client.get(f"{page}?{MONTH}").content.decode()), page


def test_only_the_last_things_are_kept() -> None:
    """What was used longest ago goes first; what is kept is not made twice."""
    kept, calls = Kept(most=2), []

    def make(name: str) -> str:
        calls.append(name)
        return name

    for name in ("a", "b", "a", "c", "a", "b"):
        assert kept.get(name, lambda name=name: make(name)) == name
    assert calls == ["a", "b", "c", "b"]


def test_figures_finished_while_the_page_looks_are_not_called_missing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A page that found none looks again where they are there by now."""
    monkeypatch.setattr(asked_page, "readable", lambda: True)
    assert asked_page.no_lake(InputError("Nothing is there"))["making"] is True
    monkeypatch.setattr(asked_page, "readable", lambda: False)
    assert asked_page.no_lake(InputError("Nothing is there"))["making"] is False
