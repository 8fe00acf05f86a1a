"""A waste bag's label: both symbols are read back, on every paper that is large enough."""

from __future__ import annotations

import pypdfium2
import pytest
import zxingcpp

from cubital.catalogue import shipped
from cubital.errors import LabelError
from cubital.labels.waste import WasteLabel, print_waste_labels

LABEL = WasteLabel(
    "WOL261125001",
    "soiled",
    ("yellow bag, close at 75 %", "Ostrel valley laboratory", "opened 2026-11-25 07:40"),
)
DPI = 203
"""Of a common label printer."""


def read(pdf: bytes, page: int = 0) -> set[tuple[str, str]]:
    """Symbols on a page as a scanner reads them: kind and text."""
    image = pypdfium2.PdfDocument(pdf)[page].render(scale=DPI * 2 / 72).to_pil()
    return {(each.format.name, each.text) for each in zxingcpp.read_barcodes(image)}


@pytest.mark.parametrize("size", shipped().label_sizes.values(), ids=lambda size: size.code)
def test_the_label_is_read_back_on_every_paper(size) -> None:
    """The Data Matrix always; the bars as well wherever the paper is as wide as they are."""
    found = read(print_waste_labels([LABEL], size))
    assert ("DataMatrix", LABEL.code) in found
    if size.width_mm >= 50:
        assert ("Code128", LABEL.code) in found
    assert {text for _, text in found} == {LABEL.code}


def test_each_label_has_a_page() -> None:
    """Two bags, two pages, the same bytes each time."""
    size = shipped().label_sizes["50x25"]
    other = WasteLabel("WOL261125002", "sharps", ("white box",))
    pdf = print_waste_labels([LABEL, other], size)
    assert pdf == print_waste_labels([LABEL, other], size)
    assert {text for _, text in read(pdf, 1)} == {"WOL261125002"}


def test_what_cannot_be_printed_is_a_sentence() -> None:
    """Nothing at all, and a bar code longer than the paper."""
    size = shipped().label_sizes["30x15"]
    with pytest.raises(LabelError, match="no label to print"):
        print_waste_labels([], size)
    with pytest.raises(LabelError, match="too small"):
        print_waste_labels([WasteLabel("W" * 64, "plastic", ("red bag",) * 4)], size)
