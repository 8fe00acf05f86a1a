"""Writing an incident down at the desk, and what to do at once."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from cubital.catalogue.model_chair import Mishap
from cubital.chair.mishaps import card
from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.logbook.due import keeps_logbook
from cubital.desk.logbook.forms import IncidentForm
from cubital.desk.logbook.lines import due_of
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import EVERY_ROLE, who_may
from cubital.desk.record import logbook
from cubital.desk.record import selectors_quality as quality
from cubital.errors import EventRefused, InputError
from cubital.logbook import log_entries, seen_by


@require_http_methods(["GET", "POST"])
@who_may(*EVERY_ROLE)
def new(request: DeskRequest) -> HttpResponse:
    """Write down what went wrong away from a chair: at the bench, on the stairs, in the store."""
    catalogue = catalogue_at(request.place.catalogue_folder)
    said = request.POST if request.method == "POST" else None
    form = IncidentForm(catalogue, quality.names_at(request.place), said)
    refused = ""
    if request.method == "POST" and form.is_valid():
        data = dict(form.cleaned_data)
        person = data.pop("person")
        try:
            code = logbook.incident_record(
                place=request.place,
                by=request.user,
                now=timezone.now(),
                catalogue=catalogue,
                people=(person,) if person else (),
                **data,
            )
        except (InputError, EventRefused) as error:
            refused = str(error)
        else:
            return redirect("incident-recorded", code)
    status = 422 if request.method == "POST" else 200
    context = {"form": form, "said": refused}
    return render(request, "logbook/new.html", context, status=status)


@require_GET
@who_may(*EVERY_ROLE)
def recorded(request: DeskRequest, code: str) -> HttpResponse:
    """After it was written down: first aid, and what is due."""
    catalogue = catalogue_at(request.place.catalogue_folder)
    events = quality.incident_events([code])
    entries = log_entries(events, catalogue, ZoneInfo(request.place.time_zone))
    if not keeps_logbook(request):
        own = tuple(e for e in entries if e.who == request.user.username)
        entries = own or seen_by(entries, request.user.username, catalogue)
    entry = next((e for e in entries if e.subject == f"incident:{code}"), None)
    known = {row.code for row in catalogue.rows(Mishap)}
    if entry is None or entry.code not in known:
        raise Http404
    context = {
        "entry": entry,
        "code": code,
        "card": card(catalogue, entry.code, dict(request.place.phone_numbers)),
        "due": due_of([entry], quality.names_known(), catalogue, timezone.now()),
        "keeps": keeps_logbook(request),
    }
    return render(request, "logbook/recorded.html", context)
