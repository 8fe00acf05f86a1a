"""A box that arrives: opened, unpacked by scanner, compared with its list."""

from __future__ import annotations

from dataclasses import replace

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.template.loader import render_to_string
from django.utils import timezone
from django.views.decorators.http import require_POST

from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.reception.scan import InBox, Scene, answer_scan
from cubital.desk.reception.shown import joined
from cubital.desk.reception.tray import MAY_LOOK as AT_RECEPTION
from cubital.desk.reception.tray import line, plain
from cubital.desk.record import boxes, selectors_way
from cubital.desk.transport.boxes import CARRIES, box_context, shown
from cubital.desk.transport.known import here_at
from cubital.desk.transport.load import unpacked
from cubital.errors import EventRefused


@require_POST
@who_may(*CARRIES)
def open_box(request: DeskRequest, code: str) -> HttpResponse:
    """Open a box where it arrived."""
    try:
        boxes.box_open(box=code, place=request.place, by=request.user, now=timezone.now())
    except EventRefused as refused:
        return shown(request, code, str(refused), status=422)
    messages.success(request, f"Box {code} is open: scan what is in it.", extra_tags="good")
    return redirect("transport-box", code)


@require_POST
@who_may(*CARRIES)
def found(request: DeskRequest, code: str) -> HttpResponse:
    """Answer one scan out of an opened box; what is missing or not listed is told at once."""
    box = selectors_way.box_now(code)
    travels = selectors_way.travels_of(code)
    if box is None or not travels or travels[0].opened is None or box.site != request.place.code:
        return shown(request, code, f"Box {code} is not open here.", status=422)
    travel = travels[0]
    scene = Scene(
        here_at(request.place),
        request.user,
        timezone.now(),
        InBox(code, travel.sent.id, travel.listed),
    )
    answer = answer_scan(request.POST.get("text", ""), scene)
    if request.user.role not in AT_RECEPTION:
        answer = replace(answer, link="")  # a page that this role may not open
    if not request.htmx:
        tags = "wrong" if answer.stands_out else "good"
        messages.add_message(request, messages.INFO, plain(answer), extra_tags=tags)
        return redirect("transport-box", code)
    context = box_context(request, code)
    return HttpResponse(
        line(answer) + render_to_string("transport/compared.html", context, request)
    )


@require_POST
@who_may(*CARRIES)
def nothing_more(request: DeskRequest, code: str) -> HttpResponse:
    """Everything was scanned: what is listed and was not found is missing."""
    box = selectors_way.box_now(code)
    travels = selectors_way.travels_of(code)
    if box is None or not travels or travels[0].opened is None or box.site != request.place.code:
        return shown(request, code, f"Box {code} is not open here.", status=422)
    here = here_at(request.place)
    missing = unpacked(box, travels[0], here).awaited
    if not missing:
        messages.success(request, "Nothing is missing.", extra_tags="good")
        return redirect("transport-box", code)
    try:
        boxes.box_say_missing(
            box=code, missing=missing, place=request.place, by=request.user, now=timezone.now()
        )
    except EventRefused as refused:
        return shown(request, code, str(refused), status=422)
    names = joined(each.code for each in missing)
    messages.error(request, f"Missing from box {code}: {names}.", extra_tags="wrong")
    return redirect("transport-box", code)
