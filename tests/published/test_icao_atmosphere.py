"""
The standard atmosphere, 0 to 11 km.

Outside: the International Standard Atmosphere as tabled by a meteorological service after ICAO
(1964), pressure level and height in metres; the height given there is rounded to a metre.
"""

from __future__ import annotations

import pytest

from cubital.draw.physics import EXPONENT, pressure_hpa

LEVELS = [  # hPa, metres
    (1050, -302),
    (1013.25, 0),
    (1000, 111),
    (950, 540),
    (900, 988),
    (850, 1457),
    (800, 1949),
    (700, 3012),
    (600, 4206),
    (500, 5574),
    (400, 7185),
    (300, 9164),
]
GRADIENT_HPA_PER_M = 0.125  # the steepest of the range, near sea level


@pytest.mark.parametrize(("pressure", "metres"), LEVELS)
def test_pressure_at_the_tabled_heights(pressure: float, metres: int) -> None:
    """Published: within what half a metre of rounding makes, at every level of the table."""
    assert pressure_hpa(metres) == pytest.approx(pressure, abs=GRADIENT_HPA_PER_M * 0.5)


def test_pressure_at_the_tropopause() -> None:
    """Published: 226 hPa at 11 km, as the same table rounds it."""
    assert round(pressure_hpa(11_000)) == 226


def test_the_exponent_follows_from_the_constants() -> None:
    """ISO 2533:1975 / ICAO Doc 7488 (from memory): g / (R L) is 5.25588."""
    assert pytest.approx(5.25588, abs=5e-6) == EXPONENT


@pytest.mark.parametrize(
    ("metres", "pressure"),
    [(1000, 898.76), (2000, 795.01), (3000, 701.21), (4000, 616.60), (5000, 540.48)],
)
def test_geometric_and_geopotential_altitude_hardly_differ(metres: int, pressure: float) -> None:
    """From memory, ISO 2533 for geometric height: within 0.4 hPa up to 5 km."""
    assert pressure_hpa(metres) == pytest.approx(pressure, abs=0.4)
