"""Writes: waste bags and sharps boxes, each step judged by the logbook room first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db import transaction

from cubital import logbook
from cubital.catalogue import Catalogue
from cubital.custody.canonical import Json
from cubital.custody.payload import is_code
from cubital.desk.record.events import append_event
from cubital.desk.record.happened import append_all, happened
from cubital.desk.record.models import Person, Place, WasteNow
from cubital.desk.record.numbers import next_number
from cubital.desk.record.selectors_quality import standing, touching
from cubital.errors import InputError
from cubital.finding import Finding
from cubital.logbook import Bag

LONGEST_CODE = 40
"""Of a bar code that came printed on a bag."""


def bag_of(row: WasteNow) -> Bag:
    """The logbook room's own value."""
    return Bag(
        code=row.code,
        scheme=row.scheme,
        stream=row.stream,
        opened_at=row.opened_at,
        opened_by=row.opened_by,
        fill_percent=row.fill_percent,
        closed_at=row.closed_at,
        weight_g=row.weight_g,
        handed_over_at=row.handed_over_at,
        handed_to=row.handed_to,
    )


def waste_code_give(*, place: Place, day: date) -> str:
    """Give a bag a bar code that no other has: ``W``, the place's letters, the day, a number."""
    with transaction.atomic():
        while True:
            serial = next_number(f"waste {place.letters} {day:%y%m%d}")
            code = f"W{place.letters}{day:%y%m%d}{serial:03d}"
            if not WasteNow.objects.filter(code=code).exists():
                return code


def waste_open(
    *, place: Place, by: Person, now: datetime, catalogue: Catalogue, stream: str, code: str = ""
) -> str:
    """
    Open a bag or box of the place's scheme; gives its bar code.

    Args:
        place: where it stands.
        by: who opens it.
        now: when.
        catalogue: of the place.
        stream: of its scheme.
        code: printed on the bag already, "" to be given one.

    Raises:
        InputError: no such stream, or a code that no bar code can be or another bag has.
        EventRefused: the record refuses it.
    """
    text = code.strip()
    if text and not (
        is_code(text) and len(text) <= LONGEST_CODE and text.isascii() and "/" not in text
    ):
        raise InputError(
            f"{text[:60]!r} cannot be a bag's bar code",
            "bar code",
            f"Scan it again: 1 to {LONGEST_CODE} plain letters and digits.",
        )
    row = WasteNow.objects.filter(code=text).first() if text else None
    if row is not None:
        raise InputError(f"{text} is another bag's bar code", "bar code", "Scan the new bag.")
    day = now.astimezone(ZoneInfo(place.time_zone)).date()
    with transaction.atomic():
        number = text or waste_code_give(place=place, day=day)
        scheme = place.waste_scheme
        logbook.open_bag(
            catalogue, code=number, scheme=scheme, stream=stream, at=now, who=by.username
        )
        _append(number, "waste_opened", place.code, by, now, scheme=scheme, stream=stream)
    return number


def waste_fill(
    *, row: WasteNow, by: Person, now: datetime, catalogue: Catalogue, percent: int
) -> tuple[Finding, ...]:
    """
    Say how full it is; gives the finding that it must be closed, where it must.

    Raises:
        InputError: no percentage, or it is closed.
        EventRefused: the record refuses it.
    """
    _, findings = logbook.filled(bag_of(row), percent, catalogue)
    _append(row.code, "waste_filled", row.site, by, now, percent=percent)
    return findings


def waste_close(*, row: WasteNow, by: Person, now: datetime) -> None:
    """
    Close it.

    Raises:
        InputError: closed already.
        EventRefused: the record refuses it.
    """
    logbook.close(bag_of(row), now)
    _append(row.code, "waste_closed", row.site, by, now)


def waste_weigh(*, row: WasteNow, by: Person, now: datetime, weight_g: int) -> None:
    """
    Write down what it weighs.

    Raises:
        InputError: still open, handed over, or no weight of a bag.
        EventRefused: the record refuses it.
    """
    logbook.weigh(bag_of(row), weight_g)
    _append(row.code, "waste_weighed", row.site, by, now, weight_g=weight_g)


def waste_hand_over(*, rows: Sequence[WasteNow], by: Person, now: datetime, to: str) -> None:
    """
    Hand closed bags over together: all of them, or none.

    Raises:
        InputError: none chosen, nobody named, or one of them is open or gone already.
        EventRefused: the record refuses it.
    """
    if not rows:
        raise InputError("No bag is chosen", mend="Tick the bags that go.")
    for row in rows:
        logbook.hand_over(bag_of(row), now, to)
    events = [
        happened("waste_handed_over", f"waste:{row.code}", site=row.site, by=by, now=now,
                 to=to.strip())
        for row in rows
    ]  # fmt: skip
    append_all(events=events, by=by, now=now)


def waste_take_back(*, row: WasteNow, by: Person, now: datetime, why: str) -> None:
    """
    Take back that a bag was opened: it was another stream, or no bag at all.

    Raises:
        InputError: no reason given, or it is closed already.
        EventRefused: the record refuses it.
    """
    if not why.strip():
        raise InputError("Say in a few words why", "reason")
    if row.closed_at is not None:
        raise InputError("It is closed already: it was a real bag", row.code)
    subject = f"waste:{row.code}"
    events = [
        replace(
            happened("event_withdrawn", subject, site=row.site, by=by, now=now, reason=why.strip()),
            corrects=event.id,
        )
        for event in standing(touching([subject]))
    ]
    append_all(events=events, by=by, now=now)


def _append(code: str, kind: str, site: str, by: Person, now: datetime, **said: Json) -> None:
    event = happened(kind, f"waste:{code}", site=site, by=by, now=now, **said)
    append_event(event=event, person=by, now=now)
