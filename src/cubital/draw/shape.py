"""
Plans and answers as JSON: ``cubital.plan/1``, ``cubital.short/1`` and ``cubital.add-on/1``.

Every code stands beside its name, so that a reader needs no catalogue; reading a plan back looks
at the codes alone.  Volumes in µL, durations in s, times in ISO 8601 with their offset.  The JSON
Schemas lie in ``schema/``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from cubital.catalogue import Catalogue
from cubital.catalogue.model import OrderProfile
from cubital.draw.addon import AddOn
from cubital.draw.short import ShortSample
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

PLAN, SHORT, ADD_ON = "cubital.plan/1", "cubital.short/1", "cubital.add-on/1"

Json = dict[str, Any]


# ---------------------------------------------------------------- out


def plan_to(plan: DrawPlan, catalogue: Catalogue) -> Json:
    """A plan in the shape ``cubital.plan/1``; ``catalogue`` is the one it was made with."""
    return {
        "schema": PLAN,
        "requisition": plan.requisition,
        "planned_at": plan.planned_at.isoformat(),
        "edition": plan.edition,
        "layers": list(plan.layers),
        "aim": plan.aim,
        "route": plan.route,
        "order_profile": _profile(plan.order_profile, catalogue),
        "choices": [
            {
                "topic": topic,
                "option": option,
                "meaning": catalogue.options[topic][option].meaning,
            }
            for topic, option in plan.choices
        ],
        "device": _device(plan.device, catalogue),
        "sites": [_site(site, catalogue) for site in plan.sites],
        "containers": [_container(one, catalogue) for one in plan.containers],
        "allowance": _allowance(plan.allowance),
        "not_drawn": _not_drawn(plan.not_drawn, catalogue),
        "findings": [_finding(one) for one in plan.findings],
        "cautions": list(plan.cautions),
    }


def short_to(answer: ShortSample, catalogue: Catalogue) -> Json:
    """The answer about a short sample in the shape ``cubital.short/1``."""
    return {
        "schema": SHORT,
        "requisition": answer.requisition,
        "answered_at": answer.answered_at.isoformat(),
        "edition": answer.edition,
        "layers": list(answer.layers),
        "order_profile": _profile(answer.order_profile, catalogue),
        "obtained_ul": answer.obtained_ul,
        "used_ul": answer.used_ul,
        "left_ul": answer.left_ul,
        "containers": [_container(one, catalogue) for one in answer.containers],
        "not_done": _not_drawn(answer.not_done, catalogue),
        "findings": [_finding(one) for one in answer.findings],
        "cautions": list(answer.cautions),
    }


def add_on_to(answer: AddOn, catalogue: Catalogue) -> Json:
    """The answer about an add-on in the shape ``cubital.add-on/1``."""
    return {
        "schema": ADD_ON,
        "requisition": answer.requisition,
        "answered_at": answer.answered_at.isoformat(),
        "edition": answer.edition,
        "layers": list(answer.layers),
        "added": [
            {
                "test": _test(one.test, catalogue),
                "accession": one.accession,
                "container": _named(one.container, catalogue.containers),
                "volume_ul": one.volume_ul,
                "use_by": one.use_by.isoformat(),
                "reasons": _reasons(one.reasons),
            }
            for one in answer.added
        ],
        "needs_draw": _not_drawn(answer.needs_draw, catalogue),
        "findings": [_finding(one) for one in answer.findings],
        "cautions": list(answer.cautions),
    }


def _named(code: str, rows: Mapping[str, Any]) -> Json:
    return {"code": code, "name": rows[code].name if code in rows else ""}


def _profile(code: str, catalogue: Catalogue) -> Json:
    return _named(code, {row.code: row for row in catalogue.rows(OrderProfile)})


def _test(code: str, catalogue: Catalogue) -> Json:
    row = catalogue.tests[code]
    return {"code": code, "name": row.name, "short": row.short}


def _reason(one: Reason) -> Json:
    return {"sentence": one.sentence, "source": one.source, "layer": one.layer}


def _reasons(some: Iterable[Reason]) -> list[Json]:
    return [_reason(one) for one in some]


def _finding(one: Finding) -> Json:
    return {
        "code": one.code,
        "severity": str(one.severity),
        "sentence": one.sentence,
        "subject": one.subject,
        "source": one.source,
        "layer": one.layer,
    }


def _device(one: PlannedDevice, catalogue: Catalogue) -> Json:
    return {
        **_named(one.device, catalogue.devices),
        "gauge": one.gauge,
        "hub_colour": one.hub_colour,
        "draw_time_s": one.draw_time_s,
        "reasons": _reasons(one.reasons),
    }


def _site(one: PlannedSite, catalogue: Catalogue) -> Json:
    return {
        **_named(one.site, catalogue.sites),
        "side": one.side,
        "verdict": one.verdict,
        "caution": one.caution,
        "reason": _reason(one.reason),
    }


def _container(one: PlannedContainer, catalogue: Catalogue) -> Json:
    colour = catalogue.colours[one.colour]
    low, high = one.inversions
    return {
        "position": one.position,
        "container": _named(one.container, catalogue.containers),
        "additive": _named(one.additive, catalogue.additives),
        "colour": {**_named(one.colour, catalogue.colours), "rgb": colour.rgb, "ink": colour.ink},
        "purpose": one.purpose,
        "tests": [
            {
                **_test(test.code, catalogue),
                "volume_ul": test.volume_ul,
                "reason": _reason(test.reason),
            }
            for test in one.tests
        ],
        "fill_ul": one.fill_ul,
        "fill_min_ul": one.fill_min_ul,
        "fill_max_ul": one.fill_max_ul,
        "inversions": {"low": low, "high": high},
        "handling": [{"need": need, "minutes": minutes} for need, minutes in one.handling],
        "label_wanted": one.label_wanted,
        "lot": one.lot,
        "cautions": list(one.cautions),
        "reasons": _reasons(one.reasons),
    }


def _allowance(one: BloodAllowance) -> Json:
    return {
        "total_blood_volume_ul": one.total_blood_volume_ul,
        "limit_ul": one.limit_ul,
        "taken_24h_ul": one.taken_24h_ul,
        "taken_8wk_ul": one.taken_8wk_ul,
        "planned_ul": one.planned_ul,
        "needed_ul": one.needed_ul,
        "tubing_ul": one.tubing_ul,
        "reasons": _reasons(one.reasons),
    }


def _not_drawn(some: Iterable[NotDrawn], catalogue: Catalogue) -> list[Json]:
    return [{"test": _test(one.test, catalogue), "reason": _reason(one.reason)} for one in some]


# ---------------------------------------------------------------- back


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
