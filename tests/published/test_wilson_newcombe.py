"""
Score intervals.

Wilson 1927 as in Newcombe R G, Two-sided confidence intervals for the single proportion, Stat Med
1998;17:857, Table I, method 3 (81/263, 15/148, 0/20, 1/29: values as remembered, each recomputed
from the formula of the NIST/SEMATECH e-Handbook 7.2.4.1), and of differences in Newcombe
1998;17:873, Table II, method 10 (values as remembered).  Two further sources read: 306 of 41 333
and 1258 of 112 112 mislabelled specimens (Q-Probes, CAP Today 2015).  scipy and statsmodels are
asked as well.
"""

import pytest
from scipy.stats import binomtest
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

from cubital.catalogue import shipped
from cubital.indicators.intervals import newcombe, wilson, z_of

Z = z_of(shipped())


@pytest.mark.parametrize(
    ("bad", "of", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
        (23, 60, 0.2709, 0.5098),
        (4, 20, 0.0807, 0.4160),
    ],
)
def test_newcombe_table_1(bad: int, of: int, low: float, high: float):
    """Method 3, to the fourth digit."""
    interval = wilson(bad, of, Z)
    assert interval.low == pytest.approx(low, abs=5.1e-5)
    assert interval.high == pytest.approx(high, abs=5.1e-5)


@pytest.mark.parametrize(
    ("bad", "of", "low", "high"), [(306, 41_333, 0.66, 0.83), (1258, 112_112, 1.06, 1.19)]
)
def test_mislabelled_specimens(bad: int, of: int, low: float, high: float):
    """In percent, to the second digit."""
    interval = wilson(bad, of, Z)
    assert round(100 * interval.low, 2) == low
    assert round(100 * interval.high, 2) == high


@pytest.mark.parametrize("of", [1, 7, 29, 300, 41_333])
def test_scipy_and_statsmodels_agree(of: int):
    """At both ends, in the middle, to the twelfth digit."""
    for bad in {0, 1, of // 3, of - 1, of}:
        interval = wilson(bad, of, Z)
        theirs = binomtest(bad, of).proportion_ci(0.95, method="wilson")
        assert interval.low == pytest.approx(theirs.low, abs=1e-12)
        assert interval.high == pytest.approx(theirs.high, abs=1e-12)
        low, high = proportion_confint(bad, of, method="wilson")
        assert (interval.low, interval.high) == (
            pytest.approx(low, abs=1e-12), pytest.approx(high, abs=1e-12),
        )  # fmt: skip


@pytest.mark.parametrize(
    ("here", "there", "low", "high"),
    [
        ((56, 70), (48, 80), 0.0524, 0.3339),
        ((9, 10), (3, 10), 0.1705, 0.8090),
        ((6, 7), (2, 7), 0.0582, 0.8062),
        ((5, 56), (0, 29), -0.0381, 0.1926),
        ((0, 10), (0, 20), -0.1611, 0.2775),
        ((0, 10), (0, 10), -0.2775, 0.2775),
        ((10, 10), (0, 20), 0.6791, 1.0),
        ((10, 10), (0, 10), 0.6075, 1.0),
    ],
)
def test_newcombe_table_2(here: tuple[int, int], there: tuple[int, int], low: float, high: float):
    """Method 10, to the fourth digit."""
    interval = newcombe(*here, *there, Z)
    assert interval.low == pytest.approx(low, abs=5.1e-5)
    assert interval.high == pytest.approx(high, abs=5.1e-5)


@pytest.mark.parametrize(("here", "there"), [((56, 70), (48, 80)), ((9, 1000), (31, 990))])
def test_statsmodels_agrees_on_differences(here: tuple[int, int], there: tuple[int, int]):
    """Its method 'newcomb'."""
    low, high = confint_proportions_2indep(*here, *there, method="newcomb", compare="diff")
    interval = newcombe(*here, *there, Z)
    assert interval.low == pytest.approx(low, abs=1e-9)
    assert interval.high == pytest.approx(high, abs=1e-9)
