"""What is asked for again without a draw, until it has come or nobody wants it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from cubital.reception import Arrived, AskedAgain, still_to_ask

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)
ASKED = AskedAgain("U-1", "OV-1", "urine", ("urine-culture", "urine-strip"), NOW)
CAME = Arrived("U-2", "OV-1", "urine", ("urine-culture",), NOW + HOUR)


def test_what_came_is_no_longer_asked_for() -> None:
    """The culture came, the strip did not; when both came the line is gone."""
    assert still_to_ask([ASKED], [], {}) == (ASKED,)
    (left,) = still_to_ask([ASKED], [CAME], {})
    assert left.tests == ("urine-strip",)
    both = replace(CAME, tests=("urine-strip", "urine-culture"))
    assert still_to_ask([ASKED], [both], {}) == ()


def test_another_specimen_answers_nothing() -> None:
    """Somebody else's, another material, an earlier one, the refused one itself."""
    others = [
        replace(CAME, patient="OV-2"), replace(CAME, material="stool"),
        replace(CAME, at=NOW - HOUR), replace(CAME, specimen="U-1"),
    ]  # fmt: skip
    assert still_to_ask([ASKED], others, {}) == (ASKED,)


def test_what_nobody_wants_is_off_the_list() -> None:
    """Test by test."""
    (left,) = still_to_ask([ASKED], [], {"U-1": {"urine-strip"}, "U-9": {"urine-culture"}})
    assert left.tests == ("urine-culture",)
    assert still_to_ask([ASKED], [CAME], {"U-1": ["urine-strip"]}) == ()


@given(st.lists(st.integers(min_value=0, max_value=200), max_size=6))
def test_the_longest_waiting_stands_first(minutes: list[int]) -> None:
    """Whatever the order in which they were refused; none is lost."""
    asked = [
        replace(ASKED, specimen=f"U-{n}", asked_at=NOW + timedelta(minutes=each))
        for n, each in enumerate(minutes)
    ]
    found = still_to_ask(asked, [], {})
    assert sorted(found, key=lambda one: (one.asked_at, one.specimen)) == list(found)
    assert set(found) == set(asked)
