"""A logger's file: read or asked about, drawn, judged, and what it means for each test."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from cubital.desk.draw.page import said
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.reception.shown import span, test_name
from cubital.desk.reception.tray import MAY_LOOK as AT_RECEPTION
from cubital.desk.record import boxes, selectors, selectors_way
from cubital.desk.record.models import BoxLog
from cubital.desk.transport.boxes import CARRIES, MAY_LOOK, shown
from cubital.desk.transport.known import Here, here_at
from cubital.desk.transport.load import contents_of, travelled
from cubital.desk.transport.plot import plot
from cubital.errors import InputError
from cubital.finding import Finding, Severity
from cubital.transport import (
    ColumnsUnclear,
    Reading,
    TemperatureLog,
    covered,
    excursions,
    judge_journey,
    mean_kinetic_c,
    read_log,
)
from cubital.transport.judge import band_of, evenly

LARGEST = 20 * 1024 * 1024
COLUMNS = ("time", "temperature", "unit")


@require_POST
@who_may(*CARRIES)
def upload(request: DeskRequest, code: str) -> HttpResponse:
    """Read a logger's file for the last journey of a box; ask where the columns are unclear."""
    columns = {name: request.POST[name] for name in COLUMNS if request.POST.get(name)}
    try:
        row = store(request, code, columns if len(columns) == len(COLUMNS) else {})
    except ColumnsUnclear as unclear:
        if len(unclear.columns) > 1:
            return asked(request, code, unclear)
        mend = "Export it as CSV, with a time and a temperature on every line."
        return refused(request, code, InputError(unclear.what, unclear.where, mend))
    except InputError as error:
        return refused(request, code, error)
    address = reverse("transport-log", args=[row.pk])
    messages.success(request, f"{row.name} is read.", extra_tags="good")
    if not request.htmx:
        return redirect(address)
    response = HttpResponse(status=204)
    response["HX-Redirect"] = address
    return response


def refused(request: DeskRequest, code: str, error: InputError) -> HttpResponse:
    """Say in one sentence why nothing was read."""
    if request.htmx:
        return render(request, "transport/log_answer.html", {"log_said": str(error)})
    return shown(request, code, str(error), status=422)


def asked(request: DeskRequest, code: str, unclear: ColumnsUnclear) -> HttpResponse:
    """Ask which column is which; the file stays chosen on the page."""
    context = {"log_said": str(unclear), "columns": unclear.columns, "posted": request.POST}
    if request.htmx:
        return render(request, "transport/log_answer.html", context)
    return shown(request, code, str(unclear), status=422, **context)


def store(request: DeskRequest, code: str, columns: dict[str, str]) -> BoxLog:
    """
    Read, judge and keep a file.

    Raises:
        ColumnsUnclear: which column is which must be asked.
        InputError: no file, no journey, or a file that is refused in one sentence.
    """
    file = request.FILES.get("file")
    if file is None:
        raise InputError("No file was sent", mend="Choose the logger's CSV file first.")
    size, name = file.size or 0, file.name or ""
    if size > LARGEST:
        raise InputError(f"The file has {size // 1024 // 1024} MB", name,
                         "A log of up to 20 MB is read.")  # fmt: skip
    travels = selectors_way.travels_of(code)
    if not travels:
        raise InputError(f"Box {code} has not travelled", mend="Send it first.")
    here = here_at(request.place)
    data = file.read()
    log = read_log(
        data, name=name, catalogue=here.catalogue, zone=here.zone, columns=columns or None
    )
    sent, opened = travels[0].sent.happened_at, travels[0].opened
    until = opened.happened_at if opened is not None else timezone.now()
    short = covered(log, sent.astimezone(here.zone), until, here.catalogue)
    log = replace(log, findings=(*log.findings, *short))
    condition = request.POST.get("condition", "")
    band_of(here.catalogue, condition)
    items, _ = travelled(contents_of(travels[0].listed, here, ""))
    journey = judge_journey(log, condition, items, here.catalogue, dict(here.place.choices))
    return boxes.box_log_keep(
        box=code,
        sent=travels[0].sent.id,
        log=log,
        data=data,
        condition=condition,
        columns=columns,
        flights=journey.flights,
        edition=here.catalogue.edition,
        place=request.place,
        by=request.user,
        now=timezone.now(),
    )


@require_GET
@who_may(*MAY_LOOK)
def page(request: DeskRequest, pk: int) -> HttpResponse:
    """Show a log: its plot, what lay outside, and what it means for each test."""
    row = selectors_way.log_by_pk(pk)
    if row is None:
        raise Http404
    context = log_context(row, here_at(request.place))
    context["may_open"] = request.user.role in AT_RECEPTION
    return render(request, "transport/log.html", context)


def log_context(row: BoxLog, here: Here) -> dict[str, Any]:
    """What the page of a log shows; the flights as they were reckoned when it came."""
    readings = tuple(Reading(each.at, each.celsius) for each in row.readings.all())
    log = TemperatureLog(row.name, readings)
    band = band_of(here.catalogue, row.condition)
    found = excursions(log, band.low_c, band.high_c)
    factor = here.catalogue.decimal("logger_gap_factor")
    by = selectors_way.shown_names([row.read_by])
    place = selectors.place_by_code(row.site)
    flights = [flight(each, here) for each in row.flights.all()]
    return {
        "row": row,
        "by": by.get(row.read_by, row.read_by),
        "place": place,
        "band": band,
        "plot": plot(readings, band.low_c, band.high_c, found, here.zone, gap_factor=factor),
        "count": len(readings),
        "begin": log.begin,
        "end": log.end,
        "length": span(log.end - log.begin),
        "coldest": f"{min(each.celsius for each in readings):.1f}",
        "warmest": f"{max(each.celsius for each in readings):.1f}",
        "excursions": [
            {
                "begin": each.begin,
                "end": each.end,
                "length": span(each.length),
                "worst": f"{each.worst_c:.1f}",
                "word": "too warm" if each.above else "too cold",
                "degree_hours": f"{each.degree_hours:.2f}",
            }
            for each in found
        ],
        "degree_hours": f"{sum(each.degree_hours for each in found):.2f}",
        "kinetic": f"{mean_kinetic_c(evenly(readings), here.catalogue):.1f}",
        "said": said(map(finding_from, row.findings), here.catalogue),
        "flights": flights,
        "sources": list(dict.fromkeys(f.why.source for each in flights for f in each["said"])),
    }


def flight(each: Any, here: Here) -> dict[str, Any]:
    """One test of one specimen in words."""
    found = [finding_from(one) for one in each.findings]
    stops = any(one.severity is Severity.STOP for one in found)
    soon = here.catalogue.number("stability_soon_percent")
    hurry = each.used_percent >= soon or any(f.severity is Severity.ASK for f in found)
    kind = "stop" if stops else "ask" if hurry else "good"
    words = {"stop": "spoilt", "ask": "look", "good": "fit"}
    return {
        "specimen": each.specimen,
        "test": test_name(each.test, here.catalogue),
        "used": f"{each.used_percent:.0f}",
        "spoils_at": each.spoils_at if not stops else None,
        "kind": kind,
        "word": words[kind],
        "said": said(found, here.catalogue),
    }


def finding_from(kept: dict[str, str]) -> Finding:
    """A finding as it was kept."""
    return Finding(
        kept["code"],
        Severity(kept["severity"]),
        kept["sentence"],
        kept["source"],
        kept.get("subject", ""),
        kept.get("layer", "shipped"),
    )
