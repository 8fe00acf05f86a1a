"""Small helpers of the draw room's tests: an invented patient, and a catalogue changed a little."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta, timezone
from typing import Any

from cubital.catalogue import Catalogue, shipped
from cubital.catalogue.model import Container, Row, Setting
from cubital.requisition.values import Condition, Patient, PriorDraw

VALLEY = timezone(timedelta(hours=5))
MORNING = datetime(2025, 3, 4, 8, 30, tzinfo=VALLEY)
TODAY = MORNING.date()


def born(days: int) -> date:
    """The birth date of somebody who is so many days old on the day of the tests."""
    return TODAY - timedelta(days=days)


def someone(days: int | None = 14_000, **known: Any) -> Patient:
    """A patient of an age in days (None: birth date unknown), an adult unless told."""
    birth = None if days is None else born(days)
    return Patient("P-1", "Ostrelin", "Mira", birth_date=birth, **known)


def with_condition(code: str, side: str = "", site: str = "", **known: Any) -> Patient:
    """A patient with one condition."""
    return someone(conditions=(Condition(code, side, site),), **known)


def drawn_before(hours: float, volume_ul: int) -> PriorDraw:
    """Blood taken so many hours before the morning of the tests."""
    return PriorDraw(MORNING - timedelta(hours=hours), volume_ul)


def laid_over(*rows: Row) -> Catalogue:
    """The shipped catalogue with rows laid over it: the same key replaces, a new one is added."""
    catalogue = shipped()
    tables = dict(catalogue.tables)
    for row in rows:
        old = tables.get(type(row), ())
        key = tuple(getattr(row, name) for name in row.KEY)
        kept = tuple(r for r in old if tuple(getattr(r, name) for name in r.KEY) != key)
        tables[type(row)] = (*kept, row)
    return replace(catalogue, tables=tables)


def setting(key: str, value: str) -> Setting:
    """A setting of another value."""
    return Setting(key=key, value=value, source="memory", layer="district")


def tube(nominal_ul: int, headspace_ul: int, made_for_altitude_m: int = 0) -> Container:
    """An evacuated citrate tube for sums about air."""
    return Container(
        code="tube",
        name="tube",
        additive="na_citrate_9nc",
        form="evacuated",
        nominal_ul=nominal_ul,
        headspace_ul=headspace_ul,
        made_for_altitude_m=made_for_altitude_m,
        height_mm=75,
        diameter_mm=13,
        source="memory",
    )
