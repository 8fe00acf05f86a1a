"""
Indicators by place, ward, hour, device, gauge or age group; by collector for the quality role.

A collector sees their own figures and nobody else's.  Groups stand in the order of their names and
are never ranked.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from cubital.catalogue.model_quality import AgeGroup, Indicator
from cubital.desk.indicators.asked import Asked, around, asked, engine, no_lake
from cubital.desk.indicators.figures import ZONES, interval_words, share_words
from cubital.desk.indicators.kept import KEPT
from cubital.desk.indicators.month import of_a_month
from cubital.desk.logbook.due import KEEPERS
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.record import selectors_quality as quality
from cubital.desk.record.models import Role
from cubital.errors import InputError
from cubital.indicators import ask
from cubital.indicators.ask import Count, Lake, Quantiles, Sum, lake_of
from cubital.indicators.funnel import FunnelPolicy, funnel
from cubital.indicators.intervals import attempts_interval, ratio_interval, wilson, z_of
from cubital.indicators.measures import SHARES, SUMS
from cubital.indicators.say import add_months, month_words, number

GROUPS = {
    "site": "Place",
    "ward": "Ward",
    "hour": "Hour",
    "device": "Device",
    "gauge": "Gauge",
    "age_group": "Age group",
}
"""By what everybody who keeps the logbook may count."""
COLLECTOR = "collector"
SPANS = (1, 3, 12)
USUAL = ("Pre-HemV", "site", 3)
"""Indicator, group and months when none is asked for."""
NOT_RECORDED = "not on record"
OWN = (
    "desk-attempts", "desk-pricks", "desk-not-obtained", "desk-tourniquet", "desk-tourniquet-long",
    "desk-order", "desk-blood", "Pre-HemV", "Pre-HemI", "Pre-HemR", "Pre-InsV", "Pre-SaAnt",
    "Pre-Clot", "Pre-WroCo", "Pre-RejS",
)  # fmt: skip
"""What a collector sees of their own work."""


@dataclass(frozen=True, slots=True)
class Row:
    """A group: its name, what was counted, the figure, its interval, and where it lies."""

    name: str
    counted: str
    figure: str
    interval: str
    zone: str = ""
    outside: bool = False


def lake_for(found: Asked, months: int, opened: Any) -> Lake:
    """The lake of so many months up to the one asked for."""
    first = add_months(found.month, 1 - months)
    return lake_of(found.files, found.catalogue, opened, (first, found.month))


def kind_of(code: str) -> str:
    """Share, sum or time."""
    return "share" if code in SHARES else "sum" if code in SUMS else "time"


def figures(lake: Lake, code: str, by: Sequence[str]) -> tuple[Count | Sum | Quantiles, ...]:
    """What is counted of one indicator by a group."""
    if code in SHARES:
        return ask.counts(lake, [code], by)
    return ask.sums(lake, [code], by) if code in SUMS else ask.quantiles(lake, [code], by)


def rows_of(
    found: Asked, counted: Sequence[Count | Sum | Quantiles], names: Mapping[Any, str]
) -> list[Row]:
    """Figures by a group, in the order of the group's values."""
    shares = [each for each in counted if isinstance(each, Count)]
    zones = zones_of(found, shares)
    return [
        row_of(found, each, names.get(each.key[0], str(each.key[0] or NOT_RECORDED)), zones)
        for each in counted
    ]


def zones_of(found: Asked, shares: Sequence[Count]) -> dict[str, tuple[str, bool]]:
    """Where each group lies among the others: its zone in a funnel, and whether above."""
    with_some = [(str(each.key[0]), each.bad, each.of) for each in shares if each.of]
    if len(with_some) < 2:
        return {}
    drawn = funnel(with_some, FunnelPolicy.of(found.catalogue))
    return {place.code: (place.zone, place.above) for place in drawn.places}


def row_of(
    found: Asked,
    each: Count | Sum | Quantiles,
    name: str,
    zones: Mapping[str, tuple[str, bool]],
) -> Row:
    """One figure in words."""
    z = z_of(found.catalogue)
    if isinstance(each, Count):
        few = each.of < found.catalogue.number("indicator_few")
        share = each.bad / each.of if each.of else None
        zone, above = zones.get(str(each.key[0]), ("", False))
        words = ZONES.get(zone, "")
        if zone in ("between", "beyond"):
            words = f"{'above' if above else 'below'} the others, {words}"
        return Row(
            name,
            f"{each.bad:,} of {each.of:,}",
            share_words(share, few=few),
            interval_words(wilson(each.bad, each.of, z), few=few, of=each.of),
            words,
            zone in ("between", "beyond"),
        )
    if isinstance(each, Sum):
        return sum_row(each, name, z)
    unit = unit_of(found, each.indicator)
    between = f"{each.low} to {each.high} {unit}" if each.low is not None and each.high else ""
    figure = "nothing counted" if each.median is None else f"{each.median} {unit}"
    return Row(name, f"{each.count:,}", figure, between)


