"""The label of a waste bag or sharps box: its code, and what goes in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cubital.catalogue.model import LabelSize
from cubital.labels.thing import ThingLabel, print_thing_labels


@dataclass(frozen=True, slots=True)
class WasteLabel(ThingLabel):
    """
    What stands on it.

    Args:
        code: of the bag, 1 to 20 letters and digits, as scanned.
        title: what goes in, in one or two words.
        lines: container and colour, when it is closed, where and since when.
    """


def print_waste_labels(labels: Sequence[WasteLabel], size: LabelSize) -> bytes:
    """
    Give a PDF with one page a label; on sheets of many the first place of each sheet.

    Raises:
        LabelError: nothing to print, or the paper is too small.
    """
    return print_thing_labels(labels, size, "waste")
