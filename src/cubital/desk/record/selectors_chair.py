"""Reads: what the chair asks of the record."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from cubital.custody import DrawState
from cubital.desk.record.models import (
    Accession,
    AttemptNow,
    Badge,
    ChairSheet,
    DrawNow,
    Place,
    Requisition,
    RequisitionState,
    Role,
)
from cubital.desk.record.selectors import day_bounds, requisitions_of_day, whole


def of_day(*, place: Place, day: date) -> list[Requisition]:
    """A place's requisitions of a day that are not cancelled."""
    rows = requisitions_of_day(place=place, day=day)
    return list(rows.exclude(state=RequisitionState.CANCELLED))


def waiting(*, place: Place, day: date) -> list[Requisition]:
    """Those of them that wait for their blood."""
    return list(requisitions_of_day(place=place, day=day).filter(state=RequisitionState.WAITING))


def codes_of(rows: Collection[Requisition]) -> list[tuple[str, str, str]]:
    """Every bar code of these requisitions: the text, whose it is in words, the requisition."""
    said = {row.pk: f"{row.patient.shown_name}, requisition {row.number}" for row in rows}
    numbers = {row.pk: row.number for row in rows}
    found = [(row.number, said[row.pk], row.number) for row in rows]
    found += [(row.patient.number, said[row.pk], row.number) for row in rows]
    labels = Accession.objects.filter(requisition__in=list(said))
    found += [
        (number, said[pk], numbers[pk])
        for number, pk in labels.values_list("number", "requisition_id")
    ]
    return found


def collectors_with_badge() -> list[dict[str, str]]:
    """Collectors who may take a draw over: sign-in name, name, bar code of the badge."""
    badges = Badge.objects.select_related("person").filter(
        person__is_active=True, person__role=Role.COLLECTOR
    )
    return [
        {
            "username": badge.person.username,
            "name": badge.person.shown_name,
            "badge": badge.code,
        }
        for badge in badges.exclude(pin="").order_by("person__username")
    ]


def attempts_of_day(*, place: Place, day: date) -> dict[str, list[dict[str, Any]]]:
    """Attempts of a local day that gave no blood, by patient: when, by whom, and why."""
    start, end = day_bounds(day, ZoneInfo(place.time_zone))
    failed = AttemptNow.objects.filter(
        site=place.code, begun_at__gte=start, begun_at__lt=end, success=False
    ).order_by("begun_at")
    draws = dict(
        DrawNow.objects.filter(code__in={row.draw for row in failed}).values_list("code", "patient")
    )
    found: dict[str, list[dict[str, Any]]] = {}
    for row in failed:
        found.setdefault(draws.get(row.draw, ""), []).append(
            {
                "at": row.begun_at.astimezone(ZoneInfo(place.time_zone)).strftime("%H:%M"),
                "who": row.who,
                "reason": row.reason,
                "site": f"{row.side} {row.body_site}".strip(),
            }
        )
    return found


def draws_begun(
    *, place: Place, requisitions: Collection[Requisition]
) -> dict[str, dict[str, str]]:
    """Draws of these requisitions that have begun and not ended: by whom, and since when."""
    zone = ZoneInfo(place.time_zone)
    rows = DrawNow.objects.filter(
        site=place.code,
        requisition__in=[row.number for row in requisitions],
        state__in=[DrawState.BEGUN, DrawState.STOPPED],
    )
    return {
        row.requisition: {
            "draw": row.code,
            "who": row.who,
            "at": row.begun_at.astimezone(zone).strftime("%H:%M"),
        }
        for row in rows.order_by("begun_at")
    }


def sheet_by_code(code: str) -> ChairSheet | None:
    """A sheet that was given to a chair, with its requisition whole."""
    row = ChairSheet.objects.filter(code=code).first()
    if row is None:
        return None
    row.requisition = whole(Requisition.objects.filter(pk=row.requisition_id)).get()
    return row
