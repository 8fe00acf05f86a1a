"""
The rack: containers in the order of draw, each with its fill, mixing, handling, lot and reasons.

Volumes in µL of blood.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from cubital.catalogue.model import Handling
from cubital.catalogue.vocabulary import HANDLING_NEEDS
from cubital.draw.fill import fill_of
from cubital.draw.offers import NO_VACUUM, TRANSFER, VACUUM, Offers
from cubital.draw.order import Order, place_reason
from cubital.draw.physics import citrate_advice
from cubital.draw.pour import DISCARD, Pour
from cubital.draw.scene import Scene
from cubital.draw.stock import propose_lots
from cubital.draw.values import PlannedContainer, PlannedTest
from cubital.finding import Finding, Reason, Severity

OPENED = (
    "Open it, let the blood run down its wall, close and mix, by the laboratory's own procedure."
)
"""A transfer device fills by the tube's vacuum alone; one that has too little must be opened."""


@dataclass(frozen=True, slots=True)
class Rack:
    """The containers as planned, and what was found while filling them."""

    containers: tuple[PlannedContainer, ...]
    findings: tuple[Finding, ...]


def rack_of(pours: Sequence[Pour], order: Order, offers: Offers) -> Rack:
    """The rack of some containers that stand in the order of draw already."""
    scene = offers.scene
    lots = propose_lots((pour.offer.container.code for pour in pours), scene.stock)
    planned, findings = [], []
    for position, (pour, lot) in enumerate(zip(pours, lots, strict=True), start=1):
        container, found = _planned(position, pour, lot, order, offers)
        planned.append(container)
        findings += found
    return Rack(tuple(planned), tuple(findings) + _unknown_haematocrit(pours, scene))


def _planned(
    position: int, pour: Pour, lot: str, order: Order, offers: Offers
) -> tuple[PlannedContainer, list[Finding]]:
    scene = offers.scene
    catalogue, container = scene.catalogue, pour.offer.container
    additive = catalogue.additives[container.additive]
    mixing = catalogue.mixing(additive.code, scene.choices)
    turns = (0, 0) if pour.purpose == DISCARD else (mixing.inversions_low, mixing.inversions_high)
    cautions, reasons, findings = _fill_words(pour, offers)
    if not offers.capillary and not offers.all_by_syringe:
        cautions += NO_VACUUM.get(container.form, ())
    citrate = _citrate(pour, scene)
    if citrate is not None:
        caution, reason, finding = citrate
        cautions.append(caution)
        reasons.append(reason)
        findings.append(finding)
    reasons += _sharing_words(pour, scene)
    reasons.append(place_reason(pour, order, scene))
    if pour.purpose != DISCARD:
        low, high = turns
        turns_said = f"{low}" if low == high else f"{low} to {high}"
        sentence = f"Mix by {turns_said} full turns." if high else "No mixing is needed."
        reasons.append(catalogue.reason(mixing, sentence))
    planned = PlannedContainer(
        position=position,
        container=container.code,
        additive=additive.code,
        colour=additive.colour,
        purpose=pour.purpose,
        tests=tuple(
            PlannedTest(content.asked.test.code, content.volume_ul, content.asked.reason)
            for content in pour.contents
        ),
        fill_ul=pour.fill_ul,
        fill_min_ul=min(pour.offer.accept_min_ul, pour.fill_ul),
        fill_max_ul=max(pour.offer.accept_max_ul, pour.fill_ul),
        inversions=turns,
        handling=merged_handling(
            row for content in pour.contents for row in content.asked.handling
        ),
        label_wanted=pour.purpose != DISCARD,
        lot=lot,
        cautions=(*pour.cautions, *cautions),
        reasons=(*pour.reasons, *reasons),
    )
    return planned, findings


def merged_handling(rows: Iterable[Handling]) -> tuple[tuple[str, int], ...]:
    """The demands of several tests on one container: each need once, the shortest time holds."""
    shortest: dict[str, int] = {}
    for row in rows:
        shortest[row.need] = min(row.value, shortest.get(row.need, row.value))
    return tuple((need, shortest[need]) for need in HANDLING_NEEDS if need in shortest)


# ---------------------------------------------------------------- how full


def _fill_words(pour: Pour, offers: Offers) -> tuple[list[str], list[Reason], list[Finding]]:
    """Cautions, reasons and findings about the fill of a container."""
    if pour.purpose == DISCARD:
        return [], [], []
    scene, offer = offers.scene, pour.offer
    limit = offer.limit
    low, high = offer.accept_min_ul / 1000, offer.accept_max_ul / 1000
    altitude = scene.place.altitude_m
    if offer.way == VACUUM:
        sentence = (
            f"Its vacuum draws {offer.fill_max_ul / 1000:.2f} mL at {altitude} m; accepted from "
            f"{low:.2f} to {high:.2f} mL."
        )
        reason = scene.catalogue.reason(limit, sentence)
        return [], [reason, *_refused_words(pour, offers)], _out_of_bounds(pour, scene, reason)
    fill = f"{pour.fill_ul / 1000:.2f} mL"
    if offer.way != TRANSFER:
        mark = "to the mark" if offer.fill_min_ul == offer.fill_max_ul else "by hand"
        sentence = f"Filled {mark}, {fill}; accepted from {low:.2f} to {high:.2f} mL."
        return [], [scene.catalogue.reason(limit, sentence)], []
    return _transfer_words(pour, offers, fill)


