"""The catalogue on screen."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.catalogue.page import lines, test_page
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import EVERY_ROLE, who_may


@require_GET
@who_may(*EVERY_ROLE)
def index(request: DeskRequest) -> HttpResponse:
    """Every test and panel, or those that were searched for."""
    catalogue = catalogue_at(request.place.catalogue_folder)
    q = request.GET.get("q", "").strip()
    context = {"q": q, "lines": lines(catalogue, q), "catalogue": catalogue}
    page = "catalogue/lines.html" if request.htmx else "catalogue/index.html"
    return render(request, page, context)


@require_GET
@who_may(*EVERY_ROLE)
def entry(request: DeskRequest, code: str) -> HttpResponse:
    """One test with everything it needs, or a panel with its tests."""
    catalogue = catalogue_at(request.place.catalogue_folder)
    if code in catalogue.panels:
        tests = [catalogue.tests[test] for test, _ in catalogue.expand(code)]
        context = {"panel": catalogue.panels[code], "tests": tests}
        return render(request, "catalogue/panel.html", context)
    if code not in catalogue.tests:
        raise Http404
    page = test_page(catalogue.tests[code], catalogue, request.place.choices)
    return render(request, "catalogue/test.html", {"page": page})


@require_GET
@who_may(*EVERY_ROLE)
def sources(request: DeskRequest) -> HttpResponse:
    """Every source, and how much of the tables stands on it."""
    catalogue = catalogue_at(request.place.catalogue_folder)
    counted: dict[str, int] = {}
    for cls in catalogue.tables:
        for row in catalogue.rows(cls):
            counted[row.source] = counted.get(row.source, 0) + 1
    listed = [(source, counted.get(source.key, 0)) for source in catalogue.sources.values()]
    shares: dict[str, int] = {}
    for source, rows in listed:
        shares[source.basis] = shares.get(source.basis, 0) + rows
    context = {"listed": listed, "shares": shares.items(), "catalogue": catalogue}
    return render(request, "catalogue/sources.html", context)
