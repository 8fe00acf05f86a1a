"""The invented clinic."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from cubital.desk.demo.fill import NotTheDemo, demo_fill
from cubital.desk.record import selectors
from cubital.desk.record.models import Patient, Person, Place, Requisition, StockLot


def test_the_clinic_has_two_places_four_roles_and_a_morning(clinic: datetime) -> None:
    """Both places at their altitudes, one person a role, and every state of a requisition."""
    assert {row.altitude_m for row in Place.objects.all()} == {1900, 3400}
    assert sorted(p.role for p in Person.objects.all()) == [
        "bench", "collector", "manager", "quality",
    ]  # fmt: skip
    assert {r.state for r in Requisition.objects.all()} == {"waiting", "drawn", "cancelled"}
    assert Patient.objects.count() >= 14


def test_one_lot_is_expired_and_one_recalled(clinic: datetime) -> None:
    """The laboratory's stock holds something to refuse."""
    place = Place.objects.get(code="ostrel-valley")
    lots = StockLot.objects.filter(place=place)
    assert lots.filter(recalled=True).count() == 1
    assert lots.filter(expires_on__lt=clinic.date()).count() == 1


def test_filled_twice_it_is_the_same(clinic: datetime) -> None:
    """A second start of the demo adds nothing on the same day."""
    before = [m.objects.count() for m in (Place, Person, Patient, Requisition, StockLot)]
    demo_fill(now=clinic)
    assert before == [m.objects.count() for m in (Place, Person, Patient, Requisition, StockLot)]


def test_another_morning_brings_its_own_requisitions(clinic: datetime) -> None:
    """The next day has a whole morning again, with the same people older by a day."""
    count = Requisition.objects.count()
    demo_fill(now=clinic + timedelta(days=1))
    assert Requisition.objects.count() == 2 * count


def test_invented_people_stay_out_of_a_real_desk(db: None) -> None:
    """Without the demo's switch nothing is written."""
    with pytest.raises(NotTheDemo):
        demo_fill(now=datetime.now(UTC))
    assert not selectors.places().exists()
