"""Where a label's lines and symbols stand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cubital.catalogue import shipped
from cubital.errors import LabelError
from cubital.labels import Label, script
from cubital.labels.layout import GOES_ON, POINT_MM, lay_out, spoken

LABEL = Label(
    accession="OL2611250041S",
    name="Ash, Bo",
    identifiers=(("born", "1961-04-12"), ("No", "104233")),
    collected="drawn 2026-11-25 07:40",
    collector="MK",
    container="K2-EDTA · lavender",
    tests=("FBC", "HbA1c"),
)
LONG = "Ostrel-Vandervall of the Upper Meadows, Annemarie Josephine Wilhelmina Theodora"
NAMES = st.one_of(
    st.text(st.characters(min_codepoint=0x61, max_codepoint=0x7A), min_size=1, max_size=90),
    st.text("कखगघचछजतदनपमयरलवसहािीुूे ", min_size=1, max_size=60).filter(str.strip),
    st.text("李王張劉陳楊黃趙吳周龍", min_size=1, max_size=40),
    st.text("ابتثجحخدذرزسشصضطظعغفقكلمنهوي ", min_size=1, max_size=60).filter(str.strip),
)
SIZES = sorted(shipped().label_sizes)


@pytest.mark.parametrize("size", SIZES)
def test_everything_a_label_must_say_is_on_every_size(size: str) -> None:
    """Name, all identifiers, time, collector, container and number stand on each paper."""
    laid = lay_out(LABEL, shipped().label_sizes[size])
    words = " ".join(line.text for line in laid.lines)
    for needed in (
        "Ash, Bo",
        "born 1961-04-12",
        "No 104233",
        "drawn 2026-11-25 07:40",
        "by MK",
        "K2-EDTA · lavender",
        spoken(LABEL.accession),
    ):
        assert needed in words
    assert not laid.name_goes_on


@pytest.mark.parametrize("size", SIZES)
def test_a_name_that_goes_on_says_how_far(size: str) -> None:
    """What is shown and what is counted make up the whole name."""
    laid = lay_out(replace(LABEL, name=LONG), shipped().label_sizes[size])
    shown = " ".join(line.text for line in laid.lines if line.part == "name")
    if laid.name_goes_on:
        kept, _, more = shown.partition(GOES_ON)
        assert LONG.startswith(kept)
        assert len(LONG) - len(kept) - int(more) in (0, 1)  # a blank at the cut
    else:
        assert shown == LONG


@given(name=NAMES, size=st.sampled_from(SIZES))
def test_nothing_leaves_the_label_or_covers_a_symbol(name: str, size: str) -> None:
    """Lines stand inside the paper, one below the other, beside the Data Matrix, above the bars."""
    paper = shipped().label_sizes[size]
    laid = lay_out(replace(LABEL, name=name), paper)
    matrix = next(s for s in laid.symbols if s.kind == "matrix")
    bars = [s for s in laid.symbols if s.kind == "bars"]
    floor = bars[0].y_mm + bars[0].height_mm if bars else 0.0
    heights = [line.y_mm for line in laid.lines]
    assert heights == sorted(heights, reverse=True)
    for line in laid.lines:
        right = line.x_mm + script.width(line.text, line.points, line.weight) * POINT_MM
        assert right <= paper.width_mm
        assert line.y_mm >= floor
        beside = line.y_mm + line.points * POINT_MM > matrix.y_mm
        assert not beside or right <= matrix.x_mm
    for symbol in laid.symbols:
        assert symbol.x_mm >= 0
        assert symbol.x_mm + symbol.width_mm <= paper.width_mm
        assert symbol.y_mm + symbol.height_mm <= paper.height_mm


def test_a_name_that_no_font_has_is_refused() -> None:
    """A character that would be printed as an empty box is refused by name."""
    with pytest.raises(LabelError, match="no font here can print"):
        lay_out(replace(LABEL, name="\U00012000"), shipped().label_sizes["50x25"])


def test_a_paper_too_small_is_refused() -> None:
    """Nothing is left out to make a label fit."""
    tiny = replace(shipped().label_sizes["30x15"], width_mm=18.0, height_mm=9.0)
    with pytest.raises(LabelError, match="too small"):
        lay_out(LABEL, tiny)
