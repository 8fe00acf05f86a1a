"""The plan of the runs, the boxes that are expected, and machines that are out of order."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from cubital.desk.bench.board import MAY_LOOK, planned
from cubital.desk.bench.known import Scene, scene_at
from cubital.desk.bench.planning import Waiting, lost_already, waiting_at
from cubital.desk.bench.runs_shown import (
    bound_of,
    findings_said,
    running_shown,
    runs_shown,
)
from cubital.desk.bench.shown import clock_words
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.record import bench_place, selectors_bench
from cubital.desk.record.models import Role
from cubital.desk.requisition.typed import moment
from cubital.errors import InputError

DAY = timedelta(days=1)
LATELY = timedelta(hours=4)
MOST_OVER = 6
MOST_DRAWN = 6
"""Rotors that are drawn open; the others are folded."""


@require_GET
@who_may(*MAY_LOOK)
def runs(request: DeskRequest) -> HttpResponse:
    """Show the plan; only its inside when the page asks for it again by itself."""
    scene = scene_at(request.place)
    context = runs_context(waiting_at(scene), scene)
    context["may_write"] = request.user.role == Role.BENCH
    page = "bench/runs_inside.html" if request.htmx else "bench/runs.html"
    return render(request, page, context)


def runs_context(found: Waiting, scene: Scene) -> dict[str, Any]:
    """Everything the page reads."""
    plan, refused = planned(found, scene)
    listed = runs_shown(plan, found, scene) if plan is not None else ()
    return {
        "now": scene.now,
        "plan": plan,
        "plan_refused": refused,
        "running": [running_shown(each, found.held, scene) for each in found.running],
        "runs": listed,
        "most_drawn": MOST_DRAWN,
        "over": [
            {
                "run": each.spin,
                "ended": clock_words(each.spin.ended_at or scene.now, scene.now),
                "tubes": len(each.spin.specimens),
                "broken": each.spin.state == "broken_off",
            }
            for each in selectors_bench.runs_over(scene.place, scene.now - LATELY)[:MOST_OVER]
        ],
        "bound": bound_of(plan) if plan is not None else None,
        "findings": findings_said(plan.findings, scene) if plan is not None else (),
        "unread": found.unread,
        "machines": found.machines,
        "idle_machines": [
            row for row in found.machines
            if row.out_since is None and row.code not in {e.planned.centrifuge
                                                          for e in found.running}
        ],
        "arriving": [
            {
                "box": each.box,
                "count": len(each.box.specimens),
                "expected": clock_words(each.expected_at, scene.now) if each.expected_at else "",
                "value": f"{each.expected_at.astimezone(scene.here.zone):%H:%M}"
                if each.expected_at
                else "",
            }
            for each in found.arriving
        ],
        "undecided": len(found.undecided),
        "given_up": lost_already(found, scene),
    }  # fmt: skip


@require_POST
@who_may(Role.BENCH)
def expect(request: DeskRequest, code: str) -> HttpResponse:
    """Say when a box on its way will be here; the plan counts with it from now on."""
    scene = scene_at(request.place)
    box = next(
        (each.box for each in selectors_bench.arriving(request.place) if each.box.code == code),
        None,
    )
    try:
        if box is None or box.sent_at is None:
            raise InputError(f"No box {code[:64]} is on its way here")
        at = next_time(request.POST.get("at", ""), box.sent_at, scene, f"box {code}")
        bench_place.box_expect(box=box, at=at, by=request.user, now=timezone.now())
    except InputError as refused:
        messages.error(request, str(refused), extra_tags="wrong")
    else:
        messages.success(request, f"Box {code} is planned for.", extra_tags="good")
    return redirect("bench-runs")


def next_time(text: str, after: datetime, scene: Scene, what: str) -> datetime:
    """
    The first such time by the clock on the wall, of today or tomorrow, after something.

    Raises:
        InputError: no such time.
    """
    at = moment(f"{scene.now:%Y-%m-%d}", text, scene.here.zone, what)
    if at >= after:
        return at
    return moment(f"{scene.now + DAY:%Y-%m-%d}", text, scene.here.zone, what)
