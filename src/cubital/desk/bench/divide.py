"""Portions: what waits to be divided, the division proposed and made."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from cubital.desk import words
from cubital.desk.bench.asked import One, here_only, one_or_404
from cubital.desk.bench.board import MAY_LOOK
from cubital.desk.bench.dividing import (
    division_of,
    division_shown,
    left_of,
    may_be_divided,
    poured_of,
    signature_of,
    stations,
    wanted_of,
)
from cubital.desk.bench.known import Held, Scene, hold, scene_at
from cubital.desk.bench.shown import MATRICES, tube_of
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.reception.shown import joined, short_name, test_name
from cubital.desk.record import bench, receptions, selectors_bench, selectors_way
from cubital.desk.record.models import Role
from cubital.errors import EventRefused, InputError
from cubital.reception import Decision

MOST = 60
SHORT_RULE = "volume-short"
"""The reception's rule for a specimen that is not enough for every test."""


@require_GET
@who_may(*MAY_LOOK)
def portions_page(request: DeskRequest) -> HttpResponse:
    """Show what waits to be divided, and portions whose label nobody has scanned."""
    scene = scene_at(request.place)
    here = selectors_bench.specimens_at(request.place, *selectors_bench.AT_WORK)
    held = hold(here, scene)
    waits = [
        each for each in held.values()
        if not each.is_portion and each.bench.spins and not may_be_divided(each)
    ]  # fmt: skip
    several: list[Held] = []
    single: list[Held] = []
    for each in waits:
        names = stations(each.tests, scene.here.catalogue)
        (single if len(names) < 2 and each.bench.separated else several).append(each)
    loose = [held[one.code] for one in selectors_bench.unconfirmed(request.place)
             if one.code in held]  # fmt: skip
    context = {
        "waiting": [in_list(each, scene) for each in several[:MOST]],
        "waiting_count": len(several),
        "whole": [in_list(each, scene) for each in single[:MOST]],
        "whole_count": len(single),
        "loose": [in_list(each, scene) for each in loose[:MOST]],
        "loose_count": len(loose),
    }
    return render(request, "bench/portions.html", context)


def in_list(held: Held, scene: Scene) -> dict[str, Any]:
    """A specimen on one line."""
    catalogue = scene.here.catalogue
    return {
        "held": held,
        "tube": tube_of(held, catalogue),
        "patient": held.patient.shown_name if held.patient else held.specimen.patient,
        "tests": [short_name(test, catalogue) for test in held.tests],
        "stations": joined(stations(held.tests, catalogue).values()),
    }


@require_http_methods(["GET", "POST"])
@who_may(*MAY_LOOK)
def divide_page(request: DeskRequest, code: str) -> HttpResponse:
    """Show the division as proposed; nothing is stored here, whatever is sent."""
    one = one_or_404(request, code)
    data = request.POST if request.method == "POST" else request.GET
    return page(request, one, data)


def page(
    request: DeskRequest, one: One, data: Any, said: str = "", status: int = 200
) -> HttpResponse:
    """The page of a division."""
    context = division_context(request, one, data)
    context["said"] = said
    name = "bench/division.html" if request.htmx and not said else "bench/divide.html"
    return render(request, name, context, status=status)


def division_context(request: DeskRequest, one: One, data: Any) -> dict[str, Any]:
    """Everything the page reads."""
    held, catalogue = one.held, one.scene.here.catalogue
    context: dict[str, Any] = {
        "one": one,
        "held": held,
        "tube": tube_of(held, catalogue),
        "material": MATRICES.get(held.matrix, ""),
        "stations": stations(held.tests, catalogue),
        "seen": data.get("seen", ""),
        "posted": data,
        "may_write": request.user.role == Role.BENCH,
        "portions_made": bool(held.facts.portions),
        "refused": may_be_divided(held),
    }
    if context["refused"]:
        return context
    try:
        wanted, left = wanted_of(data, one), left_of(one)
        made = division_of(one, wanted, left)
    except InputError as refused:
        context["refused"] = str(refused)
        return context
    context["primary"] = wanted.primary
    context["division"] = division_shown(one, made, left)
    return context


@require_POST
@who_may(Role.BENCH)
def make(request: DeskRequest, code: str) -> HttpResponse:
    """Make the portions as they were proposed, each with a number of its own."""
    one = one_or_404(request, code)
    try:
        held = one.held
        here_only(held, one.scene)
        if may_be_divided(held):
            raise InputError(may_be_divided(held))
        made = division_of(one, wanted_of(request.POST, one), left_of(one))
        if signature_of(made) != request.POST.get("signature", ""):
            raise InputError("The proposal has changed", code, "Look at it again, then make it.")
        codes = bench.portions_make(
            parent=held.specimen, material=held.matrix, poured=poured_of(request.POST, made),
            place=request.place, by=request.user, now=timezone.now(), day=timezone.localdate(),
        )  # fmt: skip
    except (InputError, EventRefused) as refused:
        return page(request, one, request.POST, str(refused), status=422)
    count = words.counted(len(codes), "portion")
    messages.success(request, f"{count} made: label and scan each.", extra_tags="good")
    return redirect("bench-portions-of", code)


@require_POST
@who_may(Role.BENCH)
def ask_again(request: DeskRequest, code: str) -> HttpResponse:
    """Refuse the tests that there is not enough for, and ask for another specimen for them."""
    one = one_or_404(request, code)
    held, catalogue = one.held, one.scene.here.catalogue
    try:
        here_only(held, one.scene)
        if may_be_divided(held):
            raise InputError(may_be_divided(held))
        made = division_of(one, wanted_of(request.POST, one), left_of(one))
        short = tuple(each.test for each in made.left_out)
        if not short:
            raise InputError("There is enough for every test", code)
        again = receptions.specimen_decide(
            specimen=held.specimen, done=decision(held, short, one, request), place=request.place,
            seen=receptions.Evidence(), looked=selectors_way.looked(code), requisition=one.row,
            ask_again=True, by=request.user, now=timezone.now(),
        )  # fmt: skip
    except (InputError, EventRefused) as refused:
        return page(request, one, request.POST, str(refused), status=422)
    names = joined(test_name(test, catalogue) for test in short)
    number = f" as {again.number}, on the collector’s list" if again is not None else ""
    messages.success(
        request, f"Asked for again{number}: {names}. The requester stands on the list to phone.",
        extra_tags="good",
    )  # fmt: skip
    return redirect("bench-divide", code)


def decision(held: Held, short: tuple[str, ...], one: One, request: DeskRequest) -> Decision:
    """What becomes of its tests: those that are short are refused, by the reception's own rule."""
    names = joined(test_name(test, one.scene.here.catalogue) for test in short)
    everything = dict.fromkeys((*held.served, *(t for p in held.facts.portions for t in p.tests)))
    return Decision(
        accept=tuple(test for test in everything if test not in short),
        refuse=short,
        reason=SHORT_RULE,
        sentence=f"Not enough in {held.code} for {names}.",
        decided_by=str(request.user.get_username()),
    )
