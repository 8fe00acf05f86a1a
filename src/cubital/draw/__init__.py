"""
From a requisition to a draw plan, exactly, each line with its reason.
"""

from cubital.draw.plan import STANDING_CAUTIONS, plan_draw
from cubital.draw.values import (
    BloodAllowance,
    DrawPlan,
    Lot,
    NotDrawn,
    Place,
    PlannedContainer,
    PlannedDevice,
    PlannedSite,
    PlannedTest,
)

__all__ = [
    "STANDING_CAUTIONS",
    "BloodAllowance",
    "DrawPlan",
    "Lot",
    "NotDrawn",
    "Place",
    "PlannedContainer",
    "PlannedDevice",
    "PlannedSite",
    "PlannedTest",
    "plan_draw",
]
