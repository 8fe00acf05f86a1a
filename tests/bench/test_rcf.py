"""Force and speed; published values stand in tests/published/test_rcf.py."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cubital.bench import rcf_of, speed_of
from cubital.errors import InputError


@given(st.floats(10, 400), st.floats(100, 20_000))
def test_speed_and_force_undo_each_other(radius_mm: float, rpm: float) -> None:
    """The speed that makes the force of a speed is that speed."""
    assert speed_of(radius_mm, rcf_of(radius_mm, rpm)) == pytest.approx(rpm)


@given(st.floats(10, 400), st.floats(100, 20_000))
def test_force_grows_with_the_square_of_the_speed(radius_mm: float, rpm: float) -> None:
    """Twice the speed is four times the force, twice the radius twice."""
    force = rcf_of(radius_mm, rpm)
    assert rcf_of(radius_mm, 2 * rpm) == pytest.approx(4 * force)
    assert rcf_of(2 * radius_mm, rpm) == pytest.approx(2 * force)


@pytest.mark.parametrize("bad", [0, -1, math.inf, math.nan])
def test_what_cannot_be_is_refused(bad: float) -> None:
    """A radius, speed or force of nothing."""
    for call in (rcf_of, speed_of):
        with pytest.raises(InputError, match="above 0"):
            call(bad, 3000)
        with pytest.raises(InputError, match="above 0"):
            call(170, bad)
