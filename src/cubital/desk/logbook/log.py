"""The searchable log, the sheet of a day, and the needle sticks of patients."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_GET

from cubital.catalogue.model_chair import NotObtained
from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.logbook.asked import Days, day_of, days_asked
from cubital.desk.logbook.due import KEEPERS
from cubital.desk.logbook.kept import kept_entries
from cubital.desk.logbook.lines import HEADINGS, lines_of, with_whose
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.record import selectors
from cubital.desk.record import selectors_quality as quality
from cubital.desk.record.models import Place
from cubital.logbook import Entry, Sticks, log_entries, named, prick_entries, search, stick_log
from cubital.logbook import day_sheet as sheet_of

LOG_BACK, LOG_MOST = 30, 366
STICKS_MOST = 31
ON_A_PAGE = 40


def entries_between(place: Place, days: Days, *, everywhere: bool) -> tuple[Entry, ...]:
    """Every entry of these days, newest first."""
    catalogue = catalogue_at(place.catalogue_folder)
    start, end = days.bounds(place)
    site = "" if everywhere else place.code
    events = quality.logged(site=site, start=start, end=end)
    pricked = quality.drawn_between(site=site, start=start, end=end, least_attempts=2)
    found = (
        *log_entries(events, catalogue, ZoneInfo(place.time_zone)),
        *prick_entries(pricked, catalogue),
        *kept_entries(catalogue, site=site, start=start, end=end),
    )
    return tuple(sorted(with_whose(found), key=lambda e: (e.at, e.event), reverse=True))


def searched(entries: Sequence[Entry], text: str, heading: str) -> list[Entry]:
    """Those in which every word occurs; people are also found by the names they are known by."""
    names = quality.names_known()
    by_event = {entry.event: entry for entry in entries}
    found = search((named(entry, names) for entry in entries), text, heading)
    return [by_event[entry.event] for entry in found]


@require_GET
@who_may(*KEEPERS)
def log(request: DeskRequest) -> HttpResponse:
    """Search the log: words, heading, days, this place or all."""
    days = days_asked(request, timezone.localdate(), back=LOG_BACK, most=LOG_MOST)
    everywhere = request.GET.get("place") == "all"
    heading = request.GET.get("heading", "")
    heading = heading if heading in HEADINGS else ""
    text = request.GET.get("q", "").strip()[:200]
    whole = entries_between(request.place, days, everywhere=everywhere)
    found = searched(whole, text, heading)
    pages = Paginator(found, ON_A_PAGE)
    page = pages.get_page(request.GET.get("page"))
    places = {row.code: row.name for row in selectors.places()}
    asked = {
        "q": text,
        "heading": heading,
        "from": days.first.isoformat(),
        "to": days.last.isoformat(),
        "place": "all" if everywhere else "",
    }
    context = {
        "lines": lines_of(page.object_list, quality.names_known(), places, timezone.now()),
        "page": page,
        "count": len(found),
        "whole": len(whole),
        "days": days,
        "q": text,
        "heading": heading,
        "headings": [(code, words[1]) for code, words in HEADINGS.items()],
        "everywhere": everywhere,
        "several_places": len(places) > 1,
        "address": urlencode({name: value for name, value in asked.items() if value}),
        "said": days.said,
    }
    return render(request, "logbook/log.html", context)


@require_GET
@who_may(*KEEPERS)
def day_sheet(request: DeskRequest) -> HttpResponse:
    """One day's non-conformances on one sheet of paper."""
    today = timezone.localdate()
    text = request.GET.get("day", "")
    day = day_of(text) or today
    said = f"“{text[:20]}” is no day. Shown is today." if text and not day_of(text) else ""
    entries = entries_between(request.place, Days(day, day), everywhere=False)
    sheet = sheet_of(entries, day, ZoneInfo(request.place.time_zone))
    places = {request.place.code: request.place.name}
    lines = lines_of(sheet, quality.names_known(), places, timezone.now())
    counts = [
        (words[1], sum(line.entry.heading == code for line in lines))
        for code, words in HEADINGS.items()
    ]
    context = {
        "day": day,
        "today": today,
        "before": day - timedelta(days=1),
        "after": day + timedelta(days=1),
        "lines": lines,
        "counts": [pair for pair in counts if pair[1]],
        "said": said,
    }
    return render(request, "logbook/day_sheet.html", context)


@require_GET
@who_may(*KEEPERS)
def sticks(request: DeskRequest) -> HttpResponse:
    """The needle sticks of each patient, of a day or several; at first only more than one."""
    days = days_asked(request, timezone.localdate(), back=1, most=STICKS_MOST)
    start, end = days.bounds(request.place)
    events = quality.drawn_between(site=request.place.code, start=start, end=end)
    found = stick_log(events, ZoneInfo(request.place.time_zone))
    whole = request.GET.get("all") == "yes"
    names = quality.names_known()
    catalogue = catalogue_at(request.place.catalogue_folder)
    reasons = {row.code: row.name for row in catalogue.rows(NotObtained)}
    site_names = {code: row.name for code, row in catalogue.sites.items()}
    context = {
        "days": days,
        "whole": whole,
        "sticks": [
            stick_line(each, names, reasons, site_names) for each in found if whole or each.multiple
        ],
        "draws": len(found),
        "multiple": sum(each.multiple for each in found),
        "needles": sum(each.attempts for each in found),
        "failed": sum(not each.obtained for each in found),
        "said": days.said,
        "one_day": days.first == days.last,
        **around(days),
    }
    return render(request, "logbook/sticks.html", context)


def around(days: Days) -> dict[str, date]:
    """The day before and the day after, for going on day by day."""
    return {
        "before": days.first - timedelta(days=1),
        "after": days.last + timedelta(days=1),
    }


def stick_line(
    sticks: Sticks, names: dict[str, str], reasons: dict[str, str], sites: dict[str, str]
) -> dict[str, object]:
    """One draw's sticks in words."""
    return {
        "sticks": sticks,
        "collectors": ", ".join(names.get(each, each) for each in sticks.collectors),
        "reasons": "; ".join(reasons.get(each, each) for each in sticks.reasons),
        "sites": ", ".join(site_words(each, sites) for each in sticks.sites),
        "tourniquet_s": None
        if sticks.tourniquet is None
        else int(sticks.tourniquet.total_seconds()),
    }


def site_words(text: str, sites: dict[str, str]) -> str:
    """``left median_cubital`` with the site's name."""
    side, _, code = text.rpartition(" ")
    return f"{side} {sites.get(code, code)}".strip()
