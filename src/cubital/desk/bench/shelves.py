"""A shelf: what stands on it, and its label."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from cubital.bench import standing
from cubital.desk.bench.board import MAY_LOOK
from cubital.desk.bench.known import Held, Scene, hold, scene_at
from cubital.desk.bench.labels import shelf_labels
from cubital.desk.bench.shown import clock_words, tube_of
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.record import selectors_bench
from cubital.desk.record.models import Role, Shelf
from cubital.errors import InputError, LabelError

MOST = 200
MAY_LABEL = (Role.BENCH, Role.MANAGER)


@require_GET
@who_may(*MAY_LOOK)
def page(request: DeskRequest, code: str) -> HttpResponse:
    """Show what stands on a shelf."""
    return shelf_page(request, code)


def shelf_page(request: DeskRequest, code: str, said: str = "", status: int = 200) -> HttpResponse:
    """The page of a shelf, with a sentence where something was refused."""
    scene = scene_at(request.place)
    held = hold(selectors_bench.stored_at(scene.place), scene)
    mine = [each for each in held.values() if each.facts.shelf == code]
    row = selectors_bench.shelves(scene.place).filter(code=code).first()
    context = {
        "row": row,
        "code": code,
        "lines": [line(each, scene) for each in mine[:MOST]],
        "count": len(mine),
        "may_label": row is not None and request.user.role in MAY_LABEL,
        "said": said,
    }
    there = status if row or mine else 404
    return render(request, "bench/shelf.html", context, status=there)


def line(each: Held, scene: Scene) -> dict[str, Any]:
    """One specimen on it."""
    try:
        stands = standing(each.stored(), scene.here.catalogue, scene.choices)
        until = f"kept until {clock_words(stands.keep_until, scene.now)}"
    except InputError as refused:
        until = str(refused)
    return {
        "held": each,
        "tube": tube_of(each, scene.here.catalogue),
        "since": clock_words(each.stored().since, scene.now),
        "until": until,
    }


@require_GET
@who_may(*MAY_LABEL)
def label(request: DeskRequest, code: str) -> HttpResponse:
    """The label of one shelf, on the place's label paper."""
    row = selectors_bench.shelves(request.place).filter(code=code).first()
    if row is None:
        raise Http404
    return printed(request, [row])


@require_GET
@who_may(*MAY_LABEL)
def labels(request: DeskRequest) -> HttpResponse:
    """The labels of every shelf of the place."""
    return printed(request, list(selectors_bench.shelves(request.place)))


def printed(request: DeskRequest, shelves: Sequence[Shelf]) -> HttpResponse:
    """The labels as a PDF, or the sentence that says why there is none."""
    try:
        data = shelf_labels(shelves, scene_at(request.place))
    except LabelError as refused:
        context = {"said": str(refused)}
        return render(request, "bench/no_label.html", context, status=422)
    response = HttpResponse(data, content_type="application/pdf")
    response["Content-Disposition"] = 'inline; filename="shelves.pdf"'
    return response
