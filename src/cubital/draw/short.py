"""
A short sample: which tests can still be done with the blood that was obtained, and in what.

The blood is in a syringe and goes into the tubes by a transfer device.  A tube whose blood to
additive ratio matters takes its full mark or nothing; the others take what their tests need, but
at least their minimum fill.  Volumes in µL of blood.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from cubital.catalogue import Catalogue
from cubital.draw.choose import Aim
from cubital.draw.needs import Asked, ask
from cubital.draw.offers import Offers
from cubital.draw.order import in_order, order_of
from cubital.draw.rack import rack_of
from cubital.draw.scene import Scene, scene_of
from cubital.draw.solve import Outcome, Problem, problem_of, serve_what_fits
from cubital.draw.texts import STANDING_CAUTIONS, in_severity
from cubital.draw.values import NotDrawn, Place, PlannedContainer
from cubital.errors import InputError
from cubital.finding import Finding, Reason, Severity
from cubital.requisition.values import Requisition

ANYWHERE = Place()


@dataclass(frozen=True, slots=True)
class ShortSample:
    """
    What a short sample still gives.

    Args:
        obtained_ul, used_ul: blood in the syringe, and what of it goes into the containers.
        containers: to be filled in this order.
        not_done: every other test with its reason.
    """

    requisition: str
    answered_at: datetime
    edition: str
    layers: tuple[str, ...]
    order_profile: str
    obtained_ul: int
    used_ul: int
    containers: tuple[PlannedContainer, ...]
    not_done: tuple[NotDrawn, ...]
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]

    @property
    def left_ul(self) -> int:
        """Blood that stays in the syringe."""
        return self.obtained_ul - self.used_ul


def what_fits(
    requisition: Requisition,
    obtained_ul: int,
    catalogue: Catalogue,
    place: Place = ANYWHERE,
    *,
    now: datetime,
) -> ShortSample:
    """
    Say which tests of a requisition can still be done, best by the requester's priority, exactly.

    Args:
        requisition: with all its tests.
        obtained_ul: blood in the syringe, 0 or more.
        catalogue: whose rules hold.
        place: its containers on hand count; its route and devices do not.
        now: when the question is asked.

    Raises:
        InputError: a negative volume, or what :func:`cubital.draw.plan_draw` refuses.
    """
    if obtained_ul < 0:
        raise InputError(
            f"a volume of {obtained_ul} µL cannot be used",
            "obtained volume",
            "Give what is in the syringe, 0 or more.",
        )
    scene = scene_of(requisition, catalogue, place, now)
    offers = Offers(scene, all_by_syringe=True)
    problem = problem_of(ask(requisition.tests, scene), offers)
    outcome = serve_what_fits(problem, Aim(scene.aim.aim), obtained_ul)
    order = order_of(scene, "venous", "plunger")
    rack = rack_of(in_order(outcome.pours, order, scene), order, offers)
    not_done = _not_done(problem, outcome, offers, obtained_ul)
    findings = (
        *(_finding(one) for one in not_done),
        *_hurry(outcome, scene),
        *outcome.findings,
        *rack.findings,
    )
    return ShortSample(
        requisition=requisition.number,
        answered_at=now,
        edition=catalogue.edition,
        layers=catalogue.layers,
        order_profile=order.profile.code,
        obtained_ul=obtained_ul,
        used_ul=outcome.blood_ul,
        containers=rack.containers,
        not_done=not_done,
        findings=in_severity(findings),
        cautions=STANDING_CAUTIONS,
    )


def _not_done(
    problem: Problem, outcome: Outcome, offers: Offers, obtained_ul: int
) -> tuple[NotDrawn, ...]:
    found = [(one, _homeless(one, offers)) for one in problem.homeless]
    found += [(one, _too_little(one, problem, offers, obtained_ul)) for one in outcome.left_out]
    found.sort(key=lambda pair: pair[0].index)
    return tuple(NotDrawn(one.test.code, reason) for one, reason in found)


def _homeless(one: Asked, offers: Offers) -> Reason:
    catalogue = offers.scene.catalogue
    if not one.accepted:
        sentence = f"{one.test.name}: the catalogue names no container for it."
        return catalogue.reason(one.test, sentence)
    forms = {
        container.form
        for row in one.accepted
        for container in catalogue.containers.values()
        if container.additive == row.additive
    }
    if forms == {"gas_syringe"}:
        sentence = f"{one.test.name}: its syringe is filled straight from the vein."
    else:
        sentence = f"{one.test.name}: none of its containers is on hand, or none is large enough."
    return catalogue.reason(one.accepted[0], sentence)


def _too_little(one: Asked, problem: Problem, offers: Offers, obtained_ul: int) -> Reason:
    """Why a test was left out: too little blood even for it alone, or for all that come first."""
    catalogue = offers.scene.catalogue
    least = problem.least_alone_ul(one)
    row = catalogue.volumes[one.test.code]
    if least is None:
        sentence = f"{one.test.name}: too few containers for it are on hand."
        return catalogue.reason(one.accepted[0], sentence)
    wants = f"{one.test.name}: takes at least {least / 1000:.2f} mL in a container of its own"
    if least > obtained_ul:
        return catalogue.reason(row, f"{wants}, more than the {obtained_ul / 1000:.2f} mL here.")
    sentence = f"{wants}, which the tests that come first leave no room for."
    return catalogue.reason(row, sentence)


def _finding(one: NotDrawn) -> Finding:
    sentence = f"{one.reason.sentence} Draw again, or ask the requester."
    return Finding(
        "short-sample", Severity.ASK, sentence, one.reason.source, one.test, one.reason.layer
    )


def _hurry(outcome: Outcome, scene: Scene) -> tuple[Finding, ...]:
    """Blood in a syringe clots: a note with the time it may take."""
    if not outcome.pours:
        return ()
    within = scene.catalogue.setting("syringe_transfer_max_s")
    sentence = f"Blood in a syringe begins to clot: fill the tubes within {within.value} s, mix."
    return (Finding("syringe-clot", Severity.NOTE, sentence, within.source, "", within.layer),)
