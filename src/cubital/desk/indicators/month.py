"""A month of the indicators: its overview, its report on a page and on paper, its charts."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from cubital.desk.indicators.asked import Asked, around, asked, month_text, no_lake
from cubital.desk.indicators.figures import Shown, shown
from cubital.desk.indicators.kept import KEPT
from cubital.desk.logbook.due import KEEPERS
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.errors import InputError
from cubital.indicators.paper import report_pdf
from cubital.indicators.plots import alts
from cubital.indicators.report_values import Report

Page = Callable[[DeskRequest, Asked], HttpResponse]
DRIVERS = "haemolysis-drivers"


def of_a_month(page: Page) -> Callable[[DeskRequest], HttpResponse]:
    """Give a page the month it is asked for, or say that there are no figures yet."""

    @wraps(page)
    def view(request: DeskRequest, **more: Any) -> HttpResponse:
        try:
            found = asked(request)
            return page(request, found, **more)
        except InputError as refused:
            return render(request, "indicators/none.html", no_lake(refused))

    return view


def told(found: Asked) -> tuple[Report, list[Shown]]:
    """The report of a month, and its lines in words."""
    report = found.report()
    return report, shown(report, alts(report), found.catalogue)


@require_GET
@who_may(*KEEPERS)
@of_a_month
def overview(request: DeskRequest, found: Asked) -> HttpResponse:
    """Every indicator of the month on one page: value, interval, published level, change."""
    report, lines = told(found)
    found_some = [each for each in lines if not (each.nothing or each.none_found)]
    context = {
        **around(found),
        "report": report,
        "harmonised": [each for each in found_some if each.what.harmonised],
        "own": [each for each in found_some if not each.what.harmonised],
        "none_found": [each for each in lines if each.none_found],
        "nothing": [each for each in lines if each.nothing],
    }
    return render(request, "indicators/overview.html", context)


@require_GET
@who_may(*KEEPERS)
@of_a_month
def report_page(request: DeskRequest, found: Asked) -> HttpResponse:
    """The report of the month: sentences, charts, and the figures behind each."""
    report, lines = told(found)
    context = {
        **around(found),
        "report": report,
        "lines": [each for each in lines if not (each.nothing or each.none_found)],
        "none_found": [each for each in lines if each.none_found],
        "nothing": [each for each in lines if each.nothing],
        "drivers_chart": drivers_chart(report),
    }
    return render(request, "indicators/report.html", context)


@require_GET
@who_may(*KEEPERS)
@of_a_month
def haemolysis(request: DeskRequest, found: Asked) -> HttpResponse:
    """What goes with haemolysis here, with its caution."""
    report = found.report()
    context = {**around(found), "report": report, "drivers_chart": drivers_chart(report)}
    return render(request, "indicators/haemolysis.html", context)


def drivers_chart(report: Report) -> str:
    """What the chart of the drivers shows, "" where there is none."""
    return alts(report).get(DRIVERS, "")


@require_GET
@who_may(*KEEPERS)
@of_a_month
def report_paper(request: DeskRequest, found: Asked) -> HttpResponse:
    """The report of the month as a PDF."""
    report = found.report()
    pdf = KEPT.get(("paper", *found.key), lambda: report_pdf(report))
    response = HttpResponse(pdf, content_type="application/pdf")
    name = f"indicators-{month_text(found.month)}.pdf"
    response["Content-Disposition"] = f'inline; filename="{name}"'
    return response


@require_GET
@who_may(*KEEPERS)
def chart(request: DeskRequest, code: str) -> HttpResponse:
    """One chart of the report as SVG."""
    try:
        drawn = asked(request).picture(code)
    except InputError:
        drawn = None
    if drawn is None:
        raise Http404
    return HttpResponse(drawn, content_type="image/svg+xml")
