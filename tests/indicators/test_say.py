"""Numbers and times in words."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cubital.indicators.intervals import Interval
from cubital.indicators.say import (
    add_months,
    joined,
    month_words,
    months_between,
    number,
    percent,
    percent_range,
    period_label,
    points,
    some,
    weeks_between,
)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0, "0"), (12, "12"), (1234567, "1,234,567"), (0.5, "0.5"), (1.005, "1"),
        (1.234, "1.23"), (12.34, "12.3"), (123.4, "123"), (0.00001234, "0.0000123"),
        (1234.5, "1,234"), (99.999, "100"),
    ],
)  # fmt: skip
def test_numbers(value: float, text: str):
    """Three digits that count, and never a power of ten."""
    assert number(value) == text


@given(st.floats(1e-9, 1))
def test_a_share_in_percent_has_no_power_of_ten(share: float):
    """However small."""
    assert "e" not in percent(share)
    assert percent(share).endswith(" %")


def test_shares_and_differences():
    """In percent and percentage points, with a true minus."""
    assert percent(0.1 + 0.2) == "30 %"
    assert percent(0) == "0 %"
    assert percent_range(Interval(0.0012, 0.5)) == "0.12 to 50 %"
    assert points(-0.0125) == "−1.25"
    assert points(0.0125) == "+1.25"
    assert points(0) == "0"


def test_words():
    """Counts and lists."""
    assert some(1, "specimen") == "1 specimen"
    assert some(2000, "specimen") == "2,000 specimens"
    assert some(2, "reply", "replies") == "2 replies"
    assert joined([]) == ""
    assert joined(["a"]) == "a"
    assert joined(["a", "b", "c"]) == "a, b and c"


def test_months_and_weeks():
    """Across the ends of years."""
    assert month_words(202603) == "March 2026"
    assert add_months(202601, -1) == 202512
    assert add_months(202512, 1) == 202601
    assert months_between(202511, 202602) == [202511, 202512, 202601, 202602]
    assert months_between(202602, 202601) == []
    assert weeks_between(202652, 202702) == [202652, 202653, 202701, 202702]
    assert period_label(202603, "month") == "2026-03"
    assert period_label(202603, "week") == "2026-W03"


@given(st.integers(2000, 2100), st.integers(1, 12), st.integers(-500, 500))
def test_months_forth_and_back(year: int, month: int, more: int):
    """Adding and taking away is nothing."""
    assert add_months(add_months(year * 100 + month, more), -more) == year * 100 + month
