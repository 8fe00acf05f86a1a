"""
Code 128 (ISO/IEC 15417) and Data Matrix (ISO/IEC 16022) on printed labels.

Outside: the labels' PDF is rendered by PDFium at the dots of a 203, 300 and 600 dpi printer and
read by zxing-cpp, which shares no code with what drew them.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pypdfium2
import pytest
import zxingcpp

from cubital.accession import accession_number
from cubital.catalogue import shipped
from cubital.errors import LabelError
from cubital.labels import Label, print_labels

NAMES = (
    "Ash, Bo",
    "Ostrel-Vandervall of the Upper Meadows, Annemarie Josephine Wilhelmina Theodora",
    "क्षत्रिय, प्रिया",
    "கிருஷ்ணமூர்த்தி, தமிழ்ச்செல்வி",
    "عبد الرحمن بن محمد",
    "李, 小龍",
    "김, 민수",
)


def labels(count: int = len(NAMES)) -> list[Label]:
    """Labels with a name of each script, every other one with handling words."""
    return [
        Label(
            accession=accession_number("OL", date(2026, 11, 25), 41 + n),
            name=NAMES[n % len(NAMES)],
            identifiers=(("born", "1961-04-12"), ("No", "104233")),
            collected="drawn 2026-11-25 07:40" if n % 2 else "",
            collector="MK",
            container="K2-EDTA · lavender",
            tests=("FBC", "HbA1c"),
            handling=("ON ICE",) if n % 2 else (),
        )
        for n in range(count)
    ]


def read(pdf: bytes, dpi: int) -> list[list[tuple[str, bytes]]]:
    """What a reader sees on each page."""
    pages = pypdfium2.PdfDocument(pdf)
    return [
        sorted(
            (str(code.format.name), code.bytes)
            for code in zxingcpp.read_barcodes(page.render(scale=dpi / 72).to_pil())
        )
        for page in pages
    ]


@pytest.mark.parametrize("dpi", [203, 300, 600])
@pytest.mark.parametrize("size", sorted(shipped().label_sizes))
def test_a_reader_gets_every_number_back(size: str, dpi: int) -> None:
    """Every label has its Data Matrix, and its Code 128 where the paper is wide enough."""
    wanted = labels()
    paper = shipped().label_sizes[size]
    pages = read(print_labels(wanted, paper), dpi)
    seen = [code for page in pages for code in page]
    numbers = sorted(label.accession.encode() for label in wanted)
    assert sorted(text for kind, text in seen if kind == "DataMatrix") == numbers
    bars = sorted(text for kind, text in seen if kind == "Code128")
    assert bars == (numbers if paper.width_mm >= 45 else [])


def test_the_same_labels_give_the_same_bytes() -> None:
    """A reprint is the same file."""
    paper = shipped().label_sizes["50x25"]
    assert print_labels(labels(), paper) == print_labels(labels(), paper)


def test_a_sheet_already_begun_is_used_up() -> None:
    """Places may be left empty; what does not fit goes on the next sheet."""
    paper = shipped().label_sizes["a4-3x8"]
    pages = read(print_labels(labels(5), paper, first=22), 300)
    assert [len([c for c in page if c[0] == "DataMatrix"]) for page in pages] == [2, 3]


@pytest.mark.parametrize("first", [-1, 24])
def test_a_place_outside_the_sheet_is_refused(first: int) -> None:
    """An A4 sheet of 3 × 8 has the places 0 to 23."""
    with pytest.raises(LabelError, match="0 to 23"):
        print_labels(labels(1), shipped().label_sizes["a4-3x8"], first=first)


def test_nothing_to_print_is_said() -> None:
    """An empty print is refused, not an empty page."""
    with pytest.raises(LabelError, match="no label"):
        print_labels([], shipped().label_sizes["50x25"])


def test_no_ink_outside_the_label() -> None:
    """On a roll every page is a label: its outermost pixels stay white."""
    paper = shipped().label_sizes["50x25"]
    for page in pypdfium2.PdfDocument(print_labels([replace(labels(2)[1])], paper)):
        image = page.render(scale=300 / 72).to_pil().convert("L")
        width, height = image.size
        edge = [image.getpixel((x, y)) for x in range(width) for y in (0, height - 1)]
        edge += [image.getpixel((x, y)) for y in range(height) for x in (0, width - 1)]
        assert min(edge) > 250
        assert image.getextrema()[0] < 50
