"""Charts and paper: the same bytes for the same report, grey, from zero, gaps left open."""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pypdfium2 as pdfium
import pytest

from cubital.catalogue import shipped
from cubital.indicators.engine import duckdb_engine
from cubital.indicators.lake import write_lake
from cubital.indicators.letters import family_of, shown, width, wrapped
from cubital.indicators.paper import MARGIN, WIDTH, report_pdf
from cubital.indicators.plots import alts, charts, figure_of, pictures
from cubital.indicators.report import report
from cubital.indicators.report_values import Report
from cubital.indicators.values import LakeRows, LakeSite
from tests.indicators import valley

SITES = (
    LakeSite("valley", "Ostrel valley laboratory"),
    LakeSite("pass", "काठमाडौं पास"),
    LakeSite("mill", "Mill $bridge_clinic"),
)
COLOUR = re.compile(r"#([0-9a-f]{2})([0-9a-f]{2})([0-9a-f]{2})")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Report]:
    """A report with a rise in March, a silent December, and a place with a handful."""
    rows = valley.years(sizes=(("valley", 220), ("pass", 90), ("mill", 4)))
    kept = LakeRows(
        tuple(r for r in rows.specimens if r.month != 202512),
        tuple(r for r in rows.draws if r.month != 202512),
    )
    folder = tmp_path_factory.mktemp("plots") / "lake"
    write_lake(folder, kept, sites=SITES, edition="x")
    with duckdb_engine(threads=1) as engine:
        yield report(folder, 202603, shipped(), engine)


@pytest.fixture(scope="module")
def drawn(made: Report) -> dict[str, bytes]:
    """Its charts."""
    return charts(made)


@pytest.fixture(scope="module")
def paper(made: Report) -> bytes:
    """Its pages."""
    return report_pdf(made)


def test_the_same_report_gives_the_same_bytes(made: Report, drawn: dict[str, bytes], paper: bytes):
    """Charts and pages."""
    assert charts(made) == drawn
    some = replace(made, shares=made.shares[:9], rates=(), times=made.times[:1])
    assert report_pdf(some) == report_pdf(some) != paper


def test_every_chart_is_svg_without_colour_or_script(drawn: dict[str, bytes]):
    """Whatever stands in it is black, white or grey."""
    assert {"pre-hemr-chart", "pre-hemr-funnel", "desk-attempts-chart", "desk-to-reception-times",
            "haemolysis-drivers"} <= set(drawn)  # fmt: skip
    for data in drawn.values():
        root = ET.fromstring(data)
        assert root.tag.endswith("svg")
        assert b"<script" not in data
        assert b"<dc:date" not in data
        found = COLOUR.findall(data.decode())
        assert found
        assert all(red == green == blue for red, green, blue in found)


def test_every_chart_has_words_for_whoever_does_not_see_it(made: Report, drawn: dict[str, bytes]):
    """With the figure, and the signals."""
    said = alts(made)
    assert set(said) == set(drawn)
    assert said["pre-hemr-chart"].startswith("Control chart by month. Rejected for haemolysis.")
    assert "Signal above the centre" in said["pre-hemr-chart"]
    assert all(re.fullmatch(r"[a-z0-9-]+", name) for name in drawn)


def test_axes_begin_at_zero_and_hold_every_point(made: Report):
    """No chart makes a small difference look large."""
    for picture in pictures(made):
        (axes,) = figure_of(picture).axes
        low, high = axes.get_ylim()
        if picture.name == "haemolysis-drivers":
            continue
        assert low == 0, picture.name
        heights = np.concatenate([np.asarray(one.get_ydata(), dtype=float) for one in axes.lines
                                  if one.get_marker() not in ("None", None, "")])  # fmt: skip
        assert np.nanmax(heights) <= high


def test_a_silent_month_is_a_gap(made: Report):
    """Not a zero, and not a line drawn across."""
    picture = next(p for p in pictures(made) if p.name == "pre-hemr-chart")
    (axes,) = figure_of(picture).axes
    values = np.asarray(axes.lines[0].get_ydata(), dtype=float)
    line = next(one for one in made.shares if one.what.code == "Pre-HemR")
    at = [point.period for point in line.chart.points].index(202512)
    assert np.isnan(values[at])
    assert np.isfinite(np.delete(values, at)).all()


def test_a_signal_is_a_diamond_and_a_handful_is_hollow(made: Report):
    """Told by shape, not by colour."""
    by_name = {picture.name: picture for picture in pictures(made)}
    (axes,) = figure_of(by_name["pre-hemr-chart"]).axes
    diamonds = next(one for one in axes.lines if one.get_marker() == "D")
    line = next(one for one in made.shares if one.what.code == "Pre-HemR")
    assert len(np.asarray(diamonds.get_xdata())) == len(line.marks) > 0
    (axes,) = figure_of(by_name["pre-hemr-funnel"]).axes
    hollow = [one for one in axes.lines if one.get_markerfacecolor() == "white"]
    assert [int(np.asarray(one.get_xdata())[0]) for one in hollow] == [4]


def test_an_empty_report_has_no_charts_and_a_page(made: Report):
    """Nothing is drawn of nothing."""
    nothing = ("No specimens and no draws are on record in March 2026.",)
    empty = replace(
        made, shares=(), rates=(), times=(), drivers=None, sites=(), findings=(), headlines=nothing
    )
    assert charts(empty) == {}
    pages = pdfium.PdfDocument(io.BytesIO(report_pdf(empty)))
    assert len(pages) == 1


def test_the_paper_says_what_the_report_says(made: Report, paper: bytes):
    """Headlines, the table, the sentences and the edition can be read in the PDF."""
    pages = pdfium.PdfDocument(io.BytesIO(paper))
    text = " ".join(" ".join(page.get_textpage().get_text_range().split()) for page in pages)
    for sentence in (*made.headlines, made.cautions[0], "Mill $bridge_clinic"):
        assert " ".join(sentence.split()) in text
    assert made.edition in text.replace(" ", "")
    assert f"page {len(pages)}" in text


def test_nothing_runs_off_the_paper(paper: bytes):
    """Every letter lies within the margins."""
    for page in pdfium.PdfDocument(io.BytesIO(paper)):
        words = page.get_textpage()
        assert page.get_width() == pytest.approx(WIDTH)
        for n in range(words.count_rects()):
            left, bottom, right, top = words.get_rect(n)
            assert left >= MARGIN / 2
            assert right <= WIDTH - MARGIN / 2
            assert bottom >= 10
            assert top <= 842 - MARGIN / 2


def test_letters_of_any_script_or_a_question_mark():
    """The font is chosen by the text; a letter that no font has is not a box."""
    assert shown("काठमाडौं") == "काठमाडौं"
    assert family_of("மருத்துவமனை") != family_of("Ostrel")
    assert shown("மருத்துவமனை") == "மருத்துவமனை"
    assert shown("Ostrel \U0001f9ea") == "Ostrel ?"


def test_lines_are_no_wider_than_their_room():
    """A word that is too long is cut, and nothing is lost."""
    text = "Misidentified " * 6 + "Unaussprechlichkeitsbezeichnungsnachweisverfahrensordnung"
    lines = list(wrapped(text, 9, 120))
    assert all(width(line, 9) <= 120 for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert list(wrapped("", 9, 120)) == []
