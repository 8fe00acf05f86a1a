"""
What the collector still asks about the preparation, and which tests a "no" stops.

The sentences are those of the catalogue's rows; how each stands is asked of
:func:`cubital.draw.preparation.preparation_findings`, one test at a time.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from cubital.catalogue import Catalogue
from cubital.catalogue.model import Preparation
from cubital.draw.preparation import preparation_findings
from cubital.draw.values import DrawPlan
from cubital.finding import Severity
from cubital.requisition.values import Requisition

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Asked:
    """
    One demand on the patient's preparation.

    Args:
        need: code of the need.
        sentence: what must be so.
        severity: of a "no": ``stop``, ``ask`` or ``note``.
        state: ``unknown`` (ask now) or ``unmet`` (answered before, and not so).
        tests: codes of the tests that demand it.
        source: of the row.
    """

    need: str
    sentence: str
    severity: str
    state: str
    tests: tuple[str, ...]
    source: str


def preparation_asked(
    requisition: Requisition, catalogue: Catalogue, choices: Mapping[str, str], *, at: datetime
) -> tuple[Asked, ...]:
    """
    Everything about the preparation that is not known, or not so, at the time of the draw.

    Args:
        requisition: with its answers.
        catalogue: whose rows hold.
        choices: of the place.
        at: when the blood is drawn.
    """
    found: dict[tuple[str, str, str, str], Asked] = {}
    for ordered in requisition.tests:
        alone = replace(requisition, tests=(ordered,))
        findings = preparation_findings(alone, catalogue, choices, at=at)
        for row in catalogue.preparation(ordered.code, choices):
            finding = next((f for f in findings if f.sentence.endswith(row.sentence)), None)
            if finding is None:
                continue
            state = "unmet" if finding.code == "preparation-unmet" else "unknown"
            key = (row.need, row.sentence, row.severity, state)
            known = found.get(key) or _asked(row, state)
            if ordered.code not in known.tests:
                known = replace(known, tests=(*known.tests, ordered.code))
            found[key] = known
    return tuple(found.values())


def _asked(row: Preparation, state: str) -> Asked:
    return Asked(row.need, row.sentence, row.severity, state, (), row.source)


def stopped_tests(asked: Collection[Asked]) -> tuple[str, ...]:
    """Tests that must not be drawn now: a demand that stops is answered, and not met."""
    stopped = (
        test
        for each in asked
        if each.state == "unmet" and each.severity == Severity.STOP
        for test in each.tests
    )
    return tuple(dict.fromkeys(stopped))


def without_tests(plan: DrawPlan, tests: Collection[str]) -> DrawPlan:
    """
    Leave tests out of a plan: a container that served nothing else is not drawn.

    Positions stay as they were, so that the labels still fit; a discard tube stays while anything
    is drawn.
    """
    kept = []
    for container in plan.containers:
        left = tuple(test for test in container.tests if test.code not in tests)
        if left or not container.tests:
            kept.append(replace(container, tests=left))
    if not any(container.tests for container in kept):
        kept = []
    return replace(plan, containers=tuple(kept))


def asked_to(asked: Asked) -> Json:
    """The demand as the page keeps it."""
    return {
        "need": asked.need,
        "sentence": asked.sentence,
        "severity": asked.severity,
        "state": asked.state,
        "tests": list(asked.tests),
        "source": asked.source,
    }
