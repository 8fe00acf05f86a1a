"""
The rack drawn: where the lines of each tube lie, how long the bar of the allowance is.

Only geometry, in the units of each small drawing; the plan says how full and how much.
"""

from __future__ import annotations

from dataclasses import dataclass

from cubital.catalogue.model import Container
from cubital.draw.values import DrawPlan, PlannedContainer

PX_PER_MM = 1.55
CAP_HEIGHT = 34
DRAWING_HEIGHT = 200
DRAWING_WIDTH = 160
FULL = 0.86
"""Where "filled to its nominal volume" lies in a drawn tube: some air is always above."""
HUB_RGB = {
    "pink": "#e79ab0",
    "cream": "#f3e6bf",
    "yellow": "#f2cf2e",
    "deep green": "#1f6b3a",
    "black": "#1b1b1b",
    "deep blue": "#1d3f8f",
    "medium purple": "#6b3a8c",
    "orange": "#e5791e",
    "brown": "#6e4526",
    "medium grey": "#8a8f94",
    "red-violet": "#8e2f6b",
    "white": "#ffffff",
}
"""How the hub colours of ISO 6009 look on a screen, about; their names are always written too."""


@dataclass(frozen=True, slots=True)
class TubeDrawing:
    """One drawn tube, in the units of its own small drawing: its walls, its blood, its marks."""

    wall: str
    blood: str
    least_y: float
    mark_left: float
    mark_right: float


@dataclass(frozen=True, slots=True)
class Bar:
    """The allowance as a bar, in percent of its whole length."""

    taken_percent: float
    planned_percent: float
    limit_percent: float


def drawing(planned: PlannedContainer, row: Container) -> TubeDrawing:
    """Lay out one tube: as tall and wide as it is beside the others, blood from the bottom."""
    height = min(row.height_mm * PX_PER_MM, DRAWING_HEIGHT - CAP_HEIGHT - 6)
    width = max(26.0, min(row.diameter_mm * 2.7, 84.0))
    left, right = (DRAWING_WIDTH - width) / 2, (DRAWING_WIDTH + width) / 2
    bottom = CAP_HEIGHT + height
    corner = 9 if row.form == "culture_bottle" else width / 2

    def level(volume_ul: int) -> float:
        return round(bottom - height * FULL * min(1.0, volume_ul / row.nominal_ul), 1)

    least = level(planned.fill_min_ul)
    return TubeDrawing(
        wall=vessel(left, right, CAP_HEIGHT, bottom, corner),
        blood=vessel(left, right, level(planned.fill_ul), bottom, corner),
        least_y=least,
        mark_left=left - 7,
        mark_right=right + 7,
    )


def vessel(left: float, right: float, top: float, bottom: float, corner: float) -> str:
    """The outline of a vessel with a flat top and a round bottom, as the path of a drawing."""
    corner = min(corner, (bottom - top) / 2, (right - left) / 2)
    return (
        f"M{left:.1f} {top:.1f}V{bottom - corner:.1f}"
        f"A{corner:.1f} {corner:.1f} 0 0 0 {left + corner:.1f} {bottom:.1f}"
        f"H{right - corner:.1f}"
        f"A{corner:.1f} {corner:.1f} 0 0 0 {right:.1f} {bottom - corner:.1f}V{top:.1f}Z"
    )


def bar(plan: DrawPlan) -> Bar | None:
    """The allowance as a bar: taken in 24 h, planned, and where the limit lies."""
    allowance = plan.allowance
    if allowance.limit_ul is None:
        return None
    taken = allowance.taken_24h_ul
    whole = max(taken + allowance.limit_ul, taken + allowance.planned_ul, 1) * 1.02
    return Bar(
        taken_percent=round(100 * taken / whole, 2),
        planned_percent=round(100 * allowance.planned_ul / whole, 2),
        limit_percent=round(100 * (taken + allowance.limit_ul) / whole, 2),
    )
