"""Excursions, degree-hours, and what they mean for each test."""

from __future__ import annotations

import itertools
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cubital.catalogue import shipped
from cubital.transport import (
    Reading,
    TemperatureLog,
    Travelled,
    compare_box,
    excursions,
    judge_journey,
    may_travel,
    mean_kinetic_c,
)
from cubital.transport.judge import evenly

BEGIN = datetime(2026, 11, 25, 7, tzinfo=UTC)


def log(*celsius: float, minutes: int = 30) -> TemperatureLog:
    """A log with equal steps."""
    return TemperatureLog(
        "box.csv",
        tuple(Reading(BEGIN + timedelta(minutes=minutes * n), c) for n, c in enumerate(celsius)),
    )


def test_an_excursion_runs_from_crossing_to_crossing() -> None:
    """5 °C up to 11 °C and back in two half hours: above 8 °C for half of it, 0.75 degree-hours."""
    found = excursions(log(5, 11, 5), 2, 8)
    assert len(found) == 1
    one = found[0]
    assert (one.begin, one.end) == (BEGIN + timedelta(minutes=15), BEGIN + timedelta(minutes=45))
    assert one.worst_c == 11
    assert one.degree_hours == pytest.approx(0.5 * 0.5 * 3)


def test_too_cold_and_too_warm_are_two() -> None:
    """A box that froze and then stood in the sun has both, in the order of time."""
    found = excursions(log(5, -1, 5, 12, 12), 2, 8)
    assert [(e.above, e.worst_c) for e in found] == [(False, -1), (True, 12)]


TEMPERATURES = st.lists(st.floats(-30, 45), min_size=2, max_size=30)


@given(TEMPERATURES)
def test_time_outside_and_inside_make_up_the_log(celsius: list[float]) -> None:
    """Excursions never overlap, and never last longer than the log."""
    record = log(*celsius)
    found = excursions(record, 2, 8)
    for before, after in itertools.pairwise(found):
        assert after.begin >= before.end - timedelta(milliseconds=1)
    outside = sum((e.length for e in found), timedelta())
    assert outside <= record.end - record.begin + timedelta(milliseconds=1)
    assert all(e.degree_hours >= 0 for e in found)
    assert bool(found) == any(c < 2 or c > 8 for c in celsius)


@given(TEMPERATURES)
def test_the_mean_kinetic_temperature_lies_above_the_mean_and_within(celsius: list[float]) -> None:
    """Warm readings weigh more: at least the arithmetic mean, never beyond the extremes."""
    value = mean_kinetic_c(celsius, shipped())
    assert min(celsius) - 1e-6 <= value <= max(celsius) + 1e-6
    assert value >= sum(celsius) / len(celsius) - 1e-6


def test_unequal_steps_are_weighed_by_time() -> None:
    """One hour at 5 °C and a minute at 25 °C is not the mean of two readings."""
    uneven = [Reading(BEGIN, 5.0), Reading(BEGIN + timedelta(hours=1), 5.0),
              Reading(BEGIN + timedelta(hours=1, minutes=1), 25.0)]  # fmt: skip
    values = evenly(uneven)
    assert sum(values) / len(values) == pytest.approx((5 * 60 + 15) / 61, abs=0.5)


def test_what_a_warm_hour_means_for_each_test() -> None:
    """Potassium in unseparated blood must not be chilled; HbA1c does not mind a cool box."""
    journey = judge_journey(
        log(5, 5, 5), "fridge", [Travelled("S1", BEGIN, ("potassium", "hba1c"))], shipped()
    )
    by_test = {flight.test: flight for flight in journey.flights}
    assert "must-not-be-kept-so" in [f.code for f in by_test["potassium"].findings]
    assert by_test["hba1c"].findings == ()
    assert 0 < by_test["hba1c"].used_percent < 5
    assert journey.excursions == ()


def test_blood_that_froze_is_stopped() -> None:
    """Below 0 °C unseparated blood haemolyses."""
    journey = judge_journey(log(5, -3, 5), "fridge", [Travelled("S1", BEGIN, ("fbc",))], shipped())
    assert "frozen" in [f.code for f in journey.flights[0].findings]


@given(st.integers(1, 48), st.integers(1, 48))
def test_longer_never_uses_up_less(hours: int, more: int) -> None:
    """The share used up grows with the time, and so does the finding that it is too old."""

    def used(count: int) -> float:
        record = log(*[20.0] * (count + 1), minutes=60)
        item = Travelled("S1", BEGIN, ("fbc",))
        return judge_journey(record, "room", [item], shipped()).flights[0].used_percent

    assert used(hours + more) >= used(hours)


def test_a_box_is_compared_with_its_list() -> None:
    """Missing and unlisted specimens are told apart."""
    found = compare_box(["A", "B"], ["B", "C"])
    assert [(f.code, f.subject) for f in found] == [("box-missing", "A"), ("box-unlisted", "C")]


def test_a_box_that_does_not_fit_is_told_before_it_leaves() -> None:
    """Ammonia wants ice, potassium must not be chilled."""
    assert [f.code for f in may_travel(shipped(), "S1", ["ammonia"], "ambient")] == [
        "box-not-ice-slurry"
    ]
    assert "box-too-cold" in [
        f.code for f in may_travel(shipped(), "S1", ["potassium"], "cool_packs")
    ]
    assert may_travel(shipped(), "S1", ["sodium"], "ambient") == ()


def test_what_was_separated_may_be_chilled() -> None:
    """Potassium must not be chilled before it is separated; afterwards it may."""
    catalogue = shipped()
    whole = may_travel(catalogue, "OL1", ("potassium",), "cool_packs")
    assert [f.code for f in whole] == ["box-too-cold"]
    assert may_travel(catalogue, "OL1", ("potassium",), "cool_packs", spun=True) == ()


def test_a_specimen_other_than_blood_demands_no_cooling_here() -> None:
    """Examinations are not in the table of demands on blood, and stop no box."""
    assert may_travel(shipped(), "OL1", ("urine-culture",), "cool_packs") == ()
