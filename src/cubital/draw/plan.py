"""
The draw plan: everything the collector needs, each line with its reason and source.

Volumes in µL of blood, times timezone-aware.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from cubital.catalogue import Catalogue
from cubital.draw.allowance import Allowance, allowance, blood_allowance, limit_findings
from cubital.draw.choose import Aim
from cubital.draw.decide import Decision, Levels, decide, order_classes
from cubital.draw.device import RouteChoice, choose_route
from cubital.draw.left import Ceiling, not_drawn, not_drawn_findings, thrift_finding
from cubital.draw.mattered import mattered
from cubital.draw.needs import Asked, ask
from cubital.draw.preparation import patient_findings, preparation_findings
from cubital.draw.rack import rack_of
from cubital.draw.scene import Scene, scene_of
from cubital.draw.sites import choose_sites
from cubital.draw.stock import stock_findings
from cubital.draw.technique import technique
from cubital.draw.texts import STANDING_CAUTIONS, in_severity
from cubital.draw.values import DrawPlan, Place
from cubital.finding import Finding, Reason, Severity
from cubital.requisition.values import Requisition

ANYWHERE = Place()


def plan_draw(
    requisition: Requisition,
    catalogue: Catalogue,
    place: Place = ANYWHERE,
    *,
    now: datetime,
    limit_confirmed: bool = False,
) -> DrawPlan:
    """
    Plan the draw of a requisition.

    Args:
        requisition: complete, panels expanded.
        catalogue: whose rules hold.
        place: where and with what; sea level without a stock list by default.
        now: when the plan is made; the draw is at the time asked for, or now when that has passed.
        limit_confirmed: somebody has confirmed the order over a blood limit that asks: then only
            limits that stop hold, and the finding stays.  Otherwise the plan never takes more
            than the tightest limit leaves.

    Raises:
        InputError: something that cannot be computed at all (an unknown test, a time without a
            time zone, an order of draw or an option that is not there).
    """
    scene = scene_of(requisition, catalogue, place, now)
    asked = ask(requisition.tests, scene)
    allowed = allowance(scene.patient, catalogue, scene.choices, scene.at)
    route = _route(asked, scene)
    ceiling = _ceiling(allowed, route.route, scene, confirmed=limit_confirmed)
    decision = decide(asked, scene, route.route, ceiling.limit_ul)
    chosen, arranged = decision.chosen, decision.arranged
    rack = rack_of(arranged.pours, arranged.order, chosen.offers)
    missing = not_drawn(chosen, ceiling, route.route)
    sites = choose_sites(
        scene.patient, catalogue, scene.choices, route=route.route, age=scene.age_days
    )
    planned_ul = arranged.blood_ul
    needed_ul = sum(pour.needed_ul for pour in arranged.pours)
    taken = blood_allowance(allowed, planned_ul, needed_ul)
    findings = (
        *patient_findings(scene.patient, catalogue),
        *preparation_findings(requisition, catalogue, scene.choices, at=scene.at),
        *allowed.findings,
        *limit_findings(allowed, planned_ul),
        *not_drawn_findings(missing, decision, ceiling),
        *thrift_finding(chosen, ceiling),
        *route.findings,
        *arranged.device.findings,
        *sites.findings,
        *chosen.outcome.findings,
        *rack.findings,
        *(() if arranged.first.finding is None else (arranged.first.finding,)),
        *_stock_findings(asked, scene),
    )
    device = arranged.device.device
    return DrawPlan(
        requisition=requisition.number,
        planned_at=now,
        edition=catalogue.edition,
        layers=catalogue.layers,
        aim=str(chosen.outcome.aim),
        order_profile=arranged.order.profile.code,
        route=route.route,
        choices=mattered(requisition, asked, scene, decision, allowed),
        device=replace(
            device,
            draw_time_s=round(device.draw_time_s, 1),
            reasons=(*route.reasons, *device.reasons),
        ),
        sites=sites.sites,
        containers=rack.containers,
        allowance=replace(
            taken,
            tubing_ul=arranged.tubing_ul,
            reasons=(*taken.reasons, *_blood_reasons(decision, scene)),
        ),
        not_drawn=missing,
        findings=in_severity(findings),
        cautions=STANDING_CAUTIONS,
        technique=technique(
            asked,
            scene,
            route=route.route,
            gauge=device.gauge,
            order_classes=order_classes(arranged.pours, scene),
        ),
    )


# ---------------------------------------------------------------- route and limit


def _route(asked: Sequence[Asked], scene: Scene) -> RouteChoice:
    """Venous or capillary; for an infant the skin prick's containers are worked out first."""
    want = scene.place.route
    age = scene.age_days
    volume, served = 0, True
    if want == "" and age is not None and age < scene.catalogue.number("capillary_to_days"):
        chosen = Levels(asked, scene, capillary=True).choose(None)
        volume = chosen.outcome.blood_ul
        served = not chosen.problem.homeless and not chosen.outcome.left_out
    route = choose_route(
        scene.patient,
        scene.catalogue,
        scene.choices,
        age=age,
        tests=[one.test.code for one in asked],
        volume_ul=volume,
        asked=want,
        devices=scene.place.devices,
    )
    if route.route == "venous" or served:
        return route
    setting = scene.catalogue.setting("capillary_max_ul")
    sentence = "The skin-prick containers on hand do not serve every test: drawn from a vein."
    return RouteChoice("venous", (scene.catalogue.reason(setting, sentence),), ())


def _ceiling(allowed: Allowance, route: str, scene: Scene, *, confirmed: bool) -> Ceiling:
    """The tightest of the blood limits and of what a skin prick gives."""
    stop = allowed.stop_left_ul
    limit = stop if confirmed else allowed.limit_ul
    reason = None
    if limit is not None:
        kept = (one for one in allowed.limits if not confirmed or one.severity == Severity.STOP)
        reason = next(one.reason for one in kept)
    if route == "capillary":
        most = scene.catalogue.setting("capillary_max_ul")
        prick = int(most.value)
        if limit is None or prick < limit:
            sentence = f"A skin prick is planned for at most {prick / 1000:g} mL."
            why = scene.catalogue.reason(most, sentence)
            return Ceiling(prick, why, prick, "the skin prick")
    return Ceiling(limit, reason, stop)


def _blood_reasons(decision: Decision, scene: Scene) -> tuple[Reason, ...]:
    """What came first, why the tests take so much blood, and what stays in the tubing."""
    catalogue, arranged = scene.catalogue, decision.arranged
    reasons = [scene.haematocrit_reason]
    if decision.chosen.outcome.aim == scene.aim.aim:
        what = "the least blood comes"
        if decision.chosen.outcome.aim == Aim.FEWEST_TUBES:
            what = "the fewest containers come"
        why = f"With {scene.spared.replace('_', ' ')}" if scene.spared else "At this age"
        reasons.insert(0, catalogue.reason(scene.aim, f"{why} {what} first."))
    if arranged.tubing_ul:
        row = catalogue.devices[arranged.device.device.device]
        sentence = f"{arranged.tubing_ul / 1000:g} mL stays in the tubing and is counted."
        reasons.append(catalogue.reason(row, sentence))
    return tuple(reasons)


def _stock_findings(asked: Sequence[Asked], scene: Scene) -> tuple[Finding, ...]:
    if not scene.stock.refused:
        return ()
    additives = {row.additive for one in asked for row in one.accepted}
    containers = scene.catalogue.containers
    relevant = (code for code, row in containers.items() if row.additive in additives)
    names = {code: row.name for code, row in containers.items()}
    return stock_findings(scene.stock, relevant, names)
