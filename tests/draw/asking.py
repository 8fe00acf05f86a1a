"""Small helpers of the plan's tests: requisitions of the shipped catalogue, and what was found."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from cubital.catalogue import shipped
from cubital.draw import DrawPlan, Place
from cubital.draw.needs import Asked, ask
from cubital.draw.scene import Scene, scene_of
from cubital.finding import Finding
from cubital.requisition.values import OrderedTest, Patient, Requisition
from tests.draw.hands import MORNING, someone

CATALOGUE = shipped()
SEA_LEVEL = Place()


def asked(*codes: str, patient: Patient | None = None, **known: object) -> Requisition:
    """A requisition for tests and panels, in the order given."""
    tests = dict.fromkeys(test for code in codes for test, _ in CATALOGUE.expand(code))
    whom = someone(weight_g=62_000) if patient is None else patient
    requisition = Requisition("R-1", whom, tuple(OrderedTest(code) for code in tests), MORNING)
    return replace(requisition, **known)  # type: ignore[arg-type]


def scene(requisition: Requisition, place: Place = SEA_LEVEL) -> Scene:
    """What its plan would stand on."""
    return scene_of(requisition, CATALOGUE, place, MORNING)


def needs_of(requisition: Requisition, place: Place = SEA_LEVEL) -> dict[str, Asked]:
    """What each test needs, by code."""
    return {one.test.code: one for one in ask(requisition.tests, scene(requisition, place))}


def sentences(findings: Iterable[Finding], code: str) -> list[str]:
    """The sentences of the findings of a code."""
    return [finding.sentence for finding in findings if finding.code == code]


def holding(drawn: DrawPlan, test: str) -> list[str]:
    """The additives of the containers that serve a test."""
    return [c.additive for c in drawn.containers if any(t.code == test for t in c.tests)]
