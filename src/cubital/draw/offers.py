"""
Which containers a place offers for an additive, and how each of them is filled.

Volumes in µL of blood.  An evacuated tube takes what its vacuum draws at the altitude.  A tube
whose blood to additive ratio matters and that its vacuum would not bring between its limits is
filled by a syringe transfer to the mark instead, and only where no other tube of that additive
fills by itself; so is a citrate tube that is opened to take citrate out at a high haematocrit.
Micro-tubes, gas syringes and culture bottles are filled by hand.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from cubital.catalogue.model import Container, FillLimit
from cubital.draw.fill import Fill, fill_bounds_ul, fill_of
from cubital.draw.scene import Scene

VACUUM = "vacuum"
TRANSFER = "transfer"
BY_HAND = "by_hand"

VENOUS_FORMS = ("evacuated", "gas_syringe")
BOTTLES = ("culture_bottle",)
MICRO = ("micro",)
FROM_SYRINGE = ("evacuated", "culture_bottle", "micro")
NO_VACUUM = {
    "micro": ("It draws nothing itself: let blood drop in from a syringe or the open tubing.",),
    "gas_syringe": ("It goes on a luer end, not into a holder: push the air out, cap it at once.",),
}
"""What a container without a vacuum asks of a draw from a vein."""


@dataclass(frozen=True, slots=True)
class Offer:
    """
    One container and how it is filled.

    Args:
        fill_min_ul, fill_max_ul: what a filled one holds (equal where vacuum or mark decides).
        accept_min_ul, accept_max_ul: between which the laboratory takes it.
        way: ``vacuum``, ``transfer`` (by syringe, to the mark or as needed) or ``by_hand``.
        limit: the row that sets the limits.
    """

    container: Container
    fill_min_ul: int
    fill_max_ul: int
    accept_min_ul: int
    accept_max_ul: int
    way: str
    limit: FillLimit


@dataclass(slots=True)
class Offers:
    """
    The offers of a place for one plan, worked out once an additive.

    Args:
        scene: where.
        small: micro-tubes are offered.
        capillary: only what a skin prick can fill is offered.
        all_by_syringe: the blood is already in a syringe: every tube is filled by transfer.
    """

    scene: Scene
    small: bool = False
    capillary: bool = False
    all_by_syringe: bool = False
    _known: dict[str, tuple[Offer, ...]] = field(default_factory=dict)
    _refused: dict[str, list[tuple[Container, Fill]]] = field(default_factory=dict)

    def of(self, additive: str) -> tuple[Offer, ...]:
        """The offers of an additive, in the order of the table."""
        known = self._known.get(additive)
        if known is None:
            known = self._known[additive] = tuple(self._find(additive))
        return known

    def refused(self, additive: str) -> tuple[tuple[Container, Fill], ...]:
        """Containers of an additive that do not fill properly by their vacuum here."""
        self.of(additive)
        return tuple(self._refused.get(additive, ()))

    def forms(self) -> tuple[str, ...]:
        """The forms of container that this draw can fill."""
        if self.capillary:
            return MICRO
        if self.all_by_syringe:
            # A gas syringe is filled straight from the vein, with no air between.
            return FROM_SYRINGE
        return VENOUS_FORMS + BOTTLES + (MICRO if self.small else ())

    def _find(self, additive: str) -> list[Offer]:
        scene, forms = self.scene, self.forms()
        if self.capillary and self._never_capillary(additive):
            return []
        limit = scene.catalogue.fill_limit(additive, scene.choices)
        good: list[Offer] = []
        for container in scene.catalogue.containers.values():
            if container.additive != additive or container.form not in forms:
                continue
            if not scene.stock.has(container.code, container.in_use):
                continue
            if container.form != "evacuated" or self.all_by_syringe:
                good.append(by_hand(container, limit))
                continue
            fill = fill_of(container, scene.place.altitude_m, scene.catalogue, scene.choices)
            if fill.verdict == "kept" and not self._opened(additive):
                good.append(_by_vacuum(container, fill, limit))
            else:
                self._refused.setdefault(additive, []).append((container, fill))
        return good or self._second_best(additive, limit)

    def _second_best(self, additive: str, limit: FillLimit) -> list[Offer]:
        """What is offered of an additive when none of its tubes fills by itself."""
        refused = self._refused.get(additive, [])
        if not limit.to_the_mark:
            # The tests decide whether so little is enough; the plan says that it is little.
            return [_by_vacuum(one, fill, limit) for one, fill in refused if fill.drawn_ul > 0]
        if not plungers(self.scene):
            return []
        most = self.scene.catalogue.number("syringe_max_ul")
        return [to_the_mark(one, limit) for one, _ in refused if one.nominal_ul <= most]

    def _never_capillary(self, additive: str) -> bool:
        never = self.scene.catalogue.word("capillary_never_classes").split(";")
        return self.scene.catalogue.additives[additive].order_class in never

    def _opened(self, additive: str) -> bool:
        """Whether tubes of it are opened to take citrate out, which lets their vacuum go."""
        order_class = self.scene.catalogue.additives[additive].order_class
        return order_class == "citrate" and self.scene.thick_blood and bool(plungers(self.scene))


def plungers(scene: Scene) -> tuple[str, ...]:
    """Devices on hand that draw into a syringe."""
    on_hand = scene.place.devices
    return tuple(
        device.code
        for device in scene.catalogue.devices.values()
        if device.draws_by == "plunger" and (on_hand is None or device.code in on_hand)
    )


def with_luer_end(scene: Scene) -> tuple[str, ...]:
    """Devices on hand whose blood comes without a vacuum: into a syringe, or out of the tubing."""
    on_hand = scene.place.devices
    return tuple(
        device.code
        for device in scene.catalogue.devices.values()
        if (device.draws_by == "plunger" or device.tubing_air_ul > 0)
        and (on_hand is None or device.code in on_hand)
    )


def _by_vacuum(container: Container, fill: Fill, limit: FillLimit) -> Offer:
    drawn, low, high = fill.drawn_ul, fill.minimum_ul, fill.maximum_ul
    return Offer(container, drawn, drawn, low, high, VACUUM, limit)


def to_the_mark(container: Container, limit: FillLimit) -> Offer:
    """A tube brought to its mark by syringe."""
    low, high = fill_bounds_ul(container, limit)
    mark = container.nominal_ul
    return Offer(container, mark, mark, low, max(high, mark), TRANSFER, limit)


def by_hand(container: Container, limit: FillLimit) -> Offer:
    """A container that takes what is put into it, between its minimum fill and its mark."""
    low, high = fill_bounds_ul(container, limit)
    mark = container.nominal_ul
    least = mark if limit.to_the_mark else min(low, mark)
    way = TRANSFER if container.form == "evacuated" else BY_HAND
    return Offer(container, least, mark, low, max(high, mark), way, limit)
