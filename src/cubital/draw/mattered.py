"""
Which of the questions on which sources disagree made a difference to a plan, and how they stood.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from cubital.catalogue.model import CultureVolume
from cubital.draw.allowance import Allowance, is_child
from cubital.draw.decide import Arranged, Decision
from cubital.draw.needs import Asked
from cubital.draw.order import ESR_CLASS, ESR_TOPIC
from cubital.draw.pour import CULTURES
from cubital.draw.scene import Scene
from cubital.requisition.values import Requisition


def mattered(
    requisition: Requisition,
    asked: Sequence[Asked],
    scene: Scene,
    decision: Decision,
    allowed: Allowance,
) -> tuple[tuple[str, str], ...]:
    """Topics and options that decided a line of the plan, by topic."""
    arranged = decision.arranged
    topics = {
        *_of_rows(requisition, asked, scene),
        *_of_containers(arranged, scene),
        *_of_patient(scene, arranged, allowed),
    }
    options = scene.catalogue.options
    return tuple(
        (topic, scene.catalogue.option(topic, scene.choices).option)
        for topic in sorted(topics)
        if topic in options
    )


def _topic(choice: str) -> str:
    return choice.partition(":")[0]


def _of_rows(requisition: Requisition, asked: Iterable[Asked], scene: Scene) -> Iterable[str]:
    for one in asked:
        yield from (_topic(row.choice) for row in one.handling if row.choice)
    for ordered in requisition.tests:
        rows = scene.catalogue.preparation(ordered.code, scene.choices)
        yield from (_topic(row.choice) for row in rows if row.choice)


def _of_containers(arranged: Arranged, scene: Scene) -> Iterable[str]:
    catalogue = scene.catalogue
    for pour in arranged.pours:
        additive = catalogue.additives[pour.offer.container.additive]
        for choice in (
            pour.offer.limit.choice,
            catalogue.mixing(additive.code, scene.choices).choice,
        ):
            if choice:
                yield _topic(choice)
        if additive.order_class == "citrate" and scene.thick_blood:
            yield "citrate-formula"
        if additive.order_class == ESR_CLASS:
            yield ESR_TOPIC
    if any(pour.purpose in CULTURES for pour in arranged.pours):
        rows = catalogue.rows(CultureVolume)
        yield from {_topic(row.choice) for row in rows if row.choice}


def _of_patient(scene: Scene, arranged: Arranged, allowed: Allowance) -> Iterable[str]:
    if arranged.device.device.device:
        yield "device-table"
    if allowed.limits:
        yield "blood-limit"
    if allowed.total_blood_volume_ul is not None:
        yield "tbv-per-kg"
        adult = not is_child(scene.age_days, scene.catalogue)
        if adult and scene.patient.height_mm is not None:
            yield "tbv-adult"
    age = scene.age_days
    young = age is not None and age < scene.catalogue.number("capillary_to_days")
    if young and not scene.place.route:
        yield "infant-route"
    if arranged.order.profile.route == "capillary":
        yield "heel-depth"
