"""
Plans read back from JSON: the shape ``cubital.plan/1``, of which only the codes count.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from cubital.draw.shape import PLAN
from cubital.draw.values import (
    BloodAllowance,
    DrawPlan,
    NotDrawn,
    PlannedContainer,
    PlannedDevice,
    PlannedSite,
    PlannedTest,
)
from cubital.errors import InputError
from cubital.finding import Finding, Reason, Severity


def plan_from(mapping: Mapping[str, Any]) -> DrawPlan:
    """
    Read a plan back from the shape ``cubital.plan/1``.

    ``plan_from(plan_to(plan, catalogue))`` is the plan again.

    Raises:
        InputError: another shape, or a part that is missing or of the wrong kind.
    """
    if mapping.get("schema") != PLAN:
        raise InputError(
            f"the shape is “{mapping.get('schema')}”", "schema", f"Give the shape {PLAN}."
        )
    try:
        return _plan(mapping)
    except (KeyError, TypeError, ValueError, AttributeError) as bad:
        raise InputError(
            f"the plan cannot be read ({type(bad).__name__}: {bad})",
            "plan",
            f"Give it as {PLAN} describes it.",
        ) from None


def _plan(given: Mapping[str, Any]) -> DrawPlan:
    return DrawPlan(
        requisition=given["requisition"],
        planned_at=datetime.fromisoformat(given["planned_at"]),
        edition=given["edition"],
        layers=tuple(given["layers"]),
        aim=given["aim"],
        order_profile=given["order_profile"]["code"],
        route=given["route"],
        choices=tuple((one["topic"], one["option"]) for one in given["choices"]),
        device=_device_from(given["device"]),
        sites=tuple(_site_from(one) for one in given["sites"]),
        containers=tuple(_container_from(one) for one in given["containers"]),
        allowance=_allowance_from(given["allowance"]),
        not_drawn=tuple(
            NotDrawn(one["test"]["code"], _reason_from(one["reason"])) for one in given["not_drawn"]
        ),
        findings=tuple(_finding_from(one) for one in given["findings"]),
        cautions=tuple(given["cautions"]),
        technique=_reasons_from(given.get("technique", ())),  # plans kept before it was there
    )


def _reason_from(given: Mapping[str, Any]) -> Reason:
    return Reason(given["sentence"], given["source"], given["layer"])


def _reasons_from(given: Iterable[Mapping[str, Any]]) -> tuple[Reason, ...]:
    return tuple(_reason_from(one) for one in given)


def _finding_from(given: Mapping[str, Any]) -> Finding:
    return Finding(
        code=given["code"],
        severity=Severity(given["severity"]),
        sentence=given["sentence"],
        source=given["source"],
        subject=given["subject"],
        layer=given["layer"],
    )


def _device_from(given: Mapping[str, Any]) -> PlannedDevice:
    return PlannedDevice(
        device=given["code"],
        gauge=given["gauge"],
        hub_colour=given["hub_colour"],
        draw_time_s=given["draw_time_s"],
        reasons=_reasons_from(given["reasons"]),
    )


def _site_from(given: Mapping[str, Any]) -> PlannedSite:
    return PlannedSite(
        site=given["code"],
        side=given["side"],
        verdict=given["verdict"],
        caution=given["caution"],
        reason=_reason_from(given["reason"]),
    )


def _container_from(given: Mapping[str, Any]) -> PlannedContainer:
    return PlannedContainer(
        position=given["position"],
        container=given["container"]["code"],
        additive=given["additive"]["code"],
        colour=given["colour"]["code"],
        purpose=given["purpose"],
        tests=tuple(
            PlannedTest(one["code"], one["volume_ul"], _reason_from(one["reason"]))
            for one in given["tests"]
        ),
        fill_ul=given["fill_ul"],
        fill_min_ul=given["fill_min_ul"],
        fill_max_ul=given["fill_max_ul"],
        inversions=(given["inversions"]["low"], given["inversions"]["high"]),
        handling=tuple((one["need"], one["minutes"]) for one in given["handling"]),
        label_wanted=given["label_wanted"],
        lot=given["lot"],
        cautions=tuple(given["cautions"]),
        reasons=_reasons_from(given["reasons"]),
    )


def _allowance_from(given: Mapping[str, Any]) -> BloodAllowance:
    return BloodAllowance(
        total_blood_volume_ul=given["total_blood_volume_ul"],
        limit_ul=given["limit_ul"],
        taken_24h_ul=given["taken_24h_ul"],
        taken_8wk_ul=given["taken_8wk_ul"],
        planned_ul=given["planned_ul"],
        needed_ul=given["needed_ul"],
        reasons=_reasons_from(given["reasons"]),
        tubing_ul=given["tubing_ul"],
    )
