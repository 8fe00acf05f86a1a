"""
Dilution of hypochlorite.

Sources: the parts formula (water parts = stock / use - 1) as WHO infection-control texts give it
(from memory); 100 mL of 5 % in a litre gives 0.5 % (PMC4925840, table 2, read); 1:100 of 5 % gives
0.05 % (WHO, NBK214356, table G.1, read); 0.5 % = 5 000 ppm, by definition.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cubital.catalogue import shipped
from cubital.errors import InputError
from cubital.logbook import dilute

NOW = datetime(2026, 11, 25, 7, tzinfo=UTC)


@pytest.mark.parametrize(
    ("use", "stock", "parts"),
    [("equipment", 5.0, 9), ("spill", 5.0, 4), ("spill", 4.0, 3), ("equipment", 10.0, 19),
     ("surfaces", 5.0, 99)],
)  # fmt: skip
def test_parts_of_water(use: str, stock: float, parts: int) -> None:
    """The worked values of the formula."""
    assert dilute(shipped(), use, stock, 1000, mixed_at=NOW).water_parts == Fraction(parts)


def test_a_litre_of_half_a_percent() -> None:
    """100 mL of 5 % stock and 900 mL of water; 5 000 ppm; stale after a day; half an hour."""
    mix = dilute(shipped(), "equipment", 5.0, 1000, mixed_at=NOW)
    assert (mix.stock_ml, mix.water_ml, mix.ppm) == (100, 900, 5000)
    assert mix.stale_at == NOW + timedelta(hours=24)
    assert mix.contact == (timedelta(minutes=30), timedelta(minutes=30))


def test_one_to_a_hundred_for_surfaces() -> None:
    """10 mL of 5 % stock to a litre is 0.05 %."""
    mix = dilute(shipped(), "surfaces", 5.0, 1000, mixed_at=NOW)
    assert (mix.stock_ml, mix.ppm) == (10, 500)


@given(
    st.sampled_from(["spill", "equipment", "surfaces"]),
    st.floats(1, 15).map(lambda x: round(x, 1)),
    st.integers(10, 20_000),
)
def test_never_weaker_than_wanted_and_never_more_than_asked(
    use: str, stock: float, volume: int
) -> None:
    """Rounding goes to the safe side; stock and water make up the volume."""
    mix = dilute(shipped(), use, stock, volume, mixed_at=NOW)
    assert mix.stock_ml + mix.water_ml == volume
    assert mix.strength_percent >= mix.use.strength_percent - 1e-9


@pytest.mark.parametrize(
    ("use", "stock", "volume"),
    [
        ("soup", 5, 1000),
        ("spill", 0.5, 1000),
        ("spill", 0, 1000),
        ("spill", 5, 0),
        ("spill", 101, 9),
    ],
)
def test_a_wrong_question_is_refused(use: str, stock: float, volume: int) -> None:
    """No such use, too weak a stock, no stock, no volume."""
    with pytest.raises(InputError):
        dilute(shipped(), use, stock, volume, mixed_at=NOW)
