"""A requisition of the valley and what arrives of it, for the reception's tests."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

from cubital.catalogue import Catalogue, shipped
from cubital.draw.values import Place
from cubital.reception import Arrival, Expected, Verdict, receive
from cubital.requisition.values import OrderedTest, Patient, Requisition

DRAWN = datetime(2026, 11, 25, 7, 0, tzinfo=UTC)
ARRIVED = DRAWN + timedelta(minutes=20)
PATIENT = Patient("104233", "Ash", "Bo", date(1981, 4, 12), "female", 62_000)


def ordered(*codes: str) -> tuple[OrderedTest, ...]:
    """Tests in the requester's order of importance."""
    return tuple(OrderedTest(code, priority=n) for n, code in enumerate(codes, start=1))


def requisition(*codes: str) -> Requisition:
    """A requisition for these tests."""
    return Requisition("R-1", PATIENT, ordered(*codes) or ordered("fbc"), DRAWN)


def expected(container: str, *codes: str, **more: Any) -> Expected:
    """What the record knows of a specimen of blood."""
    known: dict[str, Any] = {
        "accession": "OL2611250041S",
        "requisition": "R-1",
        "material": "blood",
        "container": container,
        "tests": ordered(*codes),
        "collected_at": DRAWN,
    }
    return Expected(**{**known, **more})


def arrival(**more: Any) -> Arrival:
    """A specimen that arrives in good order after 20 minutes."""
    seen: dict[str, Any] = {"accession": "OL2611250041S", "received_at": ARRIVED}
    return Arrival(**{**seen, **more})


def judged(
    seen: Arrival, known: Expected, catalogue: Catalogue | None = None, **more: Any
) -> Verdict:
    """The verdict in the valley."""
    codes = [test.code for test in known.tests]
    return receive(
        seen,
        known,
        requisition(*codes),
        catalogue or shipped(),
        Place(altitude_m=1900),
        now=more.get("now", seen.received_at),
    )


def outcomes(verdict: Verdict) -> dict[str, str]:
    """Test -> outcome."""
    return {test.test: str(test.outcome) for test in verdict.tests}
