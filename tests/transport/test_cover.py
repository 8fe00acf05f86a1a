"""A log of another journey is refused; one that leaves a part out says which."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from cubital.catalogue import shipped
from cubital.errors import InputError
from cubital.finding import Finding
from cubital.transport import Reading, TemperatureLog, covered

SENT = datetime(2026, 11, 25, 7, 0, tzinfo=UTC)
MINUTE = timedelta(minutes=1)


def found(begin: int, end: int, opened: int = 180) -> tuple[Finding, ...]:
    """What is said of a log from one minute of the journey to another, a reading each 10 min."""
    readings = [Reading(SENT + n * MINUTE, 5.0) for n in range(begin, end + 1, 10)]
    return covered(
        TemperatureLog("box.csv", tuple(readings)), SENT, SENT + opened * MINUTE, shipped()
    )


def test_a_whole_log_says_nothing() -> None:
    """Also one that begins before and ends after, or lacks less than a gap."""
    assert found(0, 180) == ()
    assert found(-60, 400) == ()
    assert found(20, 160) == ()


def test_what_is_left_out_is_said() -> None:
    """An hour at either end."""
    (late,) = found(60, 180)
    assert "begins at 08:00, 60 min after the box left" in late.sentence
    (early,) = found(0, 120)
    assert "ends at 09:00, 60 min before the box was opened" in early.sentence
    assert len(found(60, 120)) == 2


@pytest.mark.parametrize(("begin", "end"), [(-600, -60), (240, 400), (-30_000_000, -29_999_900)])
def test_another_journey_is_refused(begin: int, end: int) -> None:
    """The day before, after it was opened, and a clock that went back to its first year."""
    with pytest.raises(InputError, match="the box was on its way from 2026-11-25 07:00"):
        found(begin, end)
