"""
The accession number as Code 128 (ISO/IEC 15417) and Data Matrix (ISO/IEC 16022), as vectors.

Module widths are from common practice: a module of 0.25 mm is two dots of a 203 dpi label printer,
and a Data Matrix module of 0.375 mm is three.
"""

from __future__ import annotations

import functools

from ppf.datamatrix import DataMatrix
from reportlab.graphics.barcode.code128 import Code128
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

BAR_MODULE_MM = 0.25
QUIET_MODULES = 10
"""ISO/IEC 15417: ten modules of nothing on either side."""
MATRIX_MODULE_MM = 0.5
MATRIX_MODULE_LEAST_MM = 0.375


@functools.lru_cache(maxsize=4096)
def _modules(text: str) -> int:
    return int(Code128(text, barWidth=1.0, barHeight=1.0, quiet=0).width + 0.5)


def bar_module_mm(text: str, room_mm: float) -> float | None:
    """Give the module width if a Code 128 and its quiet zones fit, or None: no narrower bars."""
    return BAR_MODULE_MM if bars_width_mm(text, BAR_MODULE_MM) <= room_mm else None


def bars_width_mm(text: str, module_mm: float) -> float:
    """Width of a Code 128 with its quiet zones."""
    return (_modules(text) + 2 * QUIET_MODULES) * module_mm


def draw_bars(
    canvas: Canvas, text: str, x_mm: float, y_mm: float, module_mm: float, height_mm: float
) -> None:
    """Draw a Code 128; the lower left corner of its quiet zone is given."""
    bars = Code128(text, barWidth=module_mm * mm, barHeight=height_mm * mm, quiet=0)
    bars.drawOn(canvas, (x_mm + QUIET_MODULES * module_mm) * mm, y_mm * mm)


@functools.lru_cache(maxsize=4096)
def _matrix(text: str) -> tuple[tuple[int, ...], ...]:
    return tuple(tuple(row) for row in DataMatrix(text).matrix)


def matrix_side_mm(text: str, module_mm: float) -> float:
    """Side of a Data Matrix with its quiet zone of one module."""
    return (len(_matrix(text)) + 2) * module_mm


def draw_matrix(canvas: Canvas, text: str, x_mm: float, y_mm: float, module_mm: float) -> None:
    """Draw a Data Matrix; the lower left corner of its quiet zone is given."""
    rows = _matrix(text)
    count = len(rows)
    path = canvas.beginPath()
    for down, row in enumerate(rows):
        for across, dark in enumerate(row):
            if dark:
                path.rect(
                    (x_mm + (across + 1) * module_mm) * mm,
                    (y_mm + (count - down) * module_mm) * mm,
                    module_mm * mm,
                    module_mm * mm,
                )
    canvas.drawPath(path, stroke=0, fill=1)
