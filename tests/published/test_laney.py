"""
Laney p′ and u′ charts.

Laney D B, Improved control charts for attributes, Qual Eng 2002;14:531, as handbooks give the
formulas: z of each subgroup, sigma z = mean moving range of z over 1.128, limits centre ± 3 · sigma
· sigma z.  On the NIST wafers: sigma z 1.661, upper limit .528, nothing beyond (computed once by
hand from the formula, kept here to the third digit).  The variant that takes the standard deviation
of z in the place of the moving range is another number, and wrong.
"""

from itertools import pairwise
from math import sqrt
from statistics import stdev

import pytest

from cubital.indicators.control import RATE, SHARE, Policy, chart, sigma_z
from tests.published.test_nist_p_chart import CHIPS, WAFERS, series

LANEY = Policy(least=8, firm=20, few=5)


def test_sigma_z_of_the_wafers():
    """1.661 by moving ranges; 1.49 by the standard deviation, which is not Laney's."""
    rows = series(WAFERS, CHIPS)
    mean = sum(WAFERS) / (CHIPS * len(WAFERS))
    assert sigma_z(rows, mean, SHARE) == pytest.approx(1.661, abs=5e-4)
    sd = sqrt(mean * (1 - mean) / CHIPS)
    by_sd = stdev((top / CHIPS - mean) / sd for top in WAFERS)
    assert abs(by_sd - 1.661) > 0.05


def test_limits_of_the_wafers():
    """0 to .528: nothing lies beyond, where the plain chart has two points."""
    drawn = chart(series(WAFERS, CHIPS), SHARE, LANEY)
    assert drawn.kind == "p′"
    point = drawn.points[0]
    assert point.low == 0
    assert point.high == pytest.approx(0.528, abs=5e-4)
    assert all(p.value is not None and p.high is not None and p.value < p.high
               for p in drawn.points)  # fmt: skip


def test_unequal_subgroups_by_hand():
    """Three subgroups worked through with the formula, to the last step."""
    rows = [(1, 20, 100), (2, 60, 200), (3, 30, 200)]
    mean = 110 / 500
    zs = [(t / n - mean) / sqrt(mean * (1 - mean) / n) for _, t, n in rows]
    by_hand = (abs(zs[1] - zs[0]) + abs(zs[2] - zs[1])) / 2 / 1.128
    assert sigma_z(rows, mean, SHARE) == pytest.approx(by_hand)
    assert by_hand == pytest.approx(3.6945, abs=1e-3)


def test_u_prime_is_the_same_with_a_poisson_spread():
    """The spread is √(ū/n) in the place of √(p̄q̄/n)."""
    rows = [(n, top, 10) for n, top in enumerate((12, 8, 15, 11, 9, 30, 28, 10, 12, 11))]
    mean = 146 / 100
    zs = [(t / n - mean) / sqrt(mean / n) for _, t, n in rows]
    ranges = [abs(b - a) for a, b in pairwise(zs)]
    drawn = chart(rows, RATE, LANEY)
    assert drawn.kind == "u′"
    assert drawn.sigma_z == pytest.approx(sum(ranges) / 9 / 1.128)
    assert drawn.points[0].high == pytest.approx(mean + 3 * sqrt(mean / 10) * drawn.sigma_z)
    plain = chart(rows, RATE, Policy(least=8, firm=20, few=5, laney=False))
    assert plain.kind == "u"
    assert plain.points[0].high == pytest.approx(mean + 3 * sqrt(mean / 10))
