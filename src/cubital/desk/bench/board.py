"""The worklist: what is lost first on top, the next two hours drawn, the runs beside it."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET

from cubital.bench import Line, RunPlan, picture, worklist
from cubital.desk.bench.known import Held, Scene, scene_at
from cubital.desk.bench.planning import Waiting, plan_at, waiting_at
from cubital.desk.bench.plot import plot
from cubital.desk.bench.runs_shown import running_shown, runs_shown
from cubital.desk.bench.shown import LineShown, clock_words, line_shown, runs_by_specimen
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.record import selectors_bench
from cubital.desk.record.models import Role
from cubital.errors import InputError

MAY_LOOK = (Role.BENCH, Role.QUALITY)
MOST_LINES = 120
MOST_BARS = 24
MOST_LOST = 40
DAY = timedelta(hours=24)


@require_GET
@who_may(*MAY_LOOK)
def board(request: DeskRequest) -> HttpResponse:
    """Show the worklist; only its inside when the page asks for it again by itself."""
    scene = scene_at(request.place)
    found = waiting_at(scene)
    context = board_context(found, scene)
    context["may_write"] = request.user.role == Role.BENCH
    page = "bench/board_inside.html" if request.htmx else "bench/board.html"
    return render(request, page, context)


def board_context(found: Waiting, scene: Scene) -> dict[str, Any]:
    """Everything the page reads."""
    plan, refused = planned(found, scene)
    spinning = {code for each in found.running for code in each.run.spin.specimens}
    at_work = {code: each for code, each in found.held.items() if code not in spinning}
    clocks = [found.clocks[c] for c in at_work if c in found.clocks and at_work[c].tests]
    lines = worklist(clocks, scene.here.catalogue, now=scene.now)
    ahead = [line for line in lines if line.level != "lost"]
    lost = [line for line in lines if line.level == "lost"]
    bars = picture([line for line in ahead if line.level != "open"][:MOST_BARS], now=scene.now)
    idle = [each for code, each in at_work.items() if not each.tests and code in found.clocks]
    running = [running_shown(each, found.held, scene) for each in found.running]
    return {
        "now": scene.now,
        "overdue": any(run.over for run in running),
        "lines": shown(ahead[:MOST_LINES], found, scene, plan),
        "more": max(0, len(ahead) - MOST_LINES),
        "lost": shown(lost[:MOST_LOST], found, scene, plan),
        "lost_count": len(lost),
        "counts": counts(ahead),
        "plot": plot(bars, scene.now) if bars else None,
        "unread": found.unread,
        "unasked": [each for each in idle if not each.served and not each.facts.portions],
        "to_put_away": sum(bool(each.served or each.facts.portions) for each in idle),
        "running": running,
        "next": next_runs(plan, found, scene),
        "plan_refused": refused,
        "labelled": selectors_bench.labelled_count(scene.place, scene.now - DAY),
        "unexpected": [each for each in found.arriving if each.expected_at is None],
    }


def planned(found: Waiting, scene: Scene) -> tuple[RunPlan | None, str]:
    """The plan of the runs, or why there is none."""
    try:
        return plan_at(found, scene), ""
    except InputError as refused:
        return None, str(refused)


def next_runs(plan: RunPlan | None, found: Waiting, scene: Scene) -> list[Any]:
    """The next run of each machine that stands still."""
    if plan is None:
        return []
    return [run for run in runs_shown(plan, found, scene) if run.load]


def counts(lines: list[Line]) -> dict[str, int]:
    """How many lines of each level."""
    return {level: sum(line.level == level for line in lines) for level in ("now", "soon", "later")}


def coming_words(found: Waiting, scene: Scene) -> dict[str, str]:
    """What is said of specimens that are not at the bench yet."""
    said = dict.fromkeys(found.undecided, "not accepted yet")
    for each in found.arriving:
        if each.expected_at is not None:
            at = clock_words(each.expected_at, scene.now)
            said |= dict.fromkeys(each.box.specimens, f"on its way, expected {at}")
    return said


def shown(lines: list[Line], found: Waiting, scene: Scene, plan: RunPlan | None) -> list[LineShown]:
    """Lines as the page shows them."""
    runs, coming = runs_by_specimen(plan, scene.now), coming_words(found, scene)
    return [
        line_shown(found.held[line.specimen], line, scene, runs, coming,
                   link_of(found.held[line.specimen], found))
        for line in lines
    ]  # fmt: skip


def link_of(held: Held, found: Waiting) -> str:
    """Where one goes on with a specimen: what is not accepted, at the reception."""
    if held.code in found.undecided or held.code in found.coming:
        return reverse("reception-specimen", args=[held.code])
    return reverse("bench-specimen", args=[held.code])
