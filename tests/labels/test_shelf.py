"""A shelf's label: both symbols are read back, a long name is broken into lines."""

from __future__ import annotations

import pytest

from cubital.catalogue import shipped
from cubital.errors import LabelError
from cubital.labels.shelf import ShelfLabel, print_shelf_labels
from tests.labels.test_waste import read

SHELF = ShelfLabel("FR-A", "Fridge, shelf A", "refrigerator, 2 to 8 °C", "Ostrel valley laboratory")


@pytest.mark.parametrize("size", shipped().label_sizes.values(), ids=lambda size: size.code)
def test_a_shelf_is_read_back_on_every_paper(size) -> None:
    """The Data Matrix always; the bars as well wherever the paper is as wide as they are."""
    found = read(print_shelf_labels([SHELF], size))
    assert ("DataMatrix", SHELF.code) in found
    if size.width_mm >= 50:
        assert ("Code128", SHELF.code) in found
    assert {text for _, text in found} == {SHELF.code}


def test_a_long_name_is_broken_into_lines() -> None:
    """Eighty letters on common paper, and the code is still read."""
    name = "Deep freezer in the corridor behind the door to the yard, second drawer, box one"
    long = ShelfLabel("DF2-DRAWER-2-BOX-1", name, "deep freezer, -90 to -60 °C", SHELF.place)
    found = read(print_shelf_labels([long], shipped().label_sizes["50x25"]))
    assert ("DataMatrix", long.code) in found


def test_each_shelf_has_a_page_and_none_is_a_sentence() -> None:
    """Two shelves, two pages; nothing to print; more than the paper takes."""
    size = shipped().label_sizes["50x25"]
    other = ShelfLabel("RK-1", "Rack 1", "rack", SHELF.place)
    assert {text for _, text in read(print_shelf_labels([SHELF, other], size), 1)} == {"RK-1"}
    with pytest.raises(LabelError, match="no label to print"):
        print_shelf_labels([], size)
    small = shipped().label_sizes["30x15"]
    with pytest.raises(LabelError, match="too small"):
        print_shelf_labels([ShelfLabel("W" * 64, "W" * 80, "W" * 60, SHELF.place)], small)
