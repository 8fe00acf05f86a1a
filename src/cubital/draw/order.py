"""
The order of draw: by profile, with a discard tube where the tubing's air would spoil the first.

Positions come from order_of_draw.csv.  Where the laboratory has chosen an option of topic
``esr-place``, it holds over the profile; otherwise the profile's own place of the ESR tube does.
Volumes in µL.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from cubital.catalogue.model import Device, Option, OrderPlace, OrderProfile
from cubital.draw.offers import VACUUM, Offer, Offers
from cubital.draw.pour import AEROBIC, ANAEROBIC, CULTURES, DISCARD, Pour, counted
from cubital.draw.scene import Scene
from cubital.errors import InputError
from cubital.finding import Finding, Reason, Severity

ESR_TOPIC = "esr-place"
ESR_CLASS, CITRATE_CLASS = "citrate_esr", "citrate"
SYRINGE_PROFILE = "syringe"


@dataclass(frozen=True, slots=True)
class Order:
    """
    A profile as it holds here.

    Args:
        places: by order class.
        esr: the laboratory's choice for the ESR tube, None where the profile's place holds.
        draws_by: ``vacuum``, ``plunger`` or ``drops``.
    """

    profile: OrderProfile
    places: Mapping[str, OrderPlace]
    esr: Option | None
    draws_by: str

    def position(self, order_class: str) -> float:
        """Where a class stands; a class that the profile does not name comes last."""
        if order_class == ESR_CLASS and self.esr is not None:
            if self.esr.option == "last":
                return float("inf")
            if CITRATE_CLASS in self.places:
                return self.places[CITRATE_CLASS].position + 0.5
        place = self.places.get(order_class)
        last = 1 + max((p.position for p in self.places.values()), default=0)
        return float(last if place is None else place.position)


def order_of(scene: Scene, route: str, draws_by: str) -> Order:
    """
    The profile asked for at the place, else the syringe's or the route's default.

    Raises:
        InputError: a profile that the catalogue does not hold.
    """
    catalogue = scene.catalogue
    profiles = {row.code: row for row in catalogue.rows(OrderProfile)}
    asked = scene.place.order_profile
    if asked and asked not in profiles:
        raise InputError(
            f"no order of draw is called {asked}",
            "order_profile",
            f"Write one of {', '.join(sorted(profiles))}.",
        )
    default = next((p for p in profiles.values() if p.route == route and p.default), None)
    if draws_by == "plunger":
        default = profiles.get(SYRINGE_PROFILE, default)
    profile = profiles[asked] if asked and profiles[asked].route == route else default
    if profile is None:
        raise InputError(
            f"no order of draw is the default of the {route} route",
            "order_profiles.csv",
            "Give one row of the route a default of yes.",
        )
    places = {
        row.order_class: row for row in catalogue.rows(OrderPlace) if row.profile == profile.code
    }
    esr = catalogue.option(ESR_TOPIC, scene.choices) if ESR_TOPIC in scene.choices else None
    return Order(profile, places, esr, draws_by)


def in_order(pours: Sequence[Pour], order: Order, scene: Scene) -> tuple[Pour, ...]:
    """The containers in the order of draw; equals in the order of the additives' table."""
    additives = {code: n for n, code in enumerate(scene.catalogue.additives)}
    containers = {code: n for n, code in enumerate(scene.catalogue.containers)}
    ahead = _first_bottle(order, scene)

    def key(pour: Pour) -> tuple[float, int, bool, int, int, int, int]:
        container = pour.offer.container
        culture = pour.purpose in CULTURES
        return (
            order.position(scene.catalogue.additives[container.additive].order_class),
            pour.nth if culture else 0,
            culture and pour.purpose != ahead,
            additives[container.additive],
            containers[container.code],
            pour.nth,
            min((c.asked.index for c in pour.contents), default=-1),
        )

    return tuple(sorted(pours, key=key))


def _first_bottle(order: Order, scene: Scene) -> str:
    key = "culture_first_syringe" if order.draws_by == "plunger" else "culture_first_vacuum"
    return ANAEROBIC if scene.catalogue.word(key) == "anaerobic" else AEROBIC


