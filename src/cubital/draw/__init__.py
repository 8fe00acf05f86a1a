"""
From a requisition to a draw plan, exactly, each line with its reason.

:func:`plan_draw` plans a draw, :func:`what_fits` says what a short sample still gives, and
:func:`add_on` which new tests need no new needle stick; ``*_to`` give their JSON shapes.
"""

from cubital.draw.addon import AddedTest, AddOn, add_on
from cubital.draw.onhand import OnHand
from cubital.draw.plan import plan_draw
from cubital.draw.shape import add_on_to, plan_to, short_to
from cubital.draw.shape_back import plan_from
from cubital.draw.short import ShortSample, what_fits
from cubital.draw.texts import STANDING_CAUTIONS
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
    "AddOn",
    "AddedTest",
    "BloodAllowance",
    "DrawPlan",
    "Lot",
    "NotDrawn",
    "OnHand",
    "Place",
    "PlannedContainer",
    "PlannedDevice",
    "PlannedSite",
    "PlannedTest",
    "ShortSample",
    "add_on",
    "add_on_to",
    "plan_draw",
    "plan_from",
    "plan_to",
    "short_to",
    "what_fits",
]
