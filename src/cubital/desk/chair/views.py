"""The chair's page and what it asks: the round, a short draw, labels, habits."""

from __future__ import annotations

import json
from typing import Any

from django.conf import settings
from django.http import HttpResponse, JsonResponse
from django.shortcuts import render
from django.views.decorators.csrf import ensure_csrf_cookie
from django.views.decorators.http import require_GET, require_POST

from cubital.desk.chair.assets import assets, worker_version
from cubital.desk.chair.labels import chair_labels
from cubital.desk.chair.round import round_of
from cubital.desk.chair.short import short_answer, short_steps
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import anyone, who_may
from cubital.desk.record import sheets
from cubital.desk.record.models import Role
from cubital.errors import InputError

collector = who_may(Role.COLLECTOR)


@require_GET
@ensure_csrf_cookie
@collector
def chair(request: DeskRequest) -> HttpResponse:
    """The page itself: nothing about anybody stands in it, so that a device may keep it."""
    context = {"folder": f"{settings.STATIC_URL}chair/"}
    response = render(request, "chair/page.html", context)
    response["Cache-Control"] = "no-cache"
    return response


@require_GET
@anyone
def worker(request: DeskRequest) -> HttpResponse:
    """The service worker, at the root so that it may keep the chair's page."""
    context = {"version": worker_version(), "files": json.dumps(assets())}
    response = render(request, "chair/sw.js", context, content_type="text/javascript")
    response["Cache-Control"] = "no-cache"
    return response


@require_POST
@collector
def load_round(request: DeskRequest) -> HttpResponse:
    """Today's waiting requisitions with everything a draw needs; containers get their numbers."""
    response = JsonResponse(round_of(request.place, request.user))
    response["Cache-Control"] = "no-store"
    return response


@require_GET
@collector
def short_table(request: DeskRequest, code: str) -> HttpResponse:
    """What can still be done with too little blood, in steps, for when the network is cut."""
    try:
        return JsonResponse(short_steps(code, request.place))
    except InputError as refused:
        return JsonResponse({"sentence": str(refused)}, status=404)


@require_POST
@collector
def short(request: DeskRequest) -> HttpResponse:
    """What can still be done with so much blood in the tubes that are left."""
    try:
        return JsonResponse(short_answer(body(request), request.place))
    except InputError as refused:
        return JsonResponse({"sentence": str(refused)}, status=422)


@require_POST
@collector
def labels(request: DeskRequest) -> HttpResponse:
    """Labels of the tubes of a sheet, as a PDF."""
    try:
        data = chair_labels(
            request.POST.get("sheet", ""),
            request.POST.getlist("tube"),
            request.place,
            request.user.get_username(),
        )
    except InputError as refused:
        return render(request, "chair/refused.html", {"refused": str(refused)}, status=422)
    response = HttpResponse(data, content_type="application/pdf")
    response["Content-Disposition"] = 'inline; filename="labels.pdf"'
    response["Cache-Control"] = "no-store"
    return response


@require_POST
@collector
def habits(request: DeskRequest) -> HttpResponse:
    """Keep whether this person wants reminders and sounds."""
    try:
        given = body(request)
    except InputError as refused:
        return JsonResponse({"sentence": str(refused)}, status=422)
    habit = sheets.habit_change(
        person=request.user,
        reminders=given.get("reminders") is not False,
        sounds=given.get("sounds") is not False,
    )
    return JsonResponse({"reminders": habit.reminders, "sounds": habit.sounds})


def body(request: DeskRequest) -> dict[str, Any]:
    """
    The JSON object that a page sent.

    Raises:
        InputError: it is none.
    """
    try:
        given = json.loads(request.body)
    except ValueError as bad:
        raise InputError("The question cannot be read", mend="Load the page anew.") from bad
    if not isinstance(given, dict):
        raise InputError("The question is no JSON object", mend="Load the page anew.")
    return given