def place_reason(pour: Pour, order: Order, scene: Scene) -> Reason:
    """Why a container stands where it stands."""
    catalogue = scene.catalogue
    order_class = catalogue.additives[pour.offer.container.additive].order_class
    if order_class == ESR_CLASS and order.esr is not None:
        return catalogue.reason(order.esr, order.esr.meaning)
    place = order.places.get(order_class)
    if place is None:
        sentence = f"The order of draw {order.profile.name} does not name it: it comes last."
        return catalogue.reason(order.profile, sentence)
    sentence = f"Order of draw {order.profile.name}: place {place.position}."
    return catalogue.reason(place, sentence)


# ---------------------------------------------------------------- the tubing's air


@dataclass(frozen=True, slots=True)
class FirstTube:
    """
    What the air of the tubing does to the first container.

    Args:
        pours: in order, a discard tube put before them or the first one's fill made smaller.
        finding: when a discard tube is wanted and none is on hand.
    """

    pours: tuple[Pour, ...]
    finding: Finding | None = None


def with_first_tube(pours: tuple[Pour, ...], device: Device | None, offers: Offers) -> FirstTube:
    """
    Let the air of a winged set's tubing go into a discard tube, or count it in the first tube.

    A discard tube comes before a tube whose blood to additive ratio matters, and before one that
    the air would leave too short for its tests or under its minimum fill.
    """
    if not pours or not lets_air_in(pours[0], device):
        return FirstTube(pours)
    assert device is not None
    first, air = pours[0], device.tubing_air_ul
    rest = first.fill_ul - air
    ratio = first.offer.limit.to_the_mark
    if not ratio and rest >= max(first.needed_ul, first.offer.accept_min_ul):
        caution = f"Takes about {air / 1000:g} mL less than later tubes: the tubing's air is first."
        short = replace(first, fill_ul=rest, cautions=(*first.cautions, caution))
        return FirstTube((short, *pours[1:]))
    discard = _discard(pours, air, offers)
    if discard is not None:
        return FirstTube((discard, *pours))
    setting = offers.scene.catalogue.setting("discard_ul")
    sentence = (
        f"No discard tube is on hand, and {air / 1000:g} mL of air from the tubing would go into "
        f"{first.offer.container.name}: use a straight needle or fetch a tube."
    )
    code = first.offer.container.code
    finding = Finding(
        "discard-missing", Severity.ASK, sentence, setting.source, code, setting.layer
    )
    return FirstTube(pours, finding)


def lets_air_in(first: Pour, device: Device | None) -> bool:
    """Whether the tubing's air goes into this container when it comes first."""
    if device is None or device.draws_by != "vacuum" or device.tubing_air_ul == 0:
        return False
    return first.offer.way == VACUUM


def _discard(pours: Sequence[Pour], air_ul: int, offers: Offers) -> Pour | None:
    scene = offers.scene
    setting = scene.catalogue.setting("discard_ul")
    first = pours[0].offer.container
    wide = [o for o in _discard_offers(first.additive, offers) if o.fill_max_ul > air_ul]
    found = _smallest(wide, counted(pours), scene)
    if found is None:
        return None
    fill = min(max(int(setting.value), air_ul), found.fill_max_ul)
    sentence = (
        f"Discard tube: takes the {air_ul / 1000:g} mL of air in the tubing, so that "
        f"{first.name} fills; it need not be full."
    )
    return Pour(
        offer=replace(found, accept_min_ul=0, accept_max_ul=found.fill_max_ul),
        purpose=DISCARD,
        contents=(),
        fill_ul=fill,
        cautions=("Throw it away: no label, no test.",),
        reasons=(scene.catalogue.reason(setting, sentence),),
    )


def _discard_offers(additive: str, offers: Offers) -> list[Offer]:
    plain = [a.code for a in offers.scene.catalogue.additives.values() if a.order_class == "plain"]
    return [
        offer
        for code in dict.fromkeys((*plain, additive))
        for offer in offers.of(code)
        if offer.way == VACUUM
    ]


def _smallest(found: Sequence[Offer], taken: Counter[str], scene: Scene) -> Offer | None:
    left = scene.stock.without(taken)
    on_hand = [o for o in found if left is None or left.get(o.container.code, 0) > 0]
    return min(on_hand, key=lambda o: (o.container.nominal_ul, o.container.rank), default=None)
