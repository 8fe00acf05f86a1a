"""
What the draw room takes besides a requisition, and the plan it gives.

Volumes are whole µL of blood unless the name says otherwise.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from cubital.finding import Finding, Reason


@dataclass(frozen=True, slots=True)
class Lot:
    """Containers of one lot on hand."""

    container: str
    number: str
    expires_on: date
    count: int
    recalled: bool = False


@dataclass(frozen=True, slots=True)
class Place:
    """
    Where and with what the draw happens.

    Args:
        altitude_m: of the place of the draw above sea level.
        lots: on hand; None means "no stock list kept": every container ``in_use`` without limit.
        order_profile: code, or "" for the route's default.
        choices: topic -> option, over the catalogue's defaults.
        devices: device codes on hand; None for all.
        route: ``venous``, ``capillary`` or "" (the plan proposes).
    """

    altitude_m: int = 0
    lots: tuple[Lot, ...] | None = None
    order_profile: str = ""
    choices: Mapping[str, str] = field(default_factory=dict)
    devices: tuple[str, ...] | None = None
    route: str = ""


@dataclass(frozen=True, slots=True)
class PlannedTest:
    """A test in a container: what it takes, and how much the requester's order counts."""

    code: str
    volume_ul: int  # of blood, yield counted
    reason: Reason


@dataclass(frozen=True, slots=True)
class PlannedContainer:
    """
    One container of the plan, at its place in the order of draw.

    Args:
        position: 1 is drawn first.
        container, additive, colour: catalogue codes.
        purpose: ``specimen``, ``discard``, ``culture_aerobic``, ``culture_anaerobic``,
            ``culture_paediatric``.
        tests: what it serves.
        fill_ul: what it is expected to draw, or must be filled to.
        fill_min_ul, fill_max_ul: between which it is accepted.
        inversions: (low, high) gentle full turns.
        handling: need codes with minutes, e.g. (("ice_slurry", 0), ("to_lab_within_min", 15)).
        lot: proposed lot number (first to expire), "" when no stock list is kept.
        cautions: short sentences for this container (citrate volume, syringe transfer …).
        reasons: why this container, why here, why so full.
    """

    position: int
    container: str
    additive: str
    colour: str
    purpose: str
    tests: tuple[PlannedTest, ...]
    fill_ul: int
    fill_min_ul: int
    fill_max_ul: int
    inversions: tuple[int, int]
    handling: tuple[tuple[str, int], ...] = ()
    label_wanted: bool = True
    lot: str = ""
    cautions: tuple[str, ...] = ()
    reasons: tuple[Reason, ...] = ()


@dataclass(frozen=True, slots=True)
class PlannedSite:
    """A site in order of preference, or one that is shut with its reason."""

    site: str
    side: str  # left, right, ""
    verdict: str  # allowed, by_order, excluded, never
    caution: str
    reason: Reason


@dataclass(frozen=True, slots=True)
class PlannedDevice:
    """Device and gauge; ``draw_time_s`` is the estimate for the whole rack."""

    device: str
    gauge: int
    hub_colour: str
    draw_time_s: float
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class BloodAllowance:
    """What may be taken, what has been taken, what the plan takes."""

    total_blood_volume_ul: int | None
    limit_ul: int | None  # what is left for this draw under the hardest limit, None: no limit known
    taken_24h_ul: int
    taken_8wk_ul: int
    planned_ul: int
    needed_ul: int  # what the analysers need of it, in blood
    reasons: tuple[Reason, ...]
    tubing_ul: int = 0  # what stays in the tubing of a winged set, counted in planned_ul


@dataclass(frozen=True, slots=True)
class NotDrawn:
    """A test that the plan cannot serve, and why: never a silent drop."""

    test: str
    reason: Reason


@dataclass(frozen=True, slots=True)
class DrawPlan:
    """Everything the collector needs; every line carries its reason and source."""

    requisition: str
    planned_at: datetime
    edition: str
    layers: tuple[str, ...]
    aim: str  # fewest_tubes or least_blood
    order_profile: str
    route: str
    choices: tuple[tuple[str, str], ...]  # topic, option: those that mattered to this plan
    device: PlannedDevice
    sites: tuple[PlannedSite, ...]
    containers: tuple[PlannedContainer, ...]
    allowance: BloodAllowance
    not_drawn: tuple[NotDrawn, ...]
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]  # the standing caution, always there
    technique: tuple[Reason, ...] = ()  # rest, tourniquet, skin, angle
