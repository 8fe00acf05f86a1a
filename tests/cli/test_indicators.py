"""`cubital indicators` and `cubital events export`."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import click
import pypdfium2 as pdfium
import pytest
from click.testing import Result

from cubital.catalogue import shipped
from cubital.cli.lake import export_lake
from cubital.custody import Verdict
from cubital.errors import InputError
from cubital.indicators.ask import open_lake, tallies
from cubital.indicators.engine import duckdb_engine
from cubital.indicators.lake import read_files, write_lake
from cubital.indicators.values import LakeSite
from tests.indicators import valley
from tests.indicators.makers import Log

Cubital = Callable[..., Result]


@pytest.fixture
def lake(tmp_path: Path) -> Path:
    """Nine months of the valley."""
    folder = tmp_path / "lake"
    rows = valley.years(months=9, sizes=(("valley", 60), ("pass", 31), ("mill", 3)))
    write_lake(folder, rows, sites=valley.SITES, edition="x")
    return folder


@pytest.mark.parametrize("begin", ["=", "+", "-", "@", "\t"])
def test_no_name_is_a_formula_of_a_spreadsheet(cubital: Cubital, tmp_path: Path, begin: str):
    """A place may be called anything; its cell is text."""
    rows = valley.years(months=1, sizes=(("valley", 3),))
    sites = [LakeSite("valley", f"{begin}1+1")]
    write_lake(tmp_path / "lake", rows, sites=sites, edition="x")
    done = cubital("indicators", "count", "Pre-HemR", "--lake", tmp_path / "lake", "--csv")
    assert done.exit_code == 0, done.stderr
    (row,) = csv.DictReader(io.StringIO(done.stdout, newline=""))
    assert row["site"] == f"'{begin}1+1"


def test_list_names_every_indicator_with_its_source(cubital: Cubital):
    """Numerator, denominator, source and published levels."""
    done = cubital("indicators", "list")
    assert done.exit_code == 0
    assert "Pre-HemR  Rejected for haemolysis" in done.stdout
    assert "clinical chemistry samples rejected for haemolysis / clinical chemistry samples" in (
        done.stdout
    )
    assert "IFCC specification of 2017: high performance up to 0.049 %" in done.stdout
    assert "source: quality-desk (common practice)" in done.stdout


def test_count_prints_csv(cubital: Cubital, lake: Path):
    """One row an indicator, month and place, with its interval; few are told as a count."""
    done = cubital("indicators", "count", "Pre-HemR", "desk-attempts", "desk-to-reception",
                   "--lake", lake, "--from", "2026-02", "--csv")  # fmt: skip
    assert done.exit_code == 0, done.stderr
    rows = list(csv.DictReader(io.StringIO(done.stdout)))
    assert {row["month"] for row in rows} == {"202602", "202603"}
    assert {row["site"] for row in rows} == {site.name for site in valley.SITES}
    assert len(rows) == 3 * 2 * 3
    few = [row for row in rows if row["site"] == "Mill bridge clinic"]
    assert all(row["figure"] == "too few" for row in few if row["indicator"] == "Pre-HemR")
    time = next(row for row in rows if row["indicator"] == "desk-to-reception")
    assert time["figure"].startswith("median ")


def test_count_prints_a_table(cubital: Cubital, lake: Path):
    """By whatever is asked, or all together."""
    by_gauge = cubital("indicators", "count", "Pre-HemV", "--lake", lake, "--by", "gauge")
    assert by_gauge.exit_code == 0
    assert "gauge" in by_gauge.stdout
    assert " 23 " in by_gauge.stdout
    whole = cubital("indicators", "count", "--lake", lake, "--by", "")
    assert whole.exit_code == 0
    assert "desk-collection-to-spin" in whole.stdout


def test_report_says_draws_and_prints(cubital: Cubital, lake: Path, tmp_path: Path):
    """Sentences on the terminal, a PDF, and the charts as SVG."""
    done = cubital("indicators", "report", "--lake", lake, "--month", "2026-03",
                   "--pdf", tmp_path / "r.pdf", "--charts", tmp_path / "charts")  # fmt: skip
    assert done.exit_code == 0, done.stderr
    assert done.stdout.startswith("Quality indicators, March 2026\n")
    assert "! Mill bridge clinic has 3 specimens" in done.stdout
    assert len(pdfium.PdfDocument(tmp_path / "r.pdf")) > 1
    assert (tmp_path / "charts/pre-hemr-chart.svg").read_bytes().startswith(b"<?xml")


def test_haemolysis_asks_and_refuses(cubital: Cubital, lake: Path):
    """With one factor an answer, with all of them an honest no."""
    one = cubital("indicators", "haemolysis", "--lake", lake, "--with", "gauge")
    assert one.exit_code == 0
    assert "Gauge 23 G against 21 G:" in one.stdout
    few = cubital(
        "indicators", "haemolysis", "--lake", lake, "--from", "2026-01", "--to", "2026-01"
    )
    assert few.exit_code == 0
    assert "There is no model" in few.stdout


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["count", "--lake", "nowhere"], "nowhere: the folder is no lake."),
        (["count", "Pre-Hem", "--lake", "LAKE"], "CODE: Pre-Hem is no indicator."),
        (["count", "--lake", "LAKE", "--by", "moon"], "by: nothing is counted by “moon”."),
        (["count", "--lake", "LAKE", "--from", "2026-13"], "--from: “2026-13” is no month."),
        (
            ["count", "--lake", "LAKE", "--from", "2026-03", "--to", "2026-01"],
            "--from: the first month comes after the last.",
        ),
        (["report", "--lake", "LAKE", "--month", "March"], "--month: “March” is no month."),
        (["haemolysis", "--lake", "LAKE", "--with", "moon"], "factors: “moon” is no factor."),
    ],
)
def test_what_cannot_be_used(cubital: Cubital, lake: Path, words: list[str], said: str):
    """One sentence, and exit code 2."""
    done = cubital("indicators", *(str(lake) if word == "LAKE" else word for word in words))
    assert done.exit_code == 2
    assert done.stderr.startswith(f"cubital: {said}")
    assert len(done.stderr.splitlines()) == 1


def drawn_in(clinic: datetime) -> str:
    """One draw of the clinic, recorded an hour ago by its collector; gives the place."""
    from cubital.desk.record.events import append_events
    from cubital.desk.record.models import Requisition

    asked = Requisition.objects.select_related("place", "patient").order_by("number").first()
    assert asked is not None
    log, site = Log(), asked.place.code
    begun = datetime.now(UTC) - timedelta(hours=1)
    end = log.draw("D-1", begun, tubes={"S-1": "gel-3.5", "S-2": "edta-3"}, site=site,
                   requisition=asked.number, tests={"S-1": ["potassium"]})  # fmt: skip
    log.add("specimen_received", "specimen:S-1", end, site=site)
    events = [
        replace(one.event, payload={**one.event.payload, "patient": asked.patient.number})
        if "patient" in one.event.payload else one.event
        for one in log.records
    ]  # fmt: skip
    answers = append_events(events=events, person="mira")
    assert {answer.verdict for answer in answers} == {Verdict.STORED}, answers
    return site


@pytest.mark.django_db
def test_export_writes_the_record(clinic: datetime, tmp_path: Path):
    """Everything on record, with the places of the desk; a place may have got another code."""
    from cubital.desk.record.models import Place

    site = drawn_in(clinic)
    folder = tmp_path / "lake"
    counted = export_lake(folder, shipped(), now=datetime.now(UTC), moved={"old-post": site})
    files = read_files(folder)
    written = {name: sum(n for part, n in files.parts.items() if part.table == name)
               for name in ("specimens", "draws")}  # fmt: skip
    assert (written["specimens"], written["draws"]) == counted
    assert counted >= (2, 1)
    assert {part.site for part in files.parts} == {site}
    assert set(files.sites) == {*Place.objects.values_list("code", flat=True), "old-post"}
    assert files.sites["old-post"].now == site
    assert files.sites[site].name == Place.objects.get(code=site).name
    with duckdb_engine(threads=1) as engine:
        lake = open_lake(folder, shipped(), engine)
        (found,) = tallies(lake, by=()).values()
    assert (found.specimens, found.received, found.draws) == (counted[0], 1, counted[1])


@pytest.mark.django_db
def test_export_refuses_a_place_that_is_not_there(clinic: datetime, tmp_path: Path):
    """A new code that nobody has."""
    with pytest.raises(InputError, match="no place is called moon"):
        export_lake(tmp_path / "l", shipped(), now=datetime.now(UTC), moved={"old": "moon"})


def test_moves_are_pairs(cubital: Cubital, tmp_path: Path):
    """OLD=NEW and nothing else."""
    done = cubital("events", "export", tmp_path / "l", "--moved", "old")
    assert done.exit_code == 2
    assert "--moved: “old” names no two places." in done.stderr


def test_export_reads_the_database_that_is_named(
    cubital: Cubital, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    """Where there is no record the sentence says to name another: that must be possible."""

    def opened(database: str) -> None:
        raise click.UsageError(f"asked for {database}")

    monkeypatch.setattr("cubital.cli.lake.open_record", opened)
    url = f"sqlite:///{tmp_path / 'other.sqlite3'}"
    done = cubital("events", "export", tmp_path / "l", "--database", url)
    assert done.exit_code == 2
    assert f"asked for {url}" in done.stderr
