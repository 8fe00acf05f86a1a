"""
What the catalogue says of a tube for the lake: its group, its turn, what it holds and is for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from cubital.catalogue import Catalogue
from cubital.catalogue.model import OrderPlace, OrderProfile
from cubital.draw.order import ESR_TOPIC, Order
from cubital.draw.scene import Scene, scene_of
from cubital.draw.values import Place
from cubital.indicators.gather import Specimen
from cubital.indicators.values import LakeSite
from cubital.requisition.values import Patient, Requisition

EPOCH = datetime(2000, 1, 1, tzinfo=UTC)
"""Any day: only the age on it counts."""
UNSPUN = ("whole_blood", "broth")
BLOOD = "blood"
BY_PLUNGER, BY_DROPS = "plunger", "drops"


@dataclass(slots=True)
class Tubes:
    """
    The tables under one place's choices.

    Args:
        orders: by how the device draws.
        benches, chemical, anticoagulant: from the settings.
        scenes: by age, looked up once.
    """

    catalogue: Catalogue
    orders: dict[str, Order]
    benches: frozenset[str]
    chemical: frozenset[str]
    anticoagulant: frozenset[str]
    scenes: dict[int | None, Scene] = field(default_factory=dict)

    @classmethod
    def at(cls, site: LakeSite, catalogue: Catalogue) -> Tubes:
        """Look up what holds at a place."""
        return cls(
            catalogue=catalogue,
            orders={
                how: _order(site, catalogue, route, how)
                for how, route in (
                    ("vacuum", "venous"), (BY_PLUNGER, "venous"), (BY_DROPS, "capillary"),
                )
            },
            benches=_set(catalogue, "indicator_chemistry_benches"),
            chemical=_set(catalogue, "indicator_chemistry_classes"),
            anticoagulant=_set(catalogue, "indicator_anticoagulant_classes"),
        )  # fmt: skip

    def additive_of(self, container: str, said: str = "") -> str:
        """The additive of a container, as it was said when the catalogue does not hold it."""
        row = self.catalogue.containers.get(container)
        return row.additive if row is not None else said

    def order_class(self, additive: str) -> str:
        """The order class of an additive, "" when the catalogue does not hold it."""
        row = self.catalogue.additives.get(additive)
        return row.order_class if row is not None else ""

    def order_class_of(self, specimen: Specimen) -> str:
        """The order class of a tube."""
        return self.order_class(self.additive_of(specimen.container, specimen.additive))

    def anticoagulated(self, additive: str) -> bool:
        """Whether blood does not clot in it."""
        return self.order_class(additive) in self.anticoagulant

    def chemistry(self, tests: Sequence[str], additive: str, material: str) -> bool:
        """Whether it counts as clinical chemistry: by its tests, else by its additive."""
        if material != BLOOD:
            return False
        known = [self.catalogue.tests[code] for code in tests if code in self.catalogue.tests]
        if known:
            return any(test.bench in self.benches for test in known)
        return self.order_class(additive) in self.chemical

    def volume_ul(self, specimen: Specimen) -> int | None:
        """As written down; of a full tube the nominal volume; None when neither is known."""
        if specimen.volume_ul is not None:
            return specimen.volume_ul
        row = self.catalogue.containers.get(specimen.container)
        return row.nominal_ul if row is not None and specimen.fill == "full" else None

    def needed_ul(self, tests: Sequence[str], age: int | None) -> int | None:
        """
        Blood that the tests take at the haematocrit expected at an age in days.

        Dead volume is not counted, as in the plan.  None when no tests are on record, or one that
        the catalogue does not hold.
        """
        if not tests or any(code not in self.catalogue.tests for code in tests):
            return None
        scene = self.scene(age)
        total = 0
        for code in tests:
            volume = self.catalogue.volume_ul(code)
            spun = self.catalogue.tests[code].matrix not in UNSPUN
            total += scene.blood_for_ul(volume) if spun else volume
        return total

    def scene(self, age: int | None) -> Scene:
        """A patient of that age and nothing else known."""
        if age not in self.scenes:
            born = None if age is None else (EPOCH - timedelta(days=age)).date()
            nobody = Requisition("", Patient("", "", birth_date=born), (), EPOCH)
            self.scenes[age] = scene_of(nobody, self.catalogue, Place(), EPOCH)
        return self.scenes[age]

    def breach(self, specimen: Specimen, filled: Sequence[Specimen]) -> bool | None:
        """
        Whether a tube was filled after one of the same needle that comes later in the order.

        A new needle begins the order anew: nothing is carried over.

        Args:
            specimen: the tube.
            filled: the tubes of its draw with blood.

        Returns:
            None when it is not of a draw, or its turn is not known.
        """
        turn = self.turn(specimen)
        if not specimen.filled_nth or turn is None:
            return None
        before = [
            one
            for one in filled
            if one.filled_nth < specimen.filled_nth and one.attempt is specimen.attempt
        ]
        return any((other := self.turn(one)) is not None and other > turn for one in before)

    def turn(self, specimen: Specimen) -> float | None:
        """Where its order class stands, None when it has none."""
        order_class = self.order_class_of(specimen)
        if not order_class:
            return None
        device = self.catalogue.devices.get(specimen.attempt.device if specimen.attempt else "")
        return self.orders[device.draws_by if device else "vacuum"].position(order_class)


def _set(catalogue: Catalogue, key: str) -> frozenset[str]:
    return frozenset(catalogue.word(key).split(";"))


def _order(site: LakeSite, catalogue: Catalogue, route: str, draws_by: str) -> Order:
    """The place's own order of draw on its route, else the syringe's or the route's default."""
    profiles = {row.code: row for row in catalogue.rows(OrderProfile)}
    own = profiles.get(site.order_profile)
    default = next(row for row in profiles.values() if row.route == route and row.default)
    if draws_by == BY_PLUNGER:
        default = profiles.get("syringe", default)
    profile = own if own is not None and own.route == route else default
    places = {
        row.order_class: row for row in catalogue.rows(OrderPlace) if row.profile == profile.code
    }
    esr = catalogue.option(ESR_TOPIC, site.choices) if ESR_TOPIC in site.choices else None
    return Order(profile, places, esr, draws_by)
