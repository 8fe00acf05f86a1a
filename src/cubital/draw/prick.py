"""
Whether an infant's skin prick gives more tests than the little that a vein may give.

What stays in a winged set's tubing counts against the blood limit; a prick has no tubing.
Volumes in µL of blood.
"""

from __future__ import annotations

from cubital.draw.decide import Decision, decide
from cubital.draw.device import matching_rules
from cubital.finding import Finding, Severity

CAPILLARY = "capillary"


def prick_finding(decision: Decision, limit_ul: int | None) -> tuple[Finding, ...]:
    """
    An ask when a venous draw leaves out tests for the blood limit that a prick would serve.

    Args:
        decision: on the venous draw.
        limit_ul: of blood, None when no limit is known.

    Nothing beyond infancy, or where somebody has said by which route the blood is taken.
    """
    problem, scene = decision.chosen.problem, decision.chosen.offers.scene
    catalogue, age = scene.catalogue, scene.age_days
    if decision.chosen.offers.capillary or scene.place.route or limit_ul is None:
        return ()
    if age is None or age >= catalogue.number("capillary_to_days"):
        return ()
    lancets = matching_rules(
        scene.patient,
        catalogue,
        scene.choices,
        route=CAPILLARY,
        age=age,
        devices=scene.place.devices,
    )
    if not decision.chosen.outcome.left_out or not lancets:
        return ()
    most = min(limit_ul, catalogue.number("capillary_max_ul"))
    prick = decide(problem.asked, scene, CAPILLARY, most)
    here, there = _served(decision), _served(prick)
    if len(there) <= len(here):
        return ()
    names = "; ".join(catalogue.tests[code].name for code in there)
    sentence = (
        f"From a vein {len(here)} of {len(problem.asked)} tests can be drawn, by a skin prick "
        f"{len(there)}: {names}. Ask whether to take the blood so, and plan again."
    )
    row = catalogue.option("infant-route", scene.choices)
    return (Finding("skin-prick-serves-more", Severity.ASK, sentence, row.source, "", row.layer),)


def _served(decision: Decision) -> list[str]:
    """Codes of the tests that are drawn, in the requisition's order."""
    contents = [content for pour in decision.chosen.outcome.pours for content in pour.contents]
    indexes = {content.asked.index: content.asked.test.code for content in contents}
    return [indexes[index] for index in sorted(indexes)]
