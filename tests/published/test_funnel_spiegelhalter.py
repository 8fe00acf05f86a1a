"""
Funnel limits: Spiegelhalter D J, Stat Med 2005;24:1185 (abstract and formulas as handbooks and the
readme of an R package for such funnels give them): θ ± z·√(θ(1-θ)/n), z 1.96 and 3.09, and
φ = Σz²/I on z-values winsorised at 10 percent.  Worked by hand here.
"""

from math import sqrt

import numpy as np
import pytest
from scipy.stats import norm
from scipy.stats.mstats import winsorize

from cubital.catalogue import shipped
from cubital.indicators.funnel import FunnelPolicy, funnel_limits, overdispersion

POLICY = FunnelPolicy.of(shipped())


def test_z_of_95_and_998_percent():
    """1.96 and 3.09."""
    assert POLICY.inner_z == pytest.approx(norm.ppf(0.975), abs=5e-3)
    assert POLICY.outer_z == pytest.approx(norm.ppf(0.999), abs=5e-3)


def test_limits_by_hand():
    """2 percent of 2500: ± 0.55 and ± 0.865 percentage points."""
    low, high = funnel_limits(0.02, 2500, 1.96)
    assert (low, high) == (pytest.approx(0.0145, abs=2e-5), pytest.approx(0.0255, abs=2e-5))
    low, high = funnel_limits(0.02, 2500, 3.09)
    assert (low, high) == (pytest.approx(0.01135, abs=2e-5), pytest.approx(0.02865, abs=2e-5))


def test_a_spread_of_four_doubles_the_limits():
    """They grow with the square root of φ."""
    _, once = funnel_limits(0.2, 900, 1.96)
    _, twice = funnel_limits(0.2, 900, 1.96, phi=4)
    assert twice - 0.2 == pytest.approx(2 * (once - 0.2))
    assert once == pytest.approx(0.2 + 1.96 * sqrt(0.2 * 0.8 / 900))


def test_winsorised_as_scipy_does_it():
    """Ten percent at each end, pulled in to the next."""
    zs = [-4.0, -1.5, -1.2, -0.9, -0.7, -0.4, -0.3, -0.1, 0.0, 0.1, 0.2, 0.3, 0.5, 0.6, 0.8, 1.0,
          1.3, 1.7, 2.2, 9.0]  # fmt: skip
    theirs = winsorize(np.array(zs), limits=(0.1, 0.1))
    assert overdispersion(zs, 0.1) == pytest.approx(float((theirs**2).sum()) / len(zs))
