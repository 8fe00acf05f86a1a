"""Queries that databases may take differently: what waits to be joined, logs outside a band."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from cubital.catalogue import shipped
from cubital.catalogue.model_way import TemperatureBand
from cubital.desk.record.models import (
    BoxLog,
    LogReading,
    Person,
    Requisition,
    RequisitionTest,
    Stranger,
)
from cubital.desk.record.recollections import recollection_add
from cubital.desk.record.requisitions import accessions_give
from cubital.desk.record.selectors_kept import outside_between, unknown_between

NOW = datetime.now(UTC)
DAY = timedelta(days=1)

pytestmark = pytest.mark.usefixtures("database")


def refused(specimen: str, test: str) -> Requisition:
    """A tube of the first requisition is asked for again."""
    return recollection_add(
        first=Requisition.objects.get(number="R-1"), specimen=specimen, tests=[test],
        sentence="It leaks.", by=Person.objects.get(username="ilan"), now=NOW,
    )  # fmt: skip


def test_a_recollection_is_joined_until_a_container_is_numbered() -> None:
    """Locked and read in one query, with what hangs on it outer-joined."""
    first = Requisition.objects.get(number="R-1")
    for position, code in enumerate(("sodium", "potassium", "fbc"), start=1):
        RequisitionTest.objects.create(requisition=first, position=position, code=code)
    one = refused("S-1", "sodium")
    assert refused("S-2", "potassium").pk == one.pk
    accessions_give(requisition=one, containers=[(1, "gel-3.5")], day=NOW.date())
    assert refused("S-3", "fbc").pk != one.pk


def test_a_log_outside_its_band_and_a_stranger_are_found() -> None:
    """The ends and the first reading outside come out of one query."""
    row = BoxLog.objects.create(box="B-1", sent="e", site="valley", name="a.csv", condition="room",
                                edition="e", digest="d", read_at=NOW, read_by="ilan")  # fmt: skip
    for number, celsius in enumerate((20.0, 27.5, 31.0, 20.0)):
        at = NOW - timedelta(minutes=40 - 10 * number)
        LogReading.objects.create(log=row, number=number, at=at, celsius=celsius)
    bands = shipped().rows(TemperatureBand)
    (found,) = outside_between(bands, site="valley", start=NOW - DAY, end=NOW + DAY)
    assert (found.coldest_c, found.warmest_c) == (20.0, 31.0)
    assert found.at == NOW - timedelta(minutes=30)
    ilan = Person.objects.get(username="ilan")
    Stranger.objects.create(place=ilan.place, text="ZZ-1", why="Keep it.", by=ilan, arrived_at=NOW)
    assert len(unknown_between(site="valley", start=NOW - DAY, end=NOW + DAY)) == 1
