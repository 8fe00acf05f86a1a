"""A run loaded, begun, ended or broken off."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from cubital.bench import SPUN_EARLY, PlannedRun
from cubital.desk.bench.board import MAY_LOOK
from cubital.desk.bench.known import Scene, hold, scene_at
from cubital.desk.bench.loading import Loading, loading_of
from cubital.desk.bench.planning import on_now
from cubital.desk.bench.runs_shown import (
    findings_said,
    load_address,
    run_shown,
    running_shown,
)
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.reception.scan import number_read
from cubital.desk.record import bench, selectors_bench, selectors_way
from cubital.desk.record.bench import Load
from cubital.desk.record.models import Centrifuge, Role
from cubital.desk.record.selectors_bench import Run
from cubital.desk.requisition.typed import moment
from cubital.errors import EventRefused, InputError
from cubital.finding import Finding

MOST_TUBES = 100
DAY = timedelta(days=1)
LONGEST = 64


def centrifuge_or_404(request: DeskRequest, code: str) -> Centrifuge:
    """The centrifuge that an address names."""
    row = selectors_bench.centrifuges(request.place).filter(code=code).first()
    if row is None:
        raise Http404
    return row


def tubes_named(text: str) -> tuple[str, ...]:
    """Numbers out of an address or a form, each once, in their order."""
    return tuple(dict.fromkeys(each[:LONGEST] for each in text.split()))[:MOST_TUBES]


@require_GET
@who_may(*MAY_LOOK)
def load(request: DeskRequest, code: str) -> HttpResponse:
    """Show the rotor with these tubes, or why they cannot run together now."""
    row = centrifuge_or_404(request, code)
    scene = scene_at(request.place)
    tubes = tubes_named(request.GET.get("tubes", ""))
    return page(request, loading_of(row, tubes, scene, scene.now), scene)


def page(
    request: DeskRequest, loading: Loading, scene: Scene, said: str = "", status: int = 200
) -> HttpResponse:
    """The page of a run that is being loaded; what was typed stays where it is refused."""
    context = load_context(request, loading, scene, said)
    typed = {"typed_why": request.POST.get("why", ""), "typed_at": request.POST.get("at", "")}
    return render(request, "bench/load.html", context | typed, status=status)


def load_context(
    request: DeskRequest, loading: Loading, scene: Scene, said: str = ""
) -> dict[str, Any]:
    """Everything the page reads."""
    held = hold(selectors_bench.specimens_of(loading.codes), scene)
    run = loading.run
    others = [
        {"row": row, "load": load_address(row.code, loading.codes)}
        for row in selectors_bench.centrifuges(request.place)
        if row.pk != loading.row.pk
    ]
    return {
        "row": loading.row,
        "codes": loading.codes,
        "tubes": " ".join(loading.codes),
        "run": run_shown(run, loading.row, held, scene, load=False, clocks=loading.clocks)
        if run is not None
        else None,
        "seats": seats_text(run) if run is not None else "",
        "left_out": findings_said([each.finding for each in loading.left_out], scene),
        "sentences": loading.sentences,
        "busy": loading.on,
        "clotting": findings_said(loading.clotting, scene),
        "decided": findings_said(decided_early(loading), scene),
        "clotting_count": len(loading.clotting),
        "people": list(selectors_way.who_may_decide()) if loading.clotting else [],
        "me": request.POST.get("decided_by") or request.user.get_username(),
        "drops": [
            (code, load_address(loading.row.code, [c for c in loading.codes if c != code]))
            for code in loading.codes
        ],
        "others": others,
        "may_write": request.user.role == Role.BENCH,
        "said": said,
        "now": scene.now,
    }


def decided_early(loading: Loading) -> list[Finding]:
    """What a named person lets be spun before it has clotted."""
    found = [finding for each in loading.clocks.values() for finding in each.findings]
    return [finding for finding in found if finding.code == SPUN_EARLY]


def seats_text(run: PlannedRun) -> str:
    """The seats as the form sends them back: ``1:OL… 13: …``."""
    return " ".join(f"{seat.place}:{seat.specimen}" for seat in run.seats)


@require_POST
@who_may(Role.BENCH)
def add(request: DeskRequest, code: str) -> HttpResponse:
    """One more tube by scan; or, for one that is on the list, that it stands in its place."""
    row = centrifuge_or_404(request, code)
    scene = scene_at(request.place)
    tubes = tubes_named(request.POST.get("tubes", ""))
    number, misread = number_read(request.POST.get("text", "").strip()[:LONGEST])
    known = bool(selectors_bench.specimens_of([number])) if number else False
    said = ""
    if not known:
        said = misread or f"The record knows no specimen {number!r}." if number else (
            "Nothing was scanned."
        )  # fmt: skip
        kind, word = "stop", "Not taken"
    elif number in tubes:
        kind, word, said = "good", "Stands in", place_of(row, tubes, number, scene)
    else:
        tubes = (*tubes, number)
        kind, word = "note", "Added"
    loading = loading_of(row, tubes, scene, scene.now)
    decide = ""
    if kind == "note":
        wrong = why_not(loading, number)
        if wrong:
            clots = wrong in [each.sentence for each in loading.clotting]
            decide = load_address(row.code, tubes) if clots else ""
            tubes = tubes[:-1]
            loading = loading_of(row, tubes, scene, scene.now)
            kind, word, said = ("ask", "Still clots", wrong) if clots else (
                "stop", "Not taken", wrong
            )  # fmt: skip
    if not request.htmx:
        tags = {"stop": "wrong", "ask": "ask"}.get(kind, "good")
        sentence = said if number in said else f"{number}: {said or word}."
        messages.add_message(request, messages.INFO, sentence, extra_tags=tags)
        return redirect(decide or load_address(row.code, tubes))
    inside = render_to_string("bench/load_inside.html", load_context(request, loading, scene),
                              request)  # fmt: skip
    line = render_to_string("bench/scanned.html", {
        "kind": kind, "word": word, "code": number, "sentence": said,
        "list": "look" if kind in ("stop", "ask") else "done", "link": decide, "do": "Decide",
    })  # fmt: skip
    return HttpResponse(line + inside)


def place_of(row: Centrifuge, tubes: Sequence[str], code: str, scene: Scene) -> str:
    """Which place of the rotor a tube has."""
    run = loading_of(row, tubes, scene, scene.now).run
    seat = next((each for each in run.seats if each.specimen == code), None) if run else None
    return f"Place {seat.place}." if seat is not None else "It is on the list already."


def why_not(loading: Loading, code: str) -> str:
    """Why a tube cannot join the others, "" when it can."""
    refused = [each.finding.sentence for each in loading.left_out if each.specimen == code]
    refused += [each.sentence for each in loading.clotting if each.subject == code]
    about = [sentence for sentence in loading.sentences if code in sentence]
    rest = [sentence for sentence in loading.sentences if "share a run" in sentence
            or "do not fit" in sentence]  # fmt: skip
    return next(iter((*refused, *about, *rest)), "")


@require_POST
@who_may(Role.BENCH)
def early(request: DeskRequest, code: str) -> HttpResponse:
    """Write that a named person lets what still clots be spun now."""
    row = centrifuge_or_404(request, code)
    scene = scene_at(request.place)
    tubes = tubes_named(request.POST.get("tubes", ""))
    loading = loading_of(row, tubes, scene, scene.now)
    clots = [each.subject for each in loading.clotting]
    try:
        bench.spin_early_let(codes=clots, decided_by=request.POST.get("decided_by", ""),
                             why=request.POST.get("why", ""), place=request.place, by=request.user,
                             now=timezone.now())  # fmt: skip
    except (InputError, EventRefused) as refused:
        return page(request, loading, scene, str(refused), status=422)
    many = f"{', '.join(clots)} may be spun now: the decision stands on it for good."
    messages.success(request, many, extra_tags="ask")
    return redirect(load_address(row.code, tubes))


# ---------------------------------------------------------------- begun and ended


def time_said(request: DeskRequest, scene: Scene, what: str) -> datetime:
    """
    The last such time by the clock on the wall that somebody wrote, else now.

    Raises:
        InputError: no such time.
    """
    text = request.POST.get("at", "").strip()
    if not text:
        return scene.now
    at = moment(f"{scene.now:%Y-%m-%d}", text, scene.here.zone, what)
    if at <= scene.now:
        return at
    return moment(f"{scene.now - DAY:%Y-%m-%d}", text, scene.here.zone, what)


@require_POST
@who_may(Role.BENCH)
def begin(request: DeskRequest, code: str) -> HttpResponse:
    """Write that the run begins, as it was loaded."""
    row = centrifuge_or_404(request, code)
    scene = scene_at(request.place)
    tubes = tubes_named(request.POST.get("tubes", ""))
    loading = loading_of(row, tubes, scene, scene.now)
    try:
        at = time_said(request, scene, "began at")
        loading = loading_of(row, tubes, scene, at)
        run = loading.run
        if run is None:
            raise InputError("This run cannot begin", mend="Look at what stands below.")
        if seats_text(run) != request.POST.get("seats", ""):
            raise InputError("The places have changed", mend="Look at the rotor again.")
        number = bench.spin_begin(
            load=as_load(run), place=request.place, by=request.user, now=timezone.now(), at=at
        )
    except (InputError, EventRefused) as refused:
        return page(request, loading, scene, str(refused), status=422)
    messages.success(request, f"Run {number} is on.", extra_tags="good")
    return redirect("bench-runs")


def as_load(run: PlannedRun) -> Load:
    """What the record writes down of a run."""
    filled = [seat for seat in run.seats if seat.specimen]
    return Load(
        centrifuge=run.centrifuge,
        programme=run.programmes[0],
        specimens=tuple(seat.specimen for seat in filled),
        places=tuple(seat.place for seat in filled),
        balance=tuple(seat.place for seat in run.seats if not seat.specimen),
        speed_rpm=run.speed_rpm,
        rcf_g=run.rcf_g,
        seconds=run.minutes * 60,
    )


def run_or_404(request: DeskRequest, code: str) -> Run:
    """The run of this place that an address names."""
    run = selectors_bench.run_by_code(code)
    if run is None or run.spin.site != request.place.code:
        raise Http404
    return run


@require_GET
@who_may(*MAY_LOOK)
def run_page(request: DeskRequest, code: str) -> HttpResponse:
    """Show one run, on or over."""
    return run_shown_page(request, run_or_404(request, code))


def run_shown_page(
    request: DeskRequest, run: Run, said: str = "", status: int = 200
) -> HttpResponse:
    """The page of one run."""
    scene = scene_at(request.place)
    held = hold(selectors_bench.specimens_of(run.spin.specimens), scene)
    each = on_now(run, list(selectors_bench.centrifuges(request.place)), held, scene)
    context = {
        "run": running_shown(each, held, scene),
        "spin": run.spin,
        "tubes": [held[c] for c in run.spin.specimens if c in held],
        "is_on": run.spin.state == "running",
        "early": run.spin.state == "running" and is_early(each.planned, scene.now),
        "may_write": request.user.role == Role.BENCH,
        "said": said,
    }
    return render(request, "bench/run.html", context, status=status)


def is_early(run: PlannedRun, at: datetime) -> bool:
    """Whether a run has not had its minutes at speed."""
    return (at - run.start).total_seconds() < run.minutes * 60


@require_POST
@who_may(Role.BENCH)
def end(request: DeskRequest, code: str) -> HttpResponse:
    """Write that a run has ended, or broke off; what was in it is planned anew then."""
    run = run_or_404(request, code)
    scene = scene_at(request.place)
    done = request.POST.get("outcome") == "done"
    try:
        at = time_said(request, scene, "ended at")
        on = on_now(run, list(selectors_bench.centrifuges(request.place)), {}, scene)
        if done and is_early(on.planned, at):
            raise InputError(
                f"It has not run its {on.planned.minutes} min yet",
                mend="Let it run, or say that it broke off.",
            )
        bench.spin_end(spin=run.spin, done=done, note=request.POST.get("note", ""),
                       place=request.place, by=request.user, now=timezone.now(), at=at)  # fmt: skip
    except (InputError, EventRefused) as refused:
        return run_shown_page(request, run, str(refused), status=422)
    words = "has ended" if done else "broke off: its tubes are planned anew"
    messages.success(request, f"Run {code} {words}.", extra_tags="good" if done else "ask")
    return redirect("bench-runs")
