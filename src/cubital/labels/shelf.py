"""The label of a shelf, rack or drawer: its code, its name, and how cold it is kept."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from cubital.catalogue.model import LabelSize
from cubital.errors import LabelError
from cubital.labels.thing import ThingLabel, print_thing_labels

WIDTHS = (80, 32, 24, 18, 13)
"""Letters a line into which a long name is broken, one after the other until it fits."""


@dataclass(frozen=True, slots=True)
class ShelfLabel:
    """
    What stands on it.

    Args:
        code: that is scanned when something is put there, 1 to 32 letters and digits.
        name: as people call it.
        kind: of store, with its temperature.
        place: whose it is.
    """

    code: str
    name: str
    kind: str
    place: str


def print_shelf_labels(shelves: Sequence[ShelfLabel], size: LabelSize) -> bytes:
    """
    Give a PDF with one page a shelf; on sheets of many the first place of each sheet.

    A long name is broken into lines; the place is left out where nothing else makes it fit.

    Raises:
        LabelError: nothing to print, or the paper is too small.
    """
    return print_thing_labels([_fitted(shelf, size) for shelf in shelves], size, "shelf")


def _fitted(shelf: ShelfLabel, size: LabelSize) -> ThingLabel:
    """The first way to set it that the paper takes; the last one where it takes none."""
    for more in ((shelf.kind, shelf.place), (shelf.kind,)):
        for width in WIDTHS:
            title, *rest = textwrap.wrap(shelf.name, width) or [shelf.code]
            label = ThingLabel(shelf.code, title, (*rest, *more))
            try:
                print_thing_labels([label], size, "shelf")
            except LabelError:
                continue
            return label
    return label
