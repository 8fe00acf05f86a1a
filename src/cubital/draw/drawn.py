"""
The specimens that a plan leaves in the laboratory, once it was drawn as planned.

Volumes in µL of blood, times timezone-aware.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from cubital.draw.needs import AMBIENT, ICE, WARM
from cubital.draw.onhand import OnHand
from cubital.draw.values import DrawPlan, PlannedContainer

SPECIMENS = frozenset({"specimen"})
"""Purposes whose containers hold blood that one more test could use."""


def drawn_specimens(
    plan: DrawPlan, collected_at: datetime, accessions: Mapping[int, str] | None = None
) -> tuple[OnHand, ...]:
    """
    Give the specimens of a plan that was drawn and carried as planned, not separated yet.

    What is left in each is its fill without what its tests take; the sampler's dead volume is
    still in it.

    Args:
        plan: as planned.
        collected_at: when the blood was drawn.
        accessions: position -> accession number; a container without one is called by its place.
    """
    numbers = accessions or {}
    return tuple(
        OnHand(
            accession=numbers.get(each.position, f"tube {each.position}"),
            container=each.container,
            collected_at=collected_at,
            volume_left_ul=left_ul(each),
            cooling=cooling(each),
            tests=tuple(test.code for test in each.tests),
        )
        for each in plan.containers
        if each.purpose in SPECIMENS
    )


def left_ul(container: PlannedContainer) -> int:
    """Blood that the planned tests leave, 0 or more."""
    return max(0, container.fill_ul - sum(test.volume_ul for test in container.tests))


def cooling(container: PlannedContainer) -> str:
    """How a container travels when its handling is kept: ``ice``, ``warm`` or ``ambient``."""
    needs = {need for need, _ in container.handling}
    if "ice_slurry" in needs:
        return ICE
    return WARM if "warm_37c" in needs else AMBIENT
