"""One entry of the logbook: what is due, what was done, and its form on paper."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from cubital.catalogue import Catalogue
from cubital.custody import Event
from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.logbook.due import KEEPERS
from cubital.desk.logbook.forms import ActionForm
from cubital.desk.logbook.kept import kept_entry
from cubital.desk.logbook.lines import due_of, history, line_of, whose, with_whose
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.record import logbook, selectors
from cubital.desk.record import selectors_quality as quality
from cubital.desk.record.models import Event as EventRow
from cubital.desk.record.models import Place
from cubital.errors import EventRefused, InputError
from cubital.logbook import Entry, log_entries, prick_entries

keeper = who_may(*KEEPERS)


@dataclass(frozen=True, slots=True)
class Opened:
    """An entry with the row and the events behind it; no row where it comes of no event."""

    row: EventRow | None
    entry: Entry
    events: tuple[Event, ...]
    catalogue: Catalogue
    place: Place


def opened(request: DeskRequest, code: str) -> Opened:
    """
    The entry that an address names: an event's id, an incident's code, or the key of what is kept.

    Raises:
        Http404: there is none, or a correction took it away.
    """
    kept = kept_entry(code)
    if kept is not None:
        entry, where = kept
        (entry,) = with_whose([entry])
        return Opened(None, entry, (), catalogue_at(where.catalogue_folder), where)
    row = quality.entry_event(code) or quality.incident_event(code)
    place = selectors.place_by_code(row.site) if row is not None else None
    if row is None or place is None:
        raise Http404
    catalogue = catalogue_at(place.catalogue_folder)
    events = quality.entry_events(row)
    entries = (
        *log_entries(events, catalogue, ZoneInfo(place.time_zone)),
        *prick_entries(events, catalogue),
    )
    own = with_whose(each for each in entries if each.event == row.uuid)
    if not own:
        raise Http404
    (entry,) = own
    return Opened(row, entry, events, catalogue, place)


def shown(request: DeskRequest, found: Opened) -> dict[str, Any]:
    """What the page and the paper of an entry show."""
    names = quality.names_known()
    now = timezone.now()
    entry = found.entry
    about = quality.incidents_about(
        what=logbook.slip_word(entry, found.row),
        draw=logbook.draw_of(entry),
        specimen=logbook.specimen_of(entry),
    )
    return {
        "found": found,
        "entry": entry,
        "line": line_of(entry, names, {found.place.code: found.place.name}, now),
        "whose": whose(entry, names),
        "due": due_of([entry], names, found.catalogue, now),
        "follow_ups": [(each, names.get(each.owner, each.owner)) for each in entry.follow_ups],
        "history": history(found.events, entry, names),
        "incident": entry.subject.startswith("incident:"),
        "code": entry.subject.partition(":")[2],
        "made_of_it": [] if entry.subject.startswith("incident:") else about,
        "edition": found.catalogue.edition,
    }


@require_GET
@keeper
def page(request: DeskRequest, code: str) -> HttpResponse:
    """One entry: follow-ups, corrective actions, closing."""
    found = opened(request, code)
    form = ActionForm(quality.names_at(found.place))
    return render(request, "logbook/entry.html", {**shown(request, found), "form": form})


@require_POST
@keeper
def act(request: DeskRequest, code: str) -> HttpResponse:
    """Write a corrective action; of a slip that is no incident yet it makes one."""
    found = opened(request, code)
    form = ActionForm(quality.names_at(found.place), request.POST)
    refused = ""
    if form.is_valid():
        data = form.cleaned_data
        try:
            where = stored(request, found, data)
        except (InputError, EventRefused) as error:
            refused = str(error)
        else:
            closed = data["closed"]
            what = "Written down, and closed." if closed else "Written down."
            messages.success(request, what, extra_tags="good")
            return redirect("log-entry", where)
    context = {**shown(request, found), "form": form, "said": refused}
    return render(request, "logbook/entry.html", context, status=422)


def stored(request: DeskRequest, found: Opened, data: dict[str, Any]) -> str:
    """Store the action; gives the address of the entry that it belongs to."""
    now = timezone.now()
    if found.entry.subject.startswith("incident:"):
        logbook.incident_follow_up(entry=found.entry, by=request.user, now=now, **data)
        return found.entry.event
    return logbook.incident_from_slip(
        entry=found.entry, row=found.row, by=request.user, now=now, **data
    )


@require_GET
@keeper
def form(request: DeskRequest, code: str) -> HttpResponse:
    """The entry as a form on A4, with room for signatures."""
    return render(request, "logbook/form.html", shown(request, opened(request, code)))
