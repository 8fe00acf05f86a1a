"""
From the tests to the rack's containers in order: offers, levels of thrift, device, first tube.

The levels, each tried only when the one before cannot serve every test: the containers and the aim
of the patient's age; small containers and the least blood; what fits by the requester's priority.
Volumes in µL of blood.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cubital.catalogue.model import Device
from cubital.draw.choose import Aim
from cubital.draw.device import DeviceChoice, choose_device
from cubital.draw.needs import Asked
from cubital.draw.offers import NO_VACUUM, TRANSFER, Offers, plungers, with_luer_end
from cubital.draw.order import FirstTube, Order, in_order, order_of, with_first_tube
from cubital.draw.pour import Pour
from cubital.draw.scene import Scene
from cubital.draw.solve import Outcome, Problem, problem_of, serve_all, serve_what_fits

USUAL, THRIFTY, WHAT_FITS = "usual", "thrifty", "what_fits"


@dataclass(frozen=True, slots=True)
class Chosen:
    """
    What the solver chose.

    Args:
        level: ``usual``, ``thrifty`` (small containers, least blood) or ``what_fits``.
        problem: as it was asked at that level.
        offers: of that level.
        usual: the problem as it is asked at the first level.
    """

    outcome: Outcome
    problem: Problem
    offers: Offers
    level: str
    usual: Problem


@dataclass(frozen=True, slots=True)
class Arranged:
    """The containers in the order of draw, with the device that fills them."""

    pours: tuple[Pour, ...]
    order: Order
    device: DeviceChoice
    first: FirstTube
    tubing_ul: int

    @property
    def blood_ul(self) -> int:
        """All the blood that leaves the patient."""
        return sum(pour.fill_ul for pour in self.pours) + self.tubing_ul


@dataclass(frozen=True, slots=True)
class Decision:
    """What is drawn and how."""

    chosen: Chosen
    arranged: Arranged

    @property
    def reserve_ul(self) -> int:
        """Blood of the discard tube and the tubing."""
        return self.arranged.blood_ul - self.chosen.outcome.blood_ul


def decide(asked: Sequence[Asked], scene: Scene, route: str, limit_ul: int | None) -> Decision:
    """
    The containers in order, within the limit, discard tube and tubing counted.

    What the device adds is known only when the containers are.  So the tubing of the device that
    the patient's veins ask for is kept free first, and the containers are chosen again, with what
    was really added kept free, until both fit.
    """
    levels = Levels(asked, scene, capillary=route == "capillary")
    if limit_ul is None:
        return _decision(levels, scene, route, None)
    guess = _tubing_of_veins(scene, route)
    decision = _decision(levels, scene, route, limit_ul - guess)
    if decision.reserve_ul >= guess and decision.arranged.blood_ul <= limit_ul:
        return decision
    # Where less than the guess was added, too much was kept free: start again from nothing.
    reserve = decision.reserve_ul if decision.reserve_ul > guess else 0
    while True:
        decision = _decision(levels, scene, route, limit_ul - reserve)
        if decision.arranged.blood_ul <= limit_ul or not decision.chosen.outcome.pours:
            return decision
        # More than was kept free, or the blood would fit: so this grows each time round.
        reserve = decision.reserve_ul


def _decision(levels: Levels, scene: Scene, route: str, limit_ul: int | None) -> Decision:
    chosen = levels.choose(limit_ul)
    return Decision(chosen, arrange(chosen, scene, route))


def _tubing_of_veins(scene: Scene, route: str) -> int:
    """What stays in the tubing of the device for these veins, whatever is drawn."""
    device = _device((), scene, route, 0, 0).device.device
    row = scene.catalogue.devices.get(device)
    return 0 if row is None else row.tubing_air_ul


class Levels:
    """The levels of thrift for some tests at a place, each laid out when it is needed."""

    def __init__(self, asked: Sequence[Asked], scene: Scene, *, capillary: bool) -> None:
        self.asked = asked
        self.aim = Aim(scene.aim.aim)
        usual = Offers(scene, small=scene.aim.small_containers or capillary, capillary=capillary)
        self._usual = (usual, problem_of(asked, usual))
        self._small = self._usual if usual.small else None

    def small(self) -> tuple[Offers, Problem]:
        """With small containers offered."""
        if self._small is None:
            offers = Offers(self._usual[0].scene, small=True)
            self._small = (offers, problem_of(self.asked, offers))
        return self._small

    def first(self) -> tuple[Offers, Problem]:
        """The usual containers, or with small ones where a test has no other home."""
        offers, problem = self._usual
        if problem.homeless and len(self.small()[1].homeless) < len(problem.homeless):
            return self.small()
        return offers, problem

    def choose(self, limit_ul: int | None) -> Chosen:
        """The first level that serves every test, else what fits."""
        offers, problem = self.first()
        usual = problem
        outcome = serve_all(problem, self.aim, limit_ul)
        if outcome is not None:
            return Chosen(outcome, problem, offers, USUAL, usual)
        if problem is not self.small()[1]:
            offers, problem = self.small()
            outcome = serve_all(problem, Aim.LEAST_BLOOD, limit_ul)
            if outcome is not None:
                return Chosen(outcome, problem, offers, THRIFTY, usual)
        outcome = serve_what_fits(problem, Aim.LEAST_BLOOD, limit_ul)
        return Chosen(outcome, problem, offers, WHAT_FITS, usual)


def arrange(chosen: Chosen, scene: Scene, route: str) -> Arranged:
    """Choose the device, put the containers in order, see to the first one."""
    pours, offers = chosen.outcome.pours, chosen.offers
    count, blood = len(pours), chosen.outcome.blood_ul
    for _ in range(2):  # once more when a discard tube has joined them
        choice = _device(pours, scene, route, count, blood)
        device = scene.catalogue.devices.get(choice.device.device)
        order = order_of(scene, route, device.draws_by if device else "vacuum")
        first = with_first_tube(in_order(pours, order, scene), device, offers)
        if len(first.pours) == count:
            break
        count, blood = len(first.pours), sum(pour.fill_ul for pour in first.pours)
    return Arranged(first.pours, order, choice, first, _tubing_ul(first.pours, device))


def _tubing_ul(pours: Sequence[Pour], device: Device | None) -> int:
    return device.tubing_air_ul if device is not None and pours else 0


def _device(
    pours: Sequence[Pour], scene: Scene, route: str, count: int, blood_ul: int
) -> DeviceChoice:
    on_hand = scene.place.devices
    open_ones = [p.offer.container for p in pours if p.offer.container.form in NO_VACUUM]
    if any(pour.offer.way == TRANSFER for pour in pours):
        on_hand = plungers(scene)
    elif route == "venous" and open_ones:
        on_hand = with_luer_end(scene)  # a holder gives no blood without a vacuum
    return choose_device(
        scene.patient,
        scene.catalogue,
        scene.choices,
        route=route,
        age=scene.age_days,
        volume_ul=blood_ul,
        containers=count,
        order_classes=order_classes(pours, scene),
        devices=on_hand,
        open_one=open_ones[0] if route == "venous" and open_ones else None,
    )


def order_classes(pours: Sequence[Pour], scene: Scene) -> set[str]:
    """The order classes of what is drawn."""
    additives = scene.catalogue.additives
    return {additives[pour.offer.container.additive].order_class for pour in pours}
