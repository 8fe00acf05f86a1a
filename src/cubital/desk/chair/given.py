"""
A requisition made ready for the chair: planned, numbered, and turned into its sheet.

The core plans and writes the sheet; here it is only called, and what the page draws is put beside.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from cubital.catalogue import Catalogue
from cubital.chair import chair_policy, chair_sheet
from cubital.chair.asked import (
    Asked,
    asked_to,
    preparation_asked,
    stopped_tests,
    without_tests,
)
from cubital.chair.said import finding_to
from cubital.chair.sheet import questions_for
from cubital.chair.values import Sheet
from cubital.desk import words
from cubital.desk.draw.page import handling_words, turns
from cubital.desk.draw.planning import Planned, Scene
from cubital.desk.record import requisitions
from cubital.desk.record.models import Requisition
from cubital.draw import DrawPlan, Lot, PlannedContainer
from cubital.errors import RequisitionError
from cubital.finding import Finding, Severity
from cubital.requisition import IDENTIFIER_MISSING
from cubital.requisition.values import Patient

Json = dict[str, Any]
OPEN = ("allowed", "by_order")


@dataclass(frozen=True, slots=True)
class Ready:
    """A requisition with its plan as it may be drawn now, and its containers numbered."""

    row: Requisition
    planned: Planned
    plan: DrawPlan
    numbers: dict[int, str]
    asked: tuple[Asked, ...]
    stopped: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Given:
    """The same with its sheet."""

    ready: Ready
    sheet: Sheet


def ready(row: Requisition, planned: Planned, scene: Scene, day: date) -> Ready:
    """
    Plan what may be drawn now; its containers get their numbers.

    Raises:
        InputError: too few identifiers are known, or nothing is to be drawn.
    """
    policy = chair_policy(scene.catalogue, labels=row.place.label_when)
    questions_for(planned.requisition.patient, policy.identifiers)
    at = max(planned.requisition.collect_at, scene.now).astimezone(scene.now.tzinfo)
    asked = preparation_asked(planned.requisition, scene.catalogue, scene.place.choices, at=at)
    stopped = stopped_tests(asked)
    plan = without_tests(planned.plan, stopped)
    wanted = [each for each in plan.containers if each.label_wanted]
    if not wanted:
        raise RequisitionError(
            "Nothing is to be drawn now", row.number, "Look at its plan: it says why."
        )
    numbers = requisitions.accessions_give(
        requisition=row, containers=[(c.position, c.container) for c in wanted], day=day
    )
    return Ready(row, planned, plan, numbers, asked, stopped)


def given(
    ready: Ready,
    scene: Scene,
    *,
    lots: Sequence[Lot],
    others: Sequence[tuple[str, str]],
    patients: Sequence[Patient],
    day: date,
) -> Given:
    """
    Write its sheet.
    """
    sheet = chair_sheet(
        ready.plan,
        ready.planned.requisition,
        scene.catalogue,
        ready.numbers,
        draw="",
        site=ready.row.place.code,
        today=day,
        labels=ready.row.place.label_when,
        lots=lots,
        others=others,
        patients_of_day=patients,
    )
    return Given(ready, sheet)


# ------------------------------------------------------------------ what the page draws


def shown(given: Given, scene: Scene) -> Json:
    """Everything the page shows of a draw beside its sheet."""
    ready, catalogue = given.ready, scene.catalogue
    plan, patient = ready.plan, ready.row.patient
    tests = ready.planned.requisition.tests
    return {
        "born": patient.birth_date.isoformat() if patient.birth_date else "",
        "age": words.age(patient.birth_date, given.sheet.today),
        "sex": patient.get_sex_display(),
        "remarks": ready.row.remarks,
        "route": plan.route,
        "device": plan.device.device,
        "gauge": plan.device.gauge,
        "devices": _devices(plan, scene),
        "gauges": [[row.gauge, row.hub_colour] for row in catalogue.needles.values()],
        "sites": _sites(plan, catalogue),
        "shut": _shut(plan, catalogue),
        "tubes": {number: _tube(container, catalogue) for number, container in _numbered(given)},
        "discards": [_tube(c, catalogue) for c in plan.containers if not c.label_wanted],
        "findings": [finding_to(each) for each in _open_findings(ready.planned)],
        "asked": [asked_to(each) for each in ready.asked],
        "names": {test.code: catalogue.tests[test.code].name for test in tests},
        "stopped": [catalogue.tests[test].name for test in ready.stopped],
        "barred": [finding_to(each) for each in ready.planned.findings if _bars(each)],
        "needs": _needs(plan),
        "planned_ul": plan.allowance.planned_ul,
        "cautions": list(plan.cautions),
    }


def _open_findings(planned: Planned) -> list[Finding]:
    """What the plan found, but what is asked one by one, and what was answered before."""
    return [
        each
        for each in planned.findings
        if not _asked_about(each)
        and each.code != IDENTIFIER_MISSING  # asked about before the identifiers, from the sheet
        and not (each.severity is Severity.ASK and each.code in planned.overrides)
    ]


def _asked_about(finding: Finding) -> bool:
    """The preparation is asked about one by one, and not listed a second time."""
    return finding.code.startswith("preparation-")


def _bars(finding: Finding) -> bool:
    """A stop about the whole draw: nobody overrides it, so nothing is drawn."""
    return finding.severity is Severity.STOP and not _asked_about(finding)


def _needs(plan: DrawPlan) -> list[str]:
    """Demands of any test of the plan on how it is drawn, by code."""
    found = (need for container in plan.containers for need, _ in container.handling)
    return list(dict.fromkeys(found))


def _numbered(given: Given) -> list[tuple[str, PlannedContainer]]:
    numbers = {tube.position: tube.accession for tube in given.sheet.tubes}
    return [(numbers[c.position], c) for c in given.ready.plan.containers if c.position in numbers]


def _devices(plan: DrawPlan, scene: Scene) -> list[Json]:
    on_hand = scene.place.devices
    return [
        {"code": row.code, "name": row.name, "draws_by": row.draws_by}
        for row in scene.catalogue.devices.values()
        if row.code == plan.device.device
        or (row.route == plan.route and (on_hand is None or row.code in on_hand))
    ]


def _sites(plan: DrawPlan, catalogue: Catalogue) -> list[Json]:
    return [
        {
            "site": each.site,
            "side": each.side,
            "name": catalogue.sites[each.site].name,
            "caution": each.caution,
            "by_order": each.verdict == "by_order",
        }
        for each in plan.sites
        if each.verdict in OPEN
    ]


def _shut(plan: DrawPlan, catalogue: Catalogue) -> list[str]:
    """Sites shut for this patient, each with its reason."""
    return [
        f"{each.side} {catalogue.sites[each.site].name}: {each.reason.sentence}".strip()
        for each in plan.sites
        if each.verdict == "excluded"
    ]


def _tube(container: PlannedContainer, catalogue: Catalogue) -> Json:
    row = catalogue.containers[container.container]
    colour = catalogue.colours[container.colour]
    return {
        "position": container.position,
        "name": row.name,
        "additive": catalogue.additives[container.additive].name,
        "colour": colour.name,
        "rgb": colour.rgb,
        "ink": colour.ink,
        "form": row.form,
        "nominal_ul": row.nominal_ul,
        "height_mm": row.height_mm,
        "diameter_mm": row.diameter_mm,
        "fill_ul": container.fill_ul,
        "fill_min_ul": container.fill_min_ul,
        "turns": turns(*container.inversions),
        "handling": list(handling_words(container.handling)),
        "cautions": list(container.cautions),
        "tests": [catalogue.tests[test.code].short for test in container.tests],
        "lot": container.lot,
    }
