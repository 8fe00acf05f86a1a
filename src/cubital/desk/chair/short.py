"""A short draw, asked of the core for a sheet that was given to a chair."""

from __future__ import annotations

from hashlib import sha256
from typing import Any
from zoneinfo import ZoneInfo

from django.core.cache import cache
from django.utils import timezone

from cubital.chair.shape import sheet_from
from cubital.chair.short import short_table, short_to, still_possible
from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.record import selectors_chair
from cubital.desk.record.models import ChairSheet, Place
from cubital.errors import InputError

MOST_UL = 1_000_000
ONE_DAY_S = 24 * 60 * 60

Json = dict[str, Any]


def sheet_here(code: object, place: Place) -> ChairSheet:
    """
    The sheet of that code at this place.

    Raises:
        InputError: none, or another place's.
    """
    row = selectors_chair.sheet_by_code(code) if isinstance(code, str) else None
    if row is None or row.requisition.place_id != place.pk:
        raise InputError("This draw is not known here", mend="Load the round anew.")
    return row


def short_answer(given: Json, place: Place) -> Json:
    """
    Answer ``{"sheet": CODE, "obtained_ul": N, "drawn": [ACCESSION, …], "gone": [ACCESSION, …]}``.

    Raises:
        InputError: a member is missing or wrong.
    """
    row = sheet_here(given.get("sheet"), place)
    obtained_ul = given.get("obtained_ul")
    if isinstance(obtained_ul, bool) or not isinstance(obtained_ul, int):
        raise InputError("The volume is no whole number of µL", "obtained_ul")
    if not 0 <= obtained_ul <= MOST_UL:
        raise InputError(f"No draw gives {obtained_ul} µL", "obtained_ul", "Write it in µL.")
    drawn, gone = numbers(given, "drawn"), numbers(given, "gone")
    now = timezone.now().astimezone(ZoneInfo(place.time_zone))
    catalogue = catalogue_at(place.catalogue_folder)
    answer = still_possible(
        sheet_from(row.document),
        row.requisition.to_domain(),
        obtained_ul,
        catalogue,
        place.to_domain(),
        drawn=drawn,
        gone=gone,
        now=now,
    )
    return short_to(answer, catalogue)


def numbers(given: Json, name: str) -> list[str]:
    """
    A list of accession numbers, empty when it is left out.

    Raises:
        InputError: it is none.
    """
    value = given.get(name, [])
    if not isinstance(value, list) or not all(isinstance(each, str) for each in value):
        raise InputError("This is no list of accession numbers", name)
    return value


def short_steps(code: str, place: Place) -> Json:
    """
    The table of a sheet for when the network is cut; made once for the same question.

    Raises:
        InputError: no such sheet here.
    """
    row = sheet_here(code, place)
    catalogue = catalogue_at(place.catalogue_folder)
    requisition = row.requisition.to_domain()
    asked = repr(
        (code, catalogue.edition, catalogue.layers, sorted(place.choices.items()), requisition)
    )
    key = f"short-{sha256(asked.encode()).hexdigest()}"
    table: Json | None = cache.get(key)
    if table is None:
        now = timezone.now().astimezone(ZoneInfo(place.time_zone))
        sheet = sheet_from(row.document)
        table = short_table(sheet, requisition, catalogue, place.to_domain(), now=now)
        cache.set(key, table, timeout=ONE_DAY_S)
    return table
