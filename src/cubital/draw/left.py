"""
Tests that a plan does not draw, each with its reason: never a silent drop.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cubital.draw.choose import Aim
from cubital.draw.decide import USUAL, WHAT_FITS, Chosen, Decision
from cubital.draw.needs import Asked
from cubital.draw.offers import Offers
from cubital.draw.prick import prick_finding
from cubital.draw.scene import Scene
from cubital.draw.solve import serve_all, serve_what_fits
from cubital.draw.values import NotDrawn
from cubital.finding import Finding, Reason, Severity


@dataclass(frozen=True, slots=True)
class Ceiling:
    """
    The most that may be drawn.

    Args:
        limit_ul: what is left, None when no limit is known.
        reason: of the tightest limit; None when no limit is known.
        stop_ul: what the limits leave that nobody may pass; None when there is none.
        what: what gives no more, e.g. "the blood limit".
    """

    limit_ul: int | None
    reason: Reason | None
    stop_ul: int | None
    what: str = "the blood limit"

    @property
    def may_be_confirmed(self) -> bool:
        """Whether a person may let more be drawn."""
        if self.limit_ul is None:
            return False
        return self.stop_ul is None or self.stop_ul > self.limit_ul


def not_drawn(chosen: Chosen, ceiling: Ceiling, route: str) -> tuple[NotDrawn, ...]:
    """Every test of the requisition that is in no container, in the requisition's order."""
    found = [(one, _homeless_reason(one, chosen.offers, route)) for one in chosen.problem.homeless]
    if chosen.outcome.left_out:
        by_stock = _short_of_stock(chosen, ceiling)
        for one in chosen.outcome.left_out:
            if one.index in by_stock or ceiling.reason is None:
                found.append((one, _stock_reason(one, chosen.offers.scene)))
            else:
                found.append((one, _limit_reason(one, chosen, ceiling)))
    found.sort(key=lambda pair: pair[0].index)
    return tuple(NotDrawn(one.test.code, reason) for one, reason in found)


def not_drawn_findings(
    missing: Sequence[NotDrawn], decision: Decision, ceiling: Ceiling
) -> tuple[Finding, ...]:
    """
    An ask for each test that is not drawn, and what would let them all in.

    Where nothing at all is drawn, a stop says so: a needle would be put in for nothing.
    """
    found = [
        Finding(
            "test-not-drawn",
            Severity.ASK,
            f"{one.reason.sentence} Tell the requester.",
            one.reason.source,
            one.test,
            one.reason.layer,
        )
        for one in missing
    ]
    found += _nothing(missing, decision, ceiling)
    left_out = decision.chosen.outcome.left_out
    if left_out and ceiling.may_be_confirmed and _fits_confirmed(decision, ceiling):
        assert ceiling.reason is not None
        sentence = (
            "Every test would fit if the order for more blood is confirmed: ask who may confirm "
            "it, then plan again."
        )
        found.append(
            Finding(
                "blood-limit-confirm",
                Severity.ASK,
                sentence,
                ceiling.reason.source,
                "",
                ceiling.reason.layer,
            )
        )
    return (*found, *prick_finding(decision, ceiling.limit_ul))


def _nothing(missing: Sequence[NotDrawn], decision: Decision, ceiling: Ceiling) -> list[Finding]:
    if not missing or decision.chosen.outcome.pours:
        return []
    why = missing[0].reason
    sentence = "Nothing can be drawn as it stands: put in no needle before that is settled."
    if decision.chosen.outcome.left_out and ceiling.reason is not None:
        sentence += f" {ceiling.reason.sentence}"
    return [Finding("nothing-drawn", Severity.STOP, sentence, why.source, "", why.layer)]


def thrift_finding(chosen: Chosen, ceiling: Ceiling) -> tuple[Finding, ...]:
    """A note when the plan takes smaller containers than usual at this age."""
    scene = chosen.offers.scene
    if chosen.level == USUAL or scene.aim.small_containers:
        return ()
    if ceiling.reason is not None and serve_all(chosen.usual, chosen.outcome.aim, None) is not None:
        left = f"{(ceiling.limit_ul or 0) / 1000:.1f} mL"
        sentence = f"The usual tubes take more than the {left} left: smaller ones, least blood."
        source, layer = ceiling.reason.source, ceiling.reason.layer
    else:
        sentence = "The usual tubes on hand do not serve all tests: small containers are offered."
        source, layer = scene.stock.rule.source, scene.stock.rule.layer
    return (Finding("smaller-tubes", Severity.NOTE, sentence, source, "", layer),)


def _fits_confirmed(decision: Decision, ceiling: Ceiling) -> bool:
    stop = None if ceiling.stop_ul is None else ceiling.stop_ul - decision.reserve_ul
    return serve_all(decision.chosen.problem, Aim.LEAST_BLOOD, stop) is not None


def _short_of_stock(chosen: Chosen, ceiling: Ceiling) -> set[int]:
    """Tests that would be left out even if there were no blood limit."""
    if chosen.level != WHAT_FITS or ceiling.limit_ul is None:
        return {one.index for one in chosen.outcome.left_out}
    if chosen.offers.scene.stock.counts is None:
        return set()
    free = serve_what_fits(chosen.problem, Aim.LEAST_BLOOD, None)
    return {one.index for one in free.left_out}


def _limit_reason(one: Asked, chosen: Chosen, ceiling: Ceiling) -> Reason:
    assert ceiling.reason is not None
    limit = ceiling.limit_ul or 0
    least = chosen.problem.least_alone_ul(one)
    if least is not None and least > limit:
        why = f"it takes at least {least / 1000:.1f} mL alone"
    elif not chosen.outcome.pours:
        why = "too little for it once the tubing of the device is full"
    else:
        why = "other tests take it"
    sentence = f"{one.test.name} is not drawn: {ceiling.what} leaves {limit / 1000:.1f} mL, {why}."
    return Reason(sentence, ceiling.reason.source, ceiling.reason.layer)


def _stock_reason(one: Asked, scene: Scene) -> Reason:
    sentence = f"{one.test.name} is not drawn: too few containers for it are on hand."
    return scene.catalogue.reason(one.accepted[0], sentence)


def _homeless_reason(one: Asked, offers: Offers, route: str) -> Reason:
    """Why nothing on offer serves a test."""
    catalogue = offers.scene.catalogue
    if not one.accepted:
        sentence = f"{one.test.name} is not drawn: the catalogue names no container for it."
        return catalogue.reason(one.test, sentence)
    if route == "capillary":
        sentence = f"{one.test.name} is not drawn: no skin-prick container on hand serves it."
        return catalogue.reason(one.accepted[0], sentence)
    wanted = ", ".join(_names(one, offers.scene))
    sentence = f"{one.test.name} is not drawn: none of its containers is on hand ({wanted})."
    refused = [fill for row in one.accepted for _, fill in offers.refused(row.additive)]
    if refused:
        sentence = (
            f"{one.test.name} is not drawn: the tubes on hand do not fill at "
            f"{offers.scene.place.altitude_m} m, and no syringe is on hand to fill them."
        )
        return Reason(sentence, refused[0].reason.source, refused[0].reason.layer)
    if any(offers.of(row.additive) for row in one.accepted):
        sentence = f"{one.test.name} is not drawn: no container on hand is large enough for it."
    return catalogue.reason(one.accepted[0], sentence)


def _names(one: Asked, scene: Scene) -> Sequence[str]:
    return [scene.catalogue.additives[row.additive].name for row in one.accepted]