def sum_row(each: Sum, name: str, z: float) -> Row:
    """A rate or ratio in words."""
    if not each.bottom:
        return Row(name, f"{each.rows:,} draws", "nothing counted", "")
    if each.indicator == "desk-attempts":
        span = attempts_interval(each.top, each.bottom, z)
        counted = f"{each.top:,} needles for {each.bottom:,} draws"
    else:
        span = ratio_interval(each.top, each.bottom, each.rows, each.squares, z)
        counted = f"{each.rows:,} draws"
    between = f"{number(span.low)} to {number(span.high)}" if span else ""
    return Row(name, counted, number(each.top / each.bottom), between)


def unit_of(found: Asked, code: str) -> str:
    """The unit of a time."""
    return next(r.unit for r in found.catalogue.rows(Indicator) if r.indicator == code)


def names_of(found: Asked, by: str) -> dict[Any, str]:
    """Values of a group -> how they are called."""
    if by == "site":
        return {site.code: site.name for site in found.files.sites.values()}
    if by == "hour":
        return {hour: f"{hour:02}:00 to {hour:02}:59" for hour in range(24)}
    if by == "device":
        return {code: row.name for code, row in found.catalogue.devices.items()}
    if by == "gauge":
        return {gauge: f"{gauge} G" for gauge in range(10, 41)}
    if by == "age_group":
        return {row.code: row.name for row in found.catalogue.rows(AgeGroup)}
    return quality.names_known() if by == COLLECTOR else {}


def ordered(rows: list[Row], counted: Sequence[Any], by: str, found: Asked) -> list[Row]:
    """Age groups from young to old, the rest as counted; what is not on record last."""
    if by == "age_group":
        place = {row.code: n for n, row in enumerate(found.catalogue.rows(AgeGroup))}
        pairs = zip(rows, counted, strict=True)
        return [r for r, c in sorted(pairs, key=lambda pair: place.get(pair[1].key[0], 99))]
    return sorted(rows, key=lambda row: row.name == NOT_RECORDED)


@require_GET
@who_may(*KEEPERS)
@of_a_month
def by_group(request: DeskRequest, found: Asked) -> HttpResponse:
    """One indicator by one group."""
    may = dict(GROUPS)
    if request.user.role == Role.QUALITY:
        may[COLLECTOR] = "Collector"
    code = request.GET.get("indicator", USUAL[0])
    by = request.GET.get("by", USUAL[1])
    text = request.GET.get("span", "")
    span = int(text) if text in map(str, SPANS) else USUAL[2]
    if by == COLLECTOR and by not in may:
        return render(request, "people/forbidden.html", status=403)
    described = {row.indicator: row for row in found.catalogue.rows(Indicator)}
    said = found.said
    if code not in described or by not in may:
        said = "This cannot be counted; shown is haemolysis by place."
        code, by = USUAL[0], USUAL[1]
    key = ("by", code, by, span, *found.key)
    counted = KEPT.get(key, lambda: count(found, code, by, span))
    rows = ordered(rows_of(found, counted, names_of(found, by)), counted, by, found)
    context = {
        **around(found),
        "said": said,
        "rows": rows,
        "what": described[code],
        "by": by,
        "by_words": may[by],
        "groups": may.items(),
        "span": span,
        "spans": SPANS,
        "since": month_words(add_months(found.month, 1 - span)),
        "indicators": [(row.indicator, row.name) for row in described.values()],
        "kind": kind_of(code),
        "few": found.catalogue.number("indicator_few"),
    }
    return render(request, "indicators/by.html", context)


def count(found: Asked, code: str, by: str, span: int) -> tuple[Count | Sum | Quantiles, ...]:
    """Count one indicator by one group."""
    with engine() as opened:
        return figures(lake_for(found, span, opened), code, (by,))


@require_GET
@who_may(Role.COLLECTOR)
def mine(request: DeskRequest) -> HttpResponse:
    """A collector's own figures of the last three months; nobody else's are on the page."""
    try:
        found = asked(request)
    except InputError as refused:
        return render(request, "indicators/mine.html", no_lake(refused))
    me, span = request.user.username, USUAL[2]
    counted = KEPT.get(("mine", me, span, *found.key), lambda: count_own(found, me, span))
    described = {row.indicator: row for row in found.catalogue.rows(Indicator)}
    rows = [(described[each.indicator], row_of(found, each, "", {})) for each in counted]
    context = {
        **around(found),
        "rows": rows,
        "since": month_words(add_months(found.month, 1 - span)),
        "few": found.catalogue.number("indicator_few"),
    }
    return render(request, "indicators/mine.html", context)


def count_own(found: Asked, person: str, span: int) -> list[Count | Sum | Quantiles]:
    """What a collector may see: their own."""
    by = (COLLECTOR,)
    with engine() as opened:
        lake = lake_for(found, span, opened)
        return [each for code in OWN for each in ask.only_own(figures(lake, code, by), by, person)]
