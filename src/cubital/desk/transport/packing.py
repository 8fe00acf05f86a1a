"""A box that is being packed: scanned in and out, looked at by the rules, sent."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from cubital.catalogue.model_way import Cooling
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.reception.scan import number_read
from cubital.desk.record import boxes, selectors, selectors_way
from cubital.desk.transport.boxes import CARRIES, box_context, shown
from cubital.desk.transport.known import here_at
from cubital.desk.transport.load import packed
from cubital.errors import EventRefused, InputError


@require_POST
@who_may(*CARRIES)
def pack(request: DeskRequest, code: str) -> HttpResponse:
    """Scan a specimen into the box, or out of it."""
    text = request.POST.get("text", "").strip()
    out = "out" in (request.POST.get("way"), request.GET.get("way"))
    kind, word = moved(request, code, text, out=out)
    if not request.htmx:
        tags = "good" if kind == "good" else "wrong"
        messages.add_message(request, messages.INFO, word, extra_tags=tags)
        return redirect(reverse("transport-box", args=[code]) + "?pack=1")
    context = box_context(request, code) | {"word": word, "kind": kind}
    return render(request, "transport/packing.html", context)


def moved(request: DeskRequest, code: str, text: str, *, out: bool) -> tuple[str, str]:
    """Put a specimen in or take it out; gives the kind of answer and its sentence."""
    number, misread = number_read(text)
    specimen = selectors_way.specimen_now(number)
    if specimen is None:
        return "stop", misread or f"The record knows no specimen {number[:64]!r}."
    if not out and specimen.place == f"box:{code}" and specimen.state == "boxed":
        return "twice", f"{number} is in this box already."
    write = boxes.box_take_out if out else boxes.box_put_in
    try:
        boxes.box_named(code)
        write(box=code, specimen=number, place=request.place, by=request.user, now=timezone.now())
    except (InputError, EventRefused) as refused:
        return "stop", str(refused)
    found = packed(code, selectors_way.box_now(code), here_at(request.place))
    own = [each for each in found.findings if each.subject == number]
    if own and not out:
        hardest = "stop" if any(f in found.stops for f in own) else "ask"
        return hardest, f"{number} is in the box. {own[0].sentence}"
    return "good", f"{number} is {'taken out' if out else 'in the box'}."


@require_POST
@who_may(*CARRIES)
def plan(request: DeskRequest, code: str) -> HttpResponse:
    """Keep where the box shall go and how; the rules look again at what is in it."""
    keep_plan(request, code)
    if not request.htmx:
        return redirect(reverse("transport-box", args=[code]) + "?pack=1")
    context = box_context(request, code) | {"oob": True, "why": request.POST.get("why", "")}
    pieces = ("transport/contents.html", "transport/leave_end.html")
    return HttpResponse("".join(render_to_string(each, context, request) for each in pieces))


def keep_plan(request: DeskRequest, code: str) -> None:
    """Keep what of the plan can be kept: places and coolings that there are."""
    here = here_at(request.place)
    to = request.POST.get("to", "")
    cooling = request.POST.get("cooling", "")
    known = {row.code for row in here.catalogue.rows(Cooling)}
    boxes.box_plan_change(
        box=code[:64],
        to=to if selectors.place_by_code(to) is not None else "",
        cooling=cooling if cooling in known else "",
        courier=request.POST.get("courier", ""),
    )


@require_POST
@who_may(*CARRIES)
def send(request: DeskRequest, code: str) -> HttpResponse:
    """Let the box leave, unless a rule stops it."""
    keep_plan(request, code)
    box = selectors_way.box_now(code)
    found = packed(code, box, here_at(request.place))
    try:
        if box is None or not found.contents:
            raise InputError(f"Box {code} is empty", mend="Scan something into it first.")
        if found.stops:
            raise InputError("Something in it must not travel so", mend=found.stops[0].sentence)
        boxes.box_send(
            box=box,
            plan=found.plan,
            asked=found.asks,
            why=request.POST.get("why", ""),
            place=request.place,
            by=request.user,
            now=timezone.now(),
        )
    except (InputError, EventRefused) as refused:
        return shown(request, code, str(refused), status=422, why=request.POST.get("why", ""))
    messages.success(request, f"Box {code} is on its way.", extra_tags="good")
    return redirect("transport")
