"""The boxes that concern a place, and the page of one box."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from cubital.catalogue.model_way import Cooling, TemperatureBand
from cubital.custody import Box, BoxState, Specimen
from cubital.desk.draw.page import said
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.reception.shown import short_name, since, tube_shown
from cubital.desk.record import boxes, selectors, selectors_way
from cubital.desk.record.models import Place, Role
from cubital.desk.transport.known import Here, here_at
from cubital.desk.transport.load import Content, Packed, Unpacked, packed, unpacked
from cubital.errors import InputError

CARRIES = (Role.COLLECTOR, Role.BENCH)
MAY_LOOK = (*CARRIES, Role.QUALITY)
LOOK_BACK = timedelta(days=2)
MOST = 60


@require_GET
@who_may(*MAY_LOOK)
def overview(request: DeskRequest) -> HttpResponse:
    """List boxes packed here, arriving, on their way and opened."""
    now = timezone.now()
    found = selectors_way.boxes_of(request.place, now - LOOK_BACK)
    names = {place.code: place.name for place in selectors.places()}
    ready = selectors_way.ready_to_go(request.place)
    here = here_at(request.place)
    lists = [
        ("Being packed here", found.packing, ""),
        ("Arriving", found.arriving, "sent_at"),
        ("On their way from here", found.under_way, "sent_at"),
        ("Opened here", found.opened, "opened_at"),
    ]
    return render(
        request,
        "transport/boxes.html",
        {
            "lists": [
                (title, [line(row, names, moment, now, here) for row in rows])
                for title, rows, moment in lists
            ],
            "ready": [{"row": row, "since": since(row.collected_at, now)} for row in ready[:MOST]],
            "ready_count": ready.count(),
            "may_write": request.user.role in CARRIES,
        },
    )


def line(row: Any, names: dict[str, str], moment: str, now: Any, here: Here) -> dict[str, Any]:
    """One box of a list."""
    at = getattr(row, moment) if moment else None
    return {
        "row": row,
        "route": route(row, names),
        "cooling": cooling_name(row.cooling, here),
        "at": at,
        "since": since(at, now) if at is not None else "",
        "count": len(row.specimens),
        "missing": len(missing_of(row)) if row.state == BoxState.OPENED else 0,
    }


def route(row: Any, names: dict[str, str]) -> str:
    """Where a box is, or from where to where it goes."""
    place = names.get(row.site, row.site)
    return f"{place} to {names.get(row.to, row.to)}" if row.state == BoxState.SENT else place


def missing_of(row: Any) -> list[Specimen]:
    """Specimens of an opened box that have not come to light."""
    found = selectors_way.specimens_now(row.specimens)
    return [each for each in found.values() if each.place == f"box:{row.code}"]


def cooling_name(code: str, here: Here) -> str:
    """A kind of cooling in words."""
    rows = here.catalogue.rows(Cooling)
    return next((each.name for each in rows if each.code == code), code)


@require_GET
@who_may(*MAY_LOOK)
def find(request: DeskRequest) -> HttpResponse:
    """Open the page of a box that was scanned, or of the box in which a specimen lies."""
    text = request.GET.get("text", "").strip()
    specimen = selectors_way.specimen_now(text)
    if specimen is not None and specimen.place.startswith("box:"):
        return redirect("transport-box", specimen.place.partition(":")[2])
    try:
        if specimen is not None:
            raise InputError(f"{text} is a specimen, and in no box")
        return redirect("transport-box", boxes.box_named(text))
    except InputError as refused:
        messages.error(request, str(refused), extra_tags="wrong")
        return redirect("transport")


@require_GET
@who_may(*MAY_LOOK)
def page(request: DeskRequest, code: str) -> HttpResponse:
    """Show one box: being packed, on its way, or opened."""
    return shown(request, code)


def shown(
    request: DeskRequest, code: str, said_: str = "", status: int = 200, **more: Any
) -> HttpResponse:
    """The whole page of a box."""
    try:
        boxes.box_named(code)
    except InputError as unnamed:
        raise Http404 from unnamed
    context = box_context(request, code) | {"said": said_, **more}
    return render(request, "transport/box.html", context, status=status)


def box_context(request: DeskRequest, code: str) -> dict[str, Any]:
    """Everything the page of a box reads, by how it stands."""
    here, now = here_at(request.place), timezone.now()
    box = selectors_way.box_now(code)
    travels = selectors_way.travels_of(code)
    place: Place = request.place
    packs = "pack" in request.GET or (box is not None and box.state is BoxState.PACKING)
    context: dict[str, Any] = {
        "code": code,
        "box": box,
        "may_write": request.user.role in CARRIES,
        "names": {each.code: each.name for each in selectors.places()},
        "now": now,
        "stands": stands(box, place, packs=packs),
    }
    if context["stands"] == "packing":
        context |= packing_context(packed(code, box, here), here)
    elif box is not None and travels:
        context |= journey_context(box, unpacked(box, travels[0], here), here)
        context["earlier"] = travels[1:6]
    return context


def stands(box: Box | None, place: Place, *, packs: bool) -> str:
    """
    How a box stands for this place.

    ``packing`` here, ``arriving`` here, ``opened`` here, ``under_way`` or ``elsewhere``.
    """
    if box is None:
        return "packing"
    if box.state is BoxState.SENT:
        return "arriving" if box.to == place.code else "under_way"
    if box.site != place.code:
        return "elsewhere"
    return "packing" if packs else "opened"


def packing_context(found: Packed, here: Here) -> dict[str, Any]:
    """What the page of a box that is being packed shows."""
    return {
        "plan": found.plan,
        "contents": [content(each, here) for each in found.contents],
        "stops": bool(found.stops),
        "asks": bool(found.asks),
        "others": [p for p in selectors.places() if p.code != here.row.code],
        "coolings": [(row.code, row.name) for row in here.catalogue.rows(Cooling)],
    }


def content(each: Content, here: Here) -> dict[str, Any]:
    """One specimen of a box in words."""
    return {
        "specimen": each.specimen,
        "patient": each.row.patient.shown_name if each.row is not None else each.specimen.patient,
        "tube": tube_shown(each.specimen, here.catalogue),
        "tests": [short_name(test, here.catalogue) for test in each.tests],
        "said": said(each.findings, here.catalogue),
        "state": each.specimen.state.replace("_", " "),
    }


def journey_context(box: Box, found: Unpacked, here: Here) -> dict[str, Any]:
    """What the page of a box that left shows."""
    codes = set(found.found)
    rows = {row.condition: row.name for row in here.catalogue.rows(TemperatureBand)}
    return {
        "travel": found.travel,
        "cooling": cooling_name(box.cooling, here),
        "contents": [
            content(each, here)
            | {
                "found": each.specimen.code in codes,
                "missing": any(f.subject == each.specimen.code for f in found.findings),
            }
            for each in found.contents
        ],
        "found_count": sum(each.specimen.code in codes for each in found.contents),
        "unlisted": found.unlisted,
        "awaited": found.awaited,
        "compared": said(found.findings, here.catalogue),
        "logs": list(selectors_way.logs_of(found.travel.sent.id)),
        "bands": list(rows.items()),
        "condition": condition_of(box.cooling, here),
    }


def condition_of(cooling: str, here: Here) -> str:
    """The band that belongs to a kind of cooling, "" where none is known."""
    rows = here.catalogue.rows(Cooling)
    return next((row.condition for row in rows if row.code == cooling), "")
