"""Making the figures anew from the record."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from cubital.desk.indicators.asked import under_way
from cubital.desk.indicators.lake import MAKER
from cubital.desk.logbook.due import KEEPERS
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may


@require_POST
@who_may(*KEEPERS)
def make(request: DeskRequest) -> HttpResponse:
    """Begin to make the figures anew; the page tells how far it is."""
    if not MAKER.begin(timezone.now()):
        messages.info(request, "They are being made already.", extra_tags="ask")
    return redirect("indicators")


@require_GET
@who_may(*KEEPERS)
def progress(request: DeskRequest) -> HttpResponse:
    """How far it is; when it is over the page is loaded anew."""
    response = render(request, "indicators/making.html", under_way())
    if request.htmx and not MAKER.running:
        response["HX-Refresh"] = "true"
    return response
