"""
An add-on: which new tests need no new needle stick, given the specimens in the laboratory.

Volumes in µL, times timezone-aware.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from cubital.catalogue import Catalogue
from cubital.draw.assign import Wish, assign
from cubital.draw.needs import Asked, ask
from cubital.draw.onhand import Fit, OnHand, Refusal, check_specimen, judge, slots_left
from cubital.draw.scene import Scene, scene_of
from cubital.draw.texts import STANDING_CAUTIONS, in_severity
from cubital.draw.values import NotDrawn, Place
from cubital.finding import Finding, Reason, Severity
from cubital.requisition.values import Requisition

ANYWHERE = Place()

_CHECKS = {
    "no_tourniquet": "drawn without a tourniquet",
    "no_fist": "drawn without fist clenching",
    "no_alcohol_swab": "drawn without an alcohol swab",
    "quarantine_air": "kept from air",
    "upright": "kept upright",
    "dark": "kept from light",
}


@dataclass(frozen=True, slots=True)
class AddedTest:
    """
    A new test on a specimen on hand.

    Args:
        volume_ul: what it takes, of blood or of serum or plasma as the specimen stands.
        use_by: until when it keeps in it.
    """

    test: str
    accession: str
    container: str
    volume_ul: int
    use_by: datetime
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class AddOn:
    """
    The answer.

    Args:
        added: tests that need no new needle stick, in the order asked.
        needs_draw: the others, each with its reasons, specimen by specimen.
    """

    requisition: str
    answered_at: datetime
    edition: str
    layers: tuple[str, ...]
    added: tuple[AddedTest, ...]
    needs_draw: tuple[NotDrawn, ...]
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]


def add_on(
    requisition: Requisition,
    specimens: Sequence[OnHand],
    catalogue: Catalogue,
    place: Place = ANYWHERE,
    *,
    now: datetime,
) -> AddOn:
    """
    Say which tests can be added to specimens on hand, best by priority, the freshest preferred.

    Args:
        requisition: the new tests and the patient, whose specimens these must be.
        specimens: on hand.
        catalogue: whose rules hold.
        place: its choices count.
        now: when the tests would be added.

    Raises:
        InputError: a specimen that cannot be true, or what :func:`cubital.draw.plan_draw` refuses.
    """
    scene = scene_of(requisition, catalogue, place, now)
    for one in specimens:
        check_specimen(one, scene, now)
    asked = ask(requisition.tests, scene)
    verdicts = [
        [judge(test, index, one, scene, now) for index, one in enumerate(specimens)]
        for test in asked
    ]
    wishes = [
        _wish(test, found, specimens, scene) for test, found in zip(asked, verdicts, strict=True)
    ]
    chosen = assign(wishes, [one.volume_left_ul for one in specimens])
    added, missing, findings = [], [], []
    for test, fit, found in zip(asked, chosen, verdicts, strict=True):
        if fit is None:
            reason = _why_not(test, found, specimens, scene)
            missing.append(NotDrawn(test.test.code, reason))
            findings.append(_needs_draw(test, reason))
        else:
            added.append(_added(test, fit, specimens[fit.specimen]))
            findings += _unproven(test, fit, specimens[fit.specimen])
    return AddOn(
        requisition=requisition.number,
        answered_at=now,
        edition=catalogue.edition,
        layers=catalogue.layers,
        added=tuple(added),
        needs_draw=tuple(missing),
        findings=in_severity(findings),
        cautions=STANDING_CAUTIONS,
    )


def _wish(
    asked: Asked, found: Sequence[Fit | Refusal], specimens: Sequence[OnHand], scene: Scene
) -> Wish:
    fits = tuple(
        (fit, slots_left(asked, specimens[fit.specimen], scene))
        for fit in found
        if isinstance(fit, Fit)
    )
    return Wish(asked.ordered.priority, asked.station.code, asked.test.own_tube, fits)


def _added(asked: Asked, fit: Fit, one: OnHand) -> AddedTest:
    return AddedTest(
        test=asked.test.code,
        accession=one.accession,
        container=one.container,
        volume_ul=fit.volume_ul,
        use_by=fit.use_by,
        reasons=fit.reasons,
    )


def _unproven(asked: Asked, fit: Fit, one: OnHand) -> list[Finding]:
    """Ask about demands on the draw that no earlier test of the specimen had."""
    if not fit.unproven:
        return []
    words = ", ".join(_CHECKS[need] for need in fit.unproven)
    row = next(h for h in asked.handling if h.need == fit.unproven[0])
    sentence = f"{asked.test.name} on {one.accession}: ask whether it was {words}."
    return [Finding("add-on-check", Severity.ASK, sentence, row.source, asked.test.code, row.layer)]


def _why_not(
    asked: Asked, found: Sequence[Fit | Refusal], specimens: Sequence[OnHand], scene: Scene
) -> Reason:
    """Specimen by specimen, why a test cannot be added."""
    refusals = [one for one in found if isinstance(one, Refusal)]
    if not found:
        sentence = f"{asked.test.name} needs a draw: no specimen is on hand."
        return scene.catalogue.reason(asked.test, sentence)
    words = [f"{specimens[one.specimen].accession}: {one.reason.sentence}" for one in refusals]
    if len(refusals) < len(found):
        words.append("what is left elsewhere goes to tests that come first")
    sentence = f"{asked.test.name} needs a draw: {'; '.join(words)}."
    if not refusals:
        return scene.catalogue.reason(scene.catalogue.volumes[asked.test.code], sentence)
    return Reason(sentence, refusals[0].reason.source, refusals[0].reason.layer)


def _needs_draw(asked: Asked, reason: Reason) -> Finding:
    return Finding(
        "add-on-draw", Severity.NOTE, reason.sentence, reason.source, asked.test.code, reason.layer
    )
