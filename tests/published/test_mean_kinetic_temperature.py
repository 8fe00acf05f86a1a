"""
Mean kinetic temperature.

Source: United States Pharmacopeia 29, general chapter 1160 (formula, activation energy
83.144 kJ/mol, gas constant 8.3144e-3 kJ/(mol K)).  The chapter's own example tables were not seen;
the values below are computed from that formula with Python's decimal arithmetic, which shares no
code with the room.
"""

from __future__ import annotations

from decimal import Decimal, getcontext

import pytest

from cubital.catalogue import shipped
from cubital.transport import mean_kinetic_c

getcontext().prec = 40


def by_decimal(celsius: list[float]) -> float:
    """The formula, written out with forty digits."""
    ratio = Decimal("83.144") / Decimal("0.0083144")
    rates = [(-ratio / (Decimal(str(c)) + Decimal("273.15"))).exp() for c in celsius]
    return float(ratio / -(sum(rates) / len(rates)).ln() - Decimal("273.15"))


@pytest.mark.parametrize(
    ("celsius", "expected"),
    [
        ([25, 40], 35.07),
        ([20] * 11 + [30], 21.38),
        ([2, 8], 5.54),
        ([20, 25, 30], 25.86),
        ([5] * 22 + [25] * 2, 9.83),
        ([4, 4, 4, 4, 30, 4, 4], 15.10),
        ([-5.5, 0, 5.5], 1.22),
    ],
)
def test_worked_values(celsius: list[float], expected: float) -> None:
    """To the hundredth of a degree as written, to a millionth as the forty digits have it."""
    value = mean_kinetic_c(celsius, shipped())
    assert value == pytest.approx(by_decimal(celsius), abs=1e-6)
    assert round(value, 2) == expected
