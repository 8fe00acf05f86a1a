"""
Relative centrifugal force against published values and nomograms.

The constant stands in every nomogram: 1.118e-5 with the radius in cm and turns a minute.
"""

from __future__ import annotations

import math

import pytest

from cubital.bench import rcf_of, speed_of
from cubital.bench.rcf import RCF_PER_MM


def test_constant() -> None:
    """1.118e-5 per cm, exactly 4 π² / (3600 × 980.665)."""
    per_cm = RCF_PER_MM * 10
    assert per_cm == pytest.approx(1.118e-5, rel=3e-4)
    assert per_cm == pytest.approx(4 * math.pi**2 / (3600 * 980.665), rel=1e-12)


@pytest.mark.parametrize(
    ("radius_mm", "rpm", "rcf_g", "rel"),
    [
        # Examination page on laboratory practice, how to calculate RCF: 5 cm, 10 000 turns.
        (50, 10_000, 5590, 5e-4),
        # Guide of a medical laboratory, chapter on relative centrifugal acceleration, worked
        # example beside its nomogram: 10 cm, 4000 turns.
        (100, 4000, 1789, 5e-4),
        # Worked example of a conversion page, g = 9.81 m/s²: 0.5 m, 500 turns.
        (500, 500, 139.67, 2e-3),
        # Table of a conversion page, rounded to its constant of 1.12e-5.
        (50, 500, 14.0, 3e-3),
        (100, 1000, 112.0, 3e-3),
        (50, 5000, 1400.0, 3e-3),
        (100, 5000, 2800.0, 3e-3),
        (500, 1000, 560.0, 3e-3),
        (1000, 500, 280.0, 3e-3),
        (100, 10_000, 11_200.0, 3e-3),
        (50, 20_000, 22_400.0, 3e-3),
    ],
)
def test_published_pairs(radius_mm: float, rpm: float, rcf_g: float, rel: float) -> None:
    """Radius and speed give the published force, and the force gives the speed."""
    assert rcf_of(radius_mm, rpm) == pytest.approx(rcf_g, rel=rel)
    assert speed_of(radius_mm, rcf_g) == pytest.approx(rpm, rel=rel)


@pytest.mark.parametrize(
    ("radius_mm", "rpm", "rcf_g"),
    [
        # Computed from the stated formula, as a nomogram would be read.
        (100, 3000, 1006), (150, 3000, 1509), (170, 3500, 2328), (84, 4000, 1503),
        (160, 4000, 2862), (100, 3663, 1500), (150, 2991, 1500), (170, 3244, 2000),
        (180, 2542, 1300), (120, 4317, 2500),
    ],
)  # fmt: skip
def test_pairs_as_a_nomogram_is_read(radius_mm: float, rpm: float, rcf_g: float) -> None:
    """Within a line's breadth."""
    assert rcf_of(radius_mm, rpm) == pytest.approx(rcf_g, rel=1e-3)
    assert speed_of(radius_mm, rcf_g) == pytest.approx(rpm, rel=1e-3)
