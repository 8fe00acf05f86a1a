"""One specimen at the bench: its clocks, its tree, what is left, and the next thing to do."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from cubital.bench import clocks_of, may_thaw, standing, thaws
from cubital.custody import State
from cubital.desk import words
from cubital.desk.bench.added import form_context
from cubital.desk.bench.asked import One, here_only, one_or_404
from cubital.desk.bench.board import MAY_LOOK
from cubital.desk.bench.dividing import left_of, may_be_divided, stations
from cubital.desk.bench.kin import place_words, tree_shown
from cubital.desk.bench.shelving import (
    keeping,
    put_away,
    shelf_named,
    shelves_shown,
    stream_of,
    wrongly_stored,
)
from cubital.desk.bench.shown import clock_words, clocks_shown, tube_of
from cubital.desk.draw.page import said, why
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.reception.one import steps
from cubital.desk.reception.scan import number_read
from cubital.desk.reception.seen import scaled
from cubital.desk.reception.shown import test_name
from cubital.desk.record import bench, selectors_bench
from cubital.desk.record.bench import NOTHING_ASKS, Past
from cubital.desk.record.models import Role
from cubital.desk.requisition.typed import moment
from cubital.errors import EventRefused, InputError

MG_IN_G = 1000
AT_HAND = (State.ACCEPTED, State.SPUN, State.ALIQUOTED)


@require_GET
@who_may(*MAY_LOOK)
def find(request: DeskRequest) -> HttpResponse:
    """Open what was scanned: a specimen, or a run."""
    text = request.GET.get("text", "").strip()[:64]
    code, misread = number_read(text)
    if selectors_bench.specimens_of([code]):
        return redirect("bench-specimen", code)
    run = selectors_bench.run_by_code(text) if text else None
    if run is not None and run.spin.site == request.place.code:
        return redirect("bench-run", run.spin.code)
    what = misread or f"The record knows no specimen {text!r}." if text else "Nothing was scanned."
    messages.error(request, what, extra_tags="wrong")
    return redirect("bench")


@require_GET
@who_may(*MAY_LOOK)
def page(request: DeskRequest, code: str) -> HttpResponse:
    """Show one specimen."""
    return shown(request, one_or_404(request, code))


def shown(request: DeskRequest, one: One, said_: str = "", status: int = 200) -> HttpResponse:
    """The page of one specimen, with a sentence where something was refused."""
    context = context_of(request, one)
    context["said"] = said_
    return render(request, "bench/specimen.html", context, status=status)


def context_of(request: DeskRequest, one: One) -> dict[str, Any]:
    """Everything the page reads."""
    held, scene = one.held, one.scene
    catalogue, specimen = scene.here.catalogue, held.specimen
    tree, way = tree_shown(held, scene)
    here = specimen.site == scene.place.code
    writes = request.user.role == Role.BENCH and here
    at_hand = specimen.state in AT_HAND
    return {
        "held": held,
        "specimen": specimen,
        "row": one.row,
        "patient": one.requisition.patient,
        "today": timezone.localdate(),
        "tube": tube_of(held, catalogue),
        "state": str(specimen.state).replace("_", " "),
        "where": place_words(specimen, held.shelf.name if held.shelf else ""),
        "collected": clock_words(held.bench.collected_at, scene.now),
        "tests": [(test, test_name(test, catalogue)) for test in held.tests],
        "done": [test_name(test, catalogue) for test in sorted(held.facts.done)],
        "tree": tree,
        "way": way,
        "steps": steps(one.known.events),
        "may_write": writes,
        "may_measure": writes and bool(held.tests) and not waits_for_spin(one)
        and (at_hand or specimen.state is State.STORED),
        "may_store": writes and (at_hand or specimen.state is State.STORED),
        "may_take_out": writes and specimen.state is State.STORED,
        "may_discard": writes and (at_hand or specimen.state is State.STORED),
        "not_here": not here,
        "shelves": shelves_shown(scene),
        "next": next_step(one) if writes else None,
        **clocks_context(one),
        **store_context(one),
        **form_context(scene, specimen.patient),
    }  # fmt: skip


def clocks_context(one: One) -> dict[str, Any]:
    """Its clocks, how it is spun, what is left; or why that cannot be said."""
    held, scene = one.held, one.scene
    context: dict[str, Any] = {}
    try:
        clocks = clocks_of(held.bench, scene.here.catalogue, scene.choices)
        context["clocks"] = clocks_shown(clocks, scene)
        context["spin"] = why(clocks.spin.reason, scene.here.catalogue)
        whys = (*(each.why for each in context["clocks"]), context["spin"])
        context["sources"] = tuple(dict.fromkeys(whys))
        context["clock_findings"] = said(clocks.findings, scene.here.catalogue)
    except InputError as refused:
        context["clocks_refused"] = str(refused)
    if held.is_blood and held.specimen.state is not State.DISCARDED:
        try:
            left = left_of(one)
            what = {"serum": "serum", "plasma": "plasma"}.get(held.matrix, "blood")
            known = "own" if left.haematocrit_known else "expected"
            context["left"] = f"about {words.ml(left.left_ul)} mL of {what}"
            if held.bench.spins and not held.is_portion:
                context["left"] += f", at {known} haematocrit of {left.haematocrit_percent:g} %"
        except InputError as refused:
            context["left"] = str(refused)
    return context


def store_context(one: One) -> dict[str, Any]:
    """Where it stands, until when, how often it was thawed."""
    held, scene = one.held, one.scene
    times = thaws(one.known.events, held.code)
    context: dict[str, Any] = {"thawed": times}
    if held.specimen.state is not State.STORED:
        return context
    try:
        stands = standing(held.stored(), scene.here.catalogue, scene.choices)
    except InputError as refused:
        context["standing_refused"] = str(refused)
        return context
    context["standing"] = keeping(stands, held, scene)
    frozen = held.bench.condition == "frozen"
    asks = may_thaw(times, held.code, scene.here.catalogue) if frozen else None
    context["thaw_asks"] = said([asks], scene.here.catalogue)[0] if asks else None
    return context


def next_step(one: One) -> tuple[str, str] | None:
    """The one thing to do next: what, and where."""
    held = one.held
    specimen = held.specimen
    if specimen.state not in AT_HAND:
        return None
    if held.is_portion and not specimen.label_matched:
        return "confirm", specimen.parent
    if not may_be_divided(held) and held.bench.spins and not held.is_portion:
        several = len(stations(held.tests, one.scene.here.catalogue)) > 1
        if several or not held.bench.separated:
            return "divide", held.code
    if waits_for_spin(one) and held.tests:
        return "spin", held.code
    return ("measure", held.code) if held.tests else ("store", held.code)


def waits_for_spin(one: One) -> bool:
    """Whether the bench room would spin it first."""
    try:
        clocks = clocks_of(one.held.bench, one.scene.here.catalogue, one.scene.choices)
    except InputError:
        return False
    return clocks.ready_at is not None


# ---------------------------------------------------------------- what is done with it


def written(request: DeskRequest, code: str, sentence: str) -> HttpResponse:
    """Say what was stored, on the page of the specimen."""
    messages.success(request, sentence, extra_tags="good")
    return redirect("bench-specimen", code)


@require_POST
@who_may(Role.BENCH)
def measure(request: DeskRequest, code: str) -> HttpResponse:
    """Write that tests were measured."""
    one = one_or_404(request, code)
    tests = [test for test in request.POST.getlist("test") if test in one.held.tests]
    try:
        here_only(one.held, one.scene)
        index = scaled(request.POST.get("haemolysis", ""), "Haemolysis index, g/L", "0.6", MG_IN_G)
        bench.tests_measure(code=code, tests=tests, place=request.place, by=request.user,
                            now=timezone.now(), haemolysis_mg_l=index)  # fmt: skip
    except (InputError, EventRefused) as refused:
        return shown(request, one, str(refused), status=422)
    return written(request, code, f"{words.counted(len(tests), 'test')} measured.")


@require_POST
@who_may(Role.BENCH)
def store(request: DeskRequest, code: str) -> HttpResponse:
    """Put it on a shelf; past a rule that asks, with a reason."""
    one = one_or_404(request, code)
    try:
        here_only(one.held, one.scene)
        shelf = shelf_named(request.POST.get("shelf", ""), one.scene)
        until = until_said(request.POST.get("until", ""), one)
        asks = wrongly_stored(one.held, shelf, one.scene)
        past = Past(asks.code, request.POST.get("why", "")) if asks else NOTHING_ASKS
        if asks and not past.why.strip():
            raise InputError(asks.sentence, mend="Or write why it stands there all the same.")
        put_away(one.held, shelf, one.scene, request.user, until=until, past=past)
    except (InputError, EventRefused) as refused:
        return shown(request, one, str(refused), status=422)
    return written(request, code, f"{code} stands on {shelf.name}.")


def until_said(text: str, one: One) -> datetime | None:
    """
    Until when somebody wants it kept, None for the laboratory's rule.

    Raises:
        InputError: no day, or one that is over.
    """
    if not text.strip():
        return None
    at = moment(text, "23:59", one.scene.here.zone, "keep until")
    if at < one.scene.now:
        raise InputError(f"{text} is over", "keep until", "Write a day to come, or none.")
    return at


@require_POST
@who_may(Role.BENCH)
def take_out(request: DeskRequest, code: str) -> HttpResponse:
    """Take it out of its store; a second thaw with a reason."""
    one = one_or_404(request, code)
    frozen = one.held.bench.condition == "frozen"
    times = thaws(one.known.events, code)
    asks = may_thaw(times, code, one.scene.here.catalogue) if frozen else None
    past = Past(asks.code, request.POST.get("why", "")) if asks else NOTHING_ASKS
    try:
        here_only(one.held, one.scene)
        if asks and not past.why.strip():
            raise InputError(asks.sentence, mend="Or write why it is thawed all the same.")
        bench.specimen_take_out(code=code, place=request.place, by=request.user,
                                now=timezone.now(), past=past)  # fmt: skip
    except (InputError, EventRefused) as refused:
        return shown(request, one, str(refused), status=422)
    return written(request, code, f"{code} is back at the bench.")


@require_POST
@who_may(Role.BENCH)
def discard(request: DeskRequest, code: str) -> HttpResponse:
    """Throw it away before its time, with a reason."""
    one = one_or_404(request, code)
    why_ = request.POST.get("why", "").strip()
    try:
        here_only(one.held, one.scene)
        if not why_:
            raise InputError(f"Why is {code} thrown away?", mend="Write it in a few words.")
        stream = stream_of(one.held, one.scene)
        bench.specimens_discard(streams=[(code, stream.stream)], place=request.place,
                                by=request.user, now=timezone.now(), note=why_)  # fmt: skip
    except (InputError, EventRefused) as refused:
        return shown(request, one, str(refused), status=422)
    return written(
        request, code, f"{code} goes into the {stream.colour} {stream.container}"
        f" ({words.plain(stream.stream)}).",
    )  # fmt: skip
