"""Reads: the log of events, and of what was refused."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.db.models import QuerySet

from cubital.custody import event_to, time_to
from cubital.desk.record.models import Event as EventRow
from cubital.desk.record.models import RefusedEvent, Touch
from cubital.desk.record.rows import EVENT_COLUMNS, recorded_from

AT_ONCE = 2000


def events_logged(*, site: str = "", kind: str = "", subject: str = "") -> Iterator[dict[str, Any]]:
    """Events in the order in which they were recorded, with what the record added to them."""
    rows = narrowed(EventRow.objects.order_by("position"), site=site, kind=kind)
    if subject:
        touching = Touch.objects.filter(subject=subject).values("position")
        rows = rows.filter(position__in=touching)
    for columns in rows.values_list(*EVENT_COLUMNS).iterator(chunk_size=AT_ONCE):
        record = recorded_from(columns)
        yield {
            **event_to(record.event),
            "recorded_at": time_to(record.recorded_at),
            "sent_by": record.sent_by,
            "sequence": record.sequence,
            "previous": record.previous,
            "hash": record.hash,
        }


def refusals_logged(
    *, site: str = "", kind: str = "", subject: str = ""
) -> Iterator[dict[str, Any]]:
    """What was refused, oldest first."""
    rows = narrowed(RefusedEvent.objects.order_by("id"), site=site, kind=kind)
    if subject:
        rows = rows.filter(subject=subject)
    for row in rows.iterator(chunk_size=AT_ONCE):
        yield {
            "id": row.uuid,
            "site": row.site,
            "kind": row.kind,
            "subject": row.subject,
            "sent_by": row.sent_by,
            "refused_at": time_to(row.refused_at),
            "sentence": row.sentence,
            "offered": row.offered,
        }


def narrowed(rows: QuerySet[Any], *, site: str, kind: str) -> QuerySet[Any]:
    """Only those of a site and of a kind, where they are given."""
    if site:
        rows = rows.filter(site=site)
    return rows.filter(kind=kind) if kind else rows
