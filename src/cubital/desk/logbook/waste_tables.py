"""The daily, monthly and yearly tables of waste."""

from __future__ import annotations

from datetime import date, timedelta
from zoneinfo import ZoneInfo

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from cubital.desk.logbook.asked import Days, day_of
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import EVERY_ROLE, who_may
from cubital.desk.record import selectors_quality as quality
from cubital.desk.record.waste import bag_of
from cubital.desk.words import G_PER_KG, plain
from cubital.logbook import waste_table

PERIODS = {"day": "day", "month": "month", "year": "year"}
YEARS_BACK = 10


@require_GET
@who_may(*EVERY_ROLE)
def tables(request: DeskRequest) -> HttpResponse:
    """Closed bags by stream: the days of a month, the months of a year, or the years."""
    by = request.GET.get("by", "day")
    by = by if by in PERIODS else "day"
    today = timezone.localdate()
    text = request.GET.get("at", "")
    at = day_of(text) or today
    said = f"“{text[:20]}” is no day; shown is today’s." if text and not day_of(text) else ""
    days = days_of(by, at)
    start, end = days.bounds(request.place)
    rows = quality.waste_closed(site=request.place.code, start=start, end=end)
    lines = waste_table(map(bag_of, rows), ZoneInfo(request.place.time_zone), by=by)
    context = {
        "by": by,
        "periods": PERIODS.values(),
        "at": at,
        "days": days,
        "before": days.first - timedelta(days=1),
        "after": days.last + timedelta(days=1),
        "may_go_on": days.last < today,
        "lines": [
            (line.period, plain(line.stream), line.bags, to_the_gram(line.weight_g), line.unweighed)
            for line in lines
        ],
        "bags": sum(line.bags for line in lines),
        "weight": to_the_gram(sum(line.weight_g for line in lines)),
        "unweighed": sum(line.unweighed for line in lines),
        "title": title_of(by, days),
        "said": said,
    }
    return render(request, "waste/tables.html", context)


def to_the_gram(weight_g: int) -> str:
    """Kilograms with three decimals, so that a column of them stands in line."""
    return f"{weight_g / G_PER_KG:.3f}"


def days_of(by: str, at: date) -> Days:
    """The month of a day by day, the year of it by month, ten years by year."""
    if by == "day":
        first = at.replace(day=1)
        return Days(first, (first + timedelta(days=32)).replace(day=1) - timedelta(days=1))
    last = at.replace(month=12, day=31)
    if by == "month":
        return Days(at.replace(month=1, day=1), last)
    return Days(date(at.year - YEARS_BACK + 1, 1, 1), last)


def title_of(by: str, days: Days) -> str:
    """What the table shows, in words."""
    if by == "day":
        return f"{days.first:%B %Y}, day by day"
    if by == "month":
        return f"{days.first.year}, month by month"
    return f"{days.first.year} to {days.last.year}, year by year"
