"""What is due after incidents: the page of it, and what stands on the first page of the day."""

from __future__ import annotations

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.logbook.lines import Due, due_of
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import EVERY_ROLE, who_may
from cubital.desk.record import logbook, selectors
from cubital.desk.record import selectors_quality as quality
from cubital.desk.record.models import Role
from cubital.errors import EventRefused, InputError
from cubital.logbook import Entry, concerned, exposures, log_entries, seen_by

KEEPERS = (Role.QUALITY, Role.MANAGER)
"""Who keeps the logbook and sees all of it."""


def keeps_logbook(request: DeskRequest) -> bool:
    """Whether this person sees the whole logbook."""
    return request.user.role in KEEPERS


def open_entries(request: DeskRequest, *, site: str) -> tuple[Entry, ...]:
    """Incidents with something still to do that this person may know of."""
    catalogue = catalogue_at(request.place.catalogue_folder)
    events = quality.open_incidents(site=site)
    entries = log_entries(events, catalogue, ZoneInfo(request.place.time_zone))
    if keeps_logbook(request):
        return entries
    return seen_by(entries, request.user.username, catalogue)


@dataclass(frozen=True, slots=True)
class FirstPage:
    """What stands on the day's first page: what can be done now, else the next; and how many."""

    shown: tuple[Due, ...]
    count: int


def first_page(request: DeskRequest) -> FirstPage:
    """
    Exposures of which something is due, of any place, for the day's first page.

    The quality role and managers see all; everybody else their own.
    """
    catalogue = catalogue_at(request.place.catalogue_folder)
    found = exposures(open_entries(request, site=""), catalogue)
    if not keeps_logbook(request):
        found = tuple(e for e in found if request.user.username in concerned(e))
    due = due_of(found, quality.names_known(), catalogue, timezone.now())
    now = tuple(each for each in due if each.now or each.overdue)
    return FirstPage(now or tuple(due[:1]), len(due))


@require_GET
@who_may(*EVERY_ROLE)
def follow_ups(request: DeskRequest) -> HttpResponse:
    """Everything still to do at this place, or at all places."""
    everywhere = keeps_logbook(request) and request.GET.get("place") == "all"
    catalogue = catalogue_at(request.place.catalogue_folder)
    entries = open_entries(request, site="" if everywhere else request.place.code)
    due = due_of(entries, quality.names_known(), catalogue, timezone.now())
    context = {
        "now": [each for each in due if each.now or each.overdue],
        "later": [each for each in due if not (each.now or each.overdue)],
        "everywhere": everywhere,
        "keeps": keeps_logbook(request),
        "place_names": {row.code: row.name for row in selectors.places()},
    }
    return render(request, "logbook/follow_ups.html", context)


@require_POST
@who_may(*EVERY_ROLE)
def done(request: DeskRequest) -> HttpResponse:
    """Note that something due was done."""
    code, incident = request.POST.get("follow_up", ""), request.POST.get("incident", "")
    events = quality.incident_events([incident])
    catalogue = catalogue_at(request.place.catalogue_folder)
    entries = log_entries(events, catalogue, ZoneInfo(request.place.time_zone))
    if not keeps_logbook(request):
        entries = seen_by(entries, request.user.username, catalogue)
    entry = next((e for e in entries if e.subject == f"incident:{incident}"), None)
    if entry is None:
        raise Http404
    try:
        logbook.follow_up_done(entry=entry, code=code, by=request.user, now=timezone.now())
    except (InputError, EventRefused) as refused:
        messages.error(request, str(refused), extra_tags="wrong")
    else:
        left = sum(each.done_at is None for each in entry.follow_ups) - 1
        what = f"Noted. Still to do: {left}." if left else "Noted. Nothing is left to do: closed."
        messages.success(request, what, extra_tags="good")
    return redirect(back_to(request))


def back_to(request: DeskRequest) -> str:
    """The page of the desk from which something was noted: one of a few."""
    asked = request.POST.get("back", "")
    return asked if asked in ("day", "follow-ups") else "follow-ups"
