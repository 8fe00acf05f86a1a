"""
Plans and answers as JSON: ``cubital.plan/1``, ``cubital.short/1`` and ``cubital.add-on/1``.

Every code stands beside its name, so that a reader needs no catalogue.  Volumes in µL, durations
in s, times in ISO 8601 with their offset.  The JSON Schemas lie in ``schema/``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
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
)
from cubital.finding import Finding, Reason

PLAN, SHORT, ADD_ON = "cubital.plan/1", "cubital.short/1", "cubital.add-on/1"

Json = dict[str, Any]


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
        "technique": _reasons(plan.technique),
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
