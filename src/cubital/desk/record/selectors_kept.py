"""Reads: what the logbook takes from what is kept beside the events: strangers and boxes' logs."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from zoneinfo import ZoneInfo

from django.db.models import Max, Min, Q, QuerySet

from cubital.catalogue.model_way import TemperatureBand
from cubital.desk.record.models import BoxLog, Stranger
from cubital.desk.record.receptions import UNTOLD
from cubital.logbook import Outside, Unknown

UNKNOWN, OUTSIDE = "unknown-", "log-"
"""What the keys of their entries begin with; the rest is the number of the row."""


def unknown_between(*, site: str, start: datetime, end: datetime) -> list[Unknown]:
    """
    What arrived in a time and was not known, at a place or, with "", at all.

    A tube that came before its chair's events, and that they told of later, is no slip.
    """
    rows = Stranger.objects.filter(arrived_at__gte=start, arrived_at__lt=end)
    rows = rows.exclude(how="known", why__startswith=UNTOLD)
    return [unknown_of(row) for row in at_site(rows, site)]


def at_site(rows: QuerySet[Stranger], site: str) -> QuerySet[Stranger]:
    """Those of one place, with who and where."""
    rows = rows.select_related("by", "settled_by", "place")
    return rows.filter(place__code=site) if site else rows


def unknown_of(row: Stranger) -> Unknown:
    """As the logbook takes it."""
    return Unknown(
        key=f"{UNKNOWN}{row.pk}",
        text=row.text,
        why=row.why,
        at=row.arrived_at,
        who=row.by.username,
        site=row.place.code,
        became=became(row),
    )


def became(row: Stranger) -> str:
    """What became of it, when and by whom; "" while it is open."""
    if row.settled_at is None or row.settled_by is None:
        return ""
    at = row.settled_at.astimezone(ZoneInfo(row.place.time_zone))
    said = f"Settled {at:%Y-%m-%d %H:%M} by {row.settled_by.shown_name}: {row.get_how_display()}"
    return f"{said}; {row.note.rstrip('.')}." if row.note else f"{said}."


def outside_between(
    bands: Iterable[TemperatureBand], *, site: str, start: datetime, end: datetime
) -> list[Outside]:
    """The logs that left their band first in a time; a log is read after that, however late."""
    found = []
    for band in bands:
        rows = outside_band(band, Q(read_at__gte=start, out__gte=start, out__lt=end))
        found += [outside_of(row, band) for row in (rows.filter(site=site) if site else rows)]
    return found


def outside_band(band: TemperatureBand, which: Q) -> QuerySet[BoxLog]:
    """The logs kept at a band, with their ends and ``out``, the time of the first beyond it."""
    beyond = Q(readings__celsius__lt=band.low_c) | Q(readings__celsius__gt=band.high_c)
    rows = BoxLog.objects.filter(condition=band.condition).annotate(
        coldest=Min("readings__celsius"),
        warmest=Max("readings__celsius"),
        out=Min("readings__at", filter=beyond),
    )
    return rows.filter(which)


def outside_of(row: BoxLog, band: TemperatureBand) -> Outside:
    """A log of :func:`outside_band` as the logbook takes it."""
    figures = vars(row)  # the annotated columns
    return Outside(
        key=f"{OUTSIDE}{row.pk}",
        box=row.box,
        log=row.name,
        band=band.name,
        low_c=band.low_c,
        high_c=band.high_c,
        coldest_c=figures["coldest"],
        warmest_c=figures["warmest"],
        at=figures["out"],
        who=row.read_by,
        site=row.site,
    )


def number_in(key: str, head: str) -> int:
    """The number of the row that a key names, 0 where it names none of this kind."""
    rest = key.removeprefix(head)
    sound = key.startswith(head) and rest.isascii() and rest.isdigit() and len(rest) <= 18
    return int(rest) if sound else 0


def unknown_by_key(key: str) -> Unknown | None:
    """One of them."""
    rows = Stranger.objects.filter(pk=number_in(key, UNKNOWN))
    return next((unknown_of(row) for row in at_site(rows, "")), None)


def log_by_key(key: str) -> BoxLog | None:
    """The log that a key names."""
    return BoxLog.objects.filter(pk=number_in(key, OUTSIDE)).first()


def outside_by_key(key: str, bands: Iterable[TemperatureBand]) -> Outside | None:
    """The log that a key names, None where no reading lies outside its band."""
    for band in bands:
        for row in outside_band(band, Q(pk=number_in(key, OUTSIDE), out__isnull=False)):
            return outside_of(row, band)
    return None