def _transfer_words(
    pour: Pour, offers: Offers, fill: str
) -> tuple[list[str], list[Reason], list[Finding]]:
    scene, offer = offers.scene, pour.offer
    caution = f"Fill by syringe and transfer device to {fill}, by the laboratory's own procedure."
    if offers.all_by_syringe:
        why = "to the mark" if offer.limit.to_the_mark else "at least to its minimum"
        reason = scene.catalogue.reason(offer.limit, f"Filled from the syringe {why}, {fill}.")
        return [caution], [reason], []
    drawn = fill_of(offer.container, scene.place.altitude_m, scene.catalogue, scene.choices)
    opened = f"Fill it to {fill}: its vacuum does not reach that. {OPENED}"
    if drawn.verdict == "kept":
        opened = f"Fill it to {fill}. {OPENED}"
        sentence = f"Opened to take citrate out, it has no vacuum: filled by syringe, {fill}."
        return [opened], [scene.catalogue.reason(offer.limit, sentence)], []
    sentence = (
        f"{offer.container.name}: its vacuum draws {drawn.drawn_ul / 1000:.2f} mL at "
        f"{scene.place.altitude_m} m, outside {drawn.minimum_ul / 1000:.2f} to "
        f"{drawn.maximum_ul / 1000:.2f} mL: draw by syringe and fill it to {fill}."
    )
    reason = scene.catalogue.reason(offer.limit, sentence)
    code = f"fill-{drawn.verdict}"
    finding = Finding(
        code, Severity.ASK, sentence, reason.source, offer.container.code, reason.layer
    )
    return [opened], [reason], [finding]


def _refused_words(pour: Pour, offers: Offers) -> list[Reason]:
    """Which better-liked tube of the additive was passed over because it does not fill here."""
    chosen = pour.offer.container
    return [
        Reason(
            f"{container.name} was passed over: it draws {fill.drawn_ul / 1000:.2f} mL here, "
            f"outside its limits.",
            fill.reason.source,
            fill.reason.layer,
        )
        for container, fill in offers.refused(chosen.additive)
        if fill.verdict != "kept" and container.rank < chosen.rank
    ]


def _out_of_bounds(pour: Pour, scene: Scene, reason: Reason) -> list[Finding]:
    offer = pour.offer
    drawn = offer.fill_max_ul
    if offer.accept_min_ul <= drawn <= offer.accept_max_ul:
        return []
    verdict = "under" if drawn < offer.accept_min_ul else "over"
    sentence = (
        f"{offer.container.name} draws {drawn / 1000:.2f} mL at {scene.place.altitude_m} m, "
        f"{verdict} its limits: the tests in it have enough, tell the laboratory."
    )
    code = offer.container.code
    return [Finding(f"fill-{verdict}", Severity.NOTE, sentence, reason.source, code, reason.layer)]


# ---------------------------------------------------------------- what is in it


def _sharing_words(pour: Pour, scene: Scene) -> list[Reason]:
    """Why these tests stand together, why in this additive, and what the station leaves."""
    if not pour.contents:
        return []
    catalogue = scene.catalogue
    first = pour.contents[0].asked
    container = pour.offer.container
    reasons = []
    accepted = [
        row
        for content in pour.contents
        for row in content.asked.accepted
        if row.additive == container.additive
    ]
    if accepted:
        liked = sum(1 for row in accepted if row.rank == 0)
        name = catalogue.additives[container.additive].name
        count = len(pour.contents)
        sentence = f"Accepted by all {count}, preferred by {liked}: {name}."
        if count == 1:
            sentence = f"{'Preferred' if liked else 'Accepted'} by the test: {name}."
        reasons.append(catalogue.reason(accepted[0], sentence))
    if len(pour.contents) > 1:
        sentence = (
            f"One station, {first.station.name}: up to {first.station.max_tests_per_tube} tests "
            f"share a tube."
        )
        reasons.append(catalogue.reason(first.station, sentence))
    if pour.dead_ul:
        row = catalogue.dead_volume(first.station.code, container.form)
        blood = "" if pour.dead_ul == row.dead_ul else f", {pour.dead_ul} µL as blood"
        sentence = f"The station's sampler leaves {row.dead_ul} µL in it{blood}."
        reasons.append(catalogue.reason(row, sentence))
    return reasons


def _citrate(pour: Pour, scene: Scene) -> tuple[str, Reason, Finding] | None:
    """What to take out of a citrate tube when the patient's own haematocrit is high."""
    if not scene.thick_blood or pour.purpose == DISCARD:
        return None
    advice = citrate_advice(
        pour.offer.container,
        scene.haematocrit_percent,
        scene.catalogue,
        scene.choices,
        blood_ul=pour.fill_ul,
    )
    if advice is None:
        return None
    caution = (
        f"Take {advice.remove_ul / 1000:.3f} mL of citrate out before the draw (haematocrit "
        f"{scene.haematocrit_percent:g} %)."
    )
    return caution, advice.reason, advice.finding


def _unknown_haematocrit(pours: Sequence[Pour], scene: Scene) -> tuple[Finding, ...]:
    """A note when citrate is drawn and the haematocrit, not known, may well be over the limit."""
    limit = scene.catalogue.setting("citrate_haematocrit_percent")
    if scene.haematocrit_known or scene.haematocrit_percent <= float(limit.value):
        return ()
    additives = scene.catalogue.additives
    for pour in pours:
        if additives[pour.offer.container.additive].order_class != "citrate" or not pour.contents:
            continue
        sentence = (
            f"The haematocrit is not known and may be over {limit.value} % at this age: ask for a "
            "recent one, since the citrate must then be reduced."
        )
        return (
            Finding(
                "citrate-haematocrit-unknown",
                Severity.NOTE,
                sentence,
                limit.source,
                pour.offer.container.code,
                limit.layer,
            ),
        )
    return ()
