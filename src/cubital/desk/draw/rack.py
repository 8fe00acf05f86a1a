"""
The rack drawn: where the lines of each tube lie, how long the bar of the allowance is.

Only geometry, in the units of each small drawing; the plan says how full and how much.
"""

from __future__ import annotations

from dataclasses import dataclass

from cubital.catalogue.model import Container
from cubital.draw.values import DrawPlan, PlannedContainer

PX_PER_MM = 1.25
CAP_HEIGHT = 34
DRAWING_HEIGHT = 200
DRAWING_WIDTH = 160
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
    """Where the lines of one drawn tube lie, in the units of its own small drawing."""

    cap_x: float
    cap_width: float
    body_x: float
    body_width: float
    body_y: float
    body_height: float
    blood_y: float
    blood_height: float
    least_y: float
    round_by: float
    blood_round: float
    mark_left: float
    mark_right: float


@dataclass(frozen=True, slots=True)
class Bar:
    """The allowance as a bar, in percent of its whole length."""

    taken_percent: float
    planned_percent: float
    limit_percent: float


def drawing(planned: PlannedContainer, row: Container) -> TubeDrawing:
    """Lay out one tube: as tall and wide as it is, blood from the bottom."""
    height = min(row.height_mm * PX_PER_MM, DRAWING_HEIGHT - CAP_HEIGHT - 6)
    width = max(26.0, min(row.diameter_mm * 2.6, 84.0))
    top = float(CAP_HEIGHT)
    room = height - 8
    full = min(1.0, planned.fill_ul / row.nominal_ul)
    least = min(1.0, planned.fill_min_ul / row.nominal_ul)
    mark = 0.88  # where "full" lies in the drawn tube: there is always some air above
    return TubeDrawing(
        cap_x=8,
        cap_width=DRAWING_WIDTH - 16,
        body_x=(DRAWING_WIDTH - width) / 2,
        body_width=width,
        body_y=top,
        body_height=height,
        blood_y=round(top + height - room * full * mark, 1),
        blood_height=round(room * full * mark, 1),
        least_y=round(top + height - room * least * mark, 1),
        round_by=8 if row.form == "culture_bottle" else width / 2,
        blood_round=min(8 if row.form == "culture_bottle" else width / 2, room * full * mark / 2),
        mark_left=(DRAWING_WIDTH - width) / 2 - 8,
        mark_right=(DRAWING_WIDTH + width) / 2 + 8,
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
