"""A wrong step of a waste bag, mended by the quality role."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from cubital.custody import Event
from cubital.custody.canonical import Json
from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.logbook.waste import bag_or_404, bag_page, grams_of, whole
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.record import selectors
from cubital.desk.record import selectors_quality as quality
from cubital.desk.record.models import Role, WasteNow
from cubital.desk.record.waste_mend import (
    waste_step_correct,
    waste_step_withdraw,
    waste_steps,
)
from cubital.desk.requisition.typed import moment
from cubital.errors import EventRefused, InputError


def said_in(request: DeskRequest, kind: str) -> dict[str, Json]:
    """
    What the form says a step was.

    Raises:
        InputError: something that cannot be read.
    """
    text = request.POST.get("value", "").strip()
    if kind == "waste_weighed":
        return {"weight_g": grams_of(text)}
    if kind == "waste_filled":
        return {"percent": whole(text, "how full", "Write a percentage, 0 to 100.")}
    names = {"waste_opened": "stream", "waste_handed_over": "to"}
    return {names[kind]: text} if kind in names else {}


@require_POST
@who_may(Role.QUALITY)
def correct(request: DeskRequest, code: str) -> HttpResponse:
    """Correct a step, or write that it never happened."""
    row = bag_or_404(code)
    try:
        said = mend(request, row)
    except (InputError, EventRefused) as refused:
        return bag_page(request, row, said=str(refused), status=422)
    messages.success(request, said, extra_tags="good")
    return redirect("waste-bag", code) if quality.waste_by_code(code) else redirect("waste")


def mend(request: DeskRequest, row: WasteNow) -> str:
    """
    Store a correction; gives what to say.

    Raises:
        InputError: what is wrong, where, and what to do.
        EventRefused: the record refuses it.
    """
    step, why = request.POST.get("event", ""), request.POST.get("why", "")
    now = timezone.now()
    if request.POST.get("act") == "withdraw":
        waste_step_withdraw(row=row, step=step, why=why, by=request.user, now=now)
        return f"{row.code}: the step is taken back. The record keeps both."
    place = selectors.place_by_code(row.site)
    zone = ZoneInfo(place.time_zone if place is not None else request.place.time_zone)
    stands = next((s.stands for s in waste_steps(row.code) if s.first.id == step), None)
    if stands is None:
        raise InputError("There is no such step any more", row.code, "Look at its steps again.")
    waste_step_correct(
        row=row,
        step=step,
        said=said_in(request, stands.kind),
        at=when(request, stands, zone),
        why=why,
        catalogue=catalogue_at(place.catalogue_folder if place is not None else ""),
        by=request.user,
        now=now,
    )
    return f"{row.code}: the step is corrected. The record keeps both."


def when(request: DeskRequest, stands: Event, zone: ZoneInfo) -> datetime:
    """
    When a step happened, as the form says; to the second as before where the minute is the same.

    Raises:
        InputError: no such time.
    """
    day, time = request.POST.get("date", ""), request.POST.get("time", "")
    before = stands.happened_at.astimezone(zone)
    if (day, time[:5]) in (("", ""), (f"{before:%Y-%m-%d}", f"{before:%H:%M}")):
        return stands.happened_at
    return moment(day, time, zone, "when")
