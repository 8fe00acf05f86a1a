"""
The label of a waste bag, a shelf or another thing: its code as bars and Data Matrix.

Text sizes are common practice, no source: what it is from 11 points down to 5.5, the rest from 7
down to 4.6.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from cubital.catalogue.model import LabelSize
from cubital.errors import LabelError
from cubital.labels import script, symbols
from cubital.labels.layout import BARS_LEAST_MM, BARS_MOST_MM, GAP_MM, MARGIN_MM, POINT_MM

TITLE_POINTS = (11.0, 5.5)
TEXT_POINTS = (7.0, 4.6)
LEADING = 1.2
STEPS = 12


@dataclass(frozen=True, slots=True)
class ThingLabel:
    """
    What stands on it.

    Args:
        code: as scanned, 1 to 32 letters and digits.
        title: what it is, in one or two words.
        lines: what else is to be read on it.
    """

    code: str
    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Sizes:
    """One way to set it, from large to small."""

    title: float
    text: float


def _width_mm(text: str, points: float, weight: int) -> float:
    return script.width(text, points, weight) * POINT_MM


def _texts(label: ThingLabel, sizes: _Sizes) -> list[tuple[str, float, int]]:
    """Lines from top to bottom: text, points, weight."""
    return [
        (label.title, sizes.title, script.BOLD),
        (label.code, sizes.text, script.BOLD),
        *((line, sizes.text, script.REGULAR) for line in label.lines),
    ]


def _fits(
    label: ThingLabel, size: LabelSize, sizes: _Sizes, side_mm: float, floor_mm: float
) -> bool:
    y = size.height_mm - MARGIN_MM
    beside = size.width_mm - 2 * MARGIN_MM - side_mm - GAP_MM
    for text, points, weight in _texts(label, sizes):
        room = beside if y > size.height_mm - MARGIN_MM - side_mm else beside + side_mm + GAP_MM
        if _width_mm(text, points, weight) > room:
            return False
        y -= points * POINT_MM * LEADING
    return y >= floor_mm


def _chosen(label: ThingLabel, size: LabelSize) -> tuple[_Sizes, float, float | None]:
    """Give the sizes of the text, the Data Matrix's module and the bars' module or None."""
    bars = symbols.bar_module_mm(label.code, size.width_mm)
    for bar_module in dict.fromkeys((bars, None)):
        floor = MARGIN_MM + (BARS_LEAST_MM + GAP_MM if bar_module else 0.0)
        for module in (symbols.MATRIX_MODULE_MM, symbols.MATRIX_MODULE_LEAST_MM):
            side = symbols.matrix_side_mm(label.code, module)
            if size.height_mm - MARGIN_MM - side < floor:
                continue
            for step in range(STEPS + 1):
                share = step / STEPS
                sizes = _Sizes(
                    *(big + share * (small - big) for big, small in (TITLE_POINTS, TEXT_POINTS))
                )
                if _fits(label, size, sizes, side, floor):
                    return sizes, module, bar_module
    raise LabelError(
        f"A label of {size.width_mm:g} × {size.height_mm:g} mm is too small for what stands on it",
        label.code,
        "A manager chooses larger label paper on the page of the place.",
    )


def print_thing_labels(labels: Sequence[ThingLabel], size: LabelSize, what: str) -> bytes:
    """
    Give a PDF with one page a label; on sheets of many the first place of each sheet.

    Args:
        labels: at least one.
        size: of the paper.
        what: the labels are of, in a word, for the title of the file.

    Raises:
        LabelError: nothing to print, or the paper is too small.
    """
    if not labels:
        raise LabelError("There is no label to print")
    chosen = [_chosen(label, size) for label in labels]
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(size.page_width_mm * mm, size.page_height_mm * mm), invariant=1)
    canvas.setTitle(f"cubital {what} labels")
    for number, (label, how) in enumerate(zip(labels, chosen, strict=True)):
        if number:
            canvas.showPage()
        canvas.saveState()
        canvas.translate(
            size.left_mm * mm, (size.page_height_mm - size.top_mm - size.height_mm) * mm
        )
        _draw(canvas, label, size, *how)
        canvas.restoreState()
    canvas.save()
    return out.getvalue()


def _draw(
    canvas: Canvas,
    label: ThingLabel,
    size: LabelSize,
    sizes: _Sizes,
    module_mm: float,
    bar_module_mm: float | None,
) -> None:
    side = symbols.matrix_side_mm(label.code, module_mm)
    corner = size.height_mm - MARGIN_MM - side
    symbols.draw_matrix(canvas, label.code, size.width_mm - MARGIN_MM - side, corner, module_mm)
    y = size.height_mm - MARGIN_MM
    for text, points, weight in _texts(label, sizes):
        y -= points * POINT_MM * LEADING
        script.draw(
            canvas, MARGIN_MM * mm, (y + points * POINT_MM * 0.28) * mm, text, points, weight
        )
    if bar_module_mm is not None:
        height = min(BARS_MOST_MM, min(y, corner) - GAP_MM - MARGIN_MM)
        x = (size.width_mm - symbols.bars_width_mm(label.code, bar_module_mm)) / 2
        symbols.draw_bars(canvas, label.code, x, MARGIN_MM, bar_module_mm, height)
