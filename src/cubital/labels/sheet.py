"""Labels as a PDF: one a page for a label printer, or many on a sheet."""

from __future__ import annotations

import io
from collections.abc import Sequence

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from cubital.catalogue.model import LabelSize
from cubital.errors import LabelError
from cubital.labels import script, symbols
from cubital.labels.layout import Layout, lay_out
from cubital.labels.values import Label


def _draw(canvas: Canvas, label: Label, laid: Layout) -> None:
    for line in laid.lines:
        script.draw(canvas, line.x_mm * mm, line.y_mm * mm, line.text, line.points, line.weight)
    for symbol in laid.symbols:
        if symbol.kind == "matrix":
            symbols.draw_matrix(canvas, label.accession, symbol.x_mm, symbol.y_mm, symbol.module_mm)
        else:
            symbols.draw_bars(
                canvas,
                label.accession,
                symbol.x_mm,
                symbol.y_mm,
                symbol.module_mm,
                symbol.height_mm,
            )


def print_labels(labels: Sequence[Label], size: LabelSize, *, first: int = 0) -> bytes:
    """
    Give a PDF of all labels; the same labels give the same bytes.

    Args:
        labels: at least one.
        size: the paper, from ``label_sizes.csv``.
        first: places to leave empty on the first sheet (0 for none), for a sheet already begun.

    Raises:
        LabelError: nothing to print, a place outside the sheet, or what :func:`lay_out` refuses.
    """
    places = size.columns * size.rows
    if not labels:
        raise LabelError("There is no label to print")
    if not 0 <= first < places:
        raise LabelError(f"The sheet has {places} places", mend=f"Leave 0 to {places - 1} empty.")
    laid = [(label, lay_out(label, size)) for label in labels]
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(size.page_width_mm * mm, size.page_height_mm * mm), invariant=1)
    canvas.setTitle("cubital labels")
    for place, (label, layout) in enumerate(laid, start=first):
        spot = place % places
        if place > first and spot == 0:
            canvas.showPage()
        row, column = divmod(spot, size.columns)
        x = size.left_mm + column * (size.width_mm + size.gap_x_mm)
        y = size.page_height_mm - size.top_mm - (row + 1) * size.height_mm - row * size.gap_y_mm
        canvas.saveState()
        canvas.translate(x * mm, y * mm)
        _draw(canvas, label, layout)
        canvas.restoreState()
    canvas.save()
    return out.getvalue()
