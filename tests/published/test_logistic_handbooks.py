"""
Logistic regression against worked examples in print (the NIST/SEMATECH e-Handbook has none).

Montgomery and Runger, Applied Statistics and Probability for Engineers, supplement to chapter 11
(read on a page that shows it): O-ring failure at 24 launches by temperature, constant 10.875 (SE
5.703), slope -0.17132 (SE 0.08344), odds ratio 0.84 (0.72 to 0.99), log-likelihood -11.515.  And
Spector and Mazzeo 1980 in Greene, Econometric Analysis (values as remembered; the data come with
statsmodels): constant -13.021, GPA 2.826, TUCE 0.095, PSI 2.379.
"""

from math import exp

import numpy as np
import pytest
import statsmodels.api as sm

from cubital.catalogue import shipped
from cubital.indicators.drivers import _solve, fit

FAILED = (53, 56, 57, 70, 70, 70, 75)
SOUND = (63, 66, 67, 67, 67, 68, 69, 70, 72, 73, 75, 76, 76, 78, 79, 80, 81)


def patterns(columns: list[list[float]], outcomes: list[int]) -> tuple[np.ndarray, list[dict]]:
    """A design with an intercept, and one pattern a row."""
    design = np.column_stack([np.ones(len(outcomes)), *columns])
    return design, [{"bad": each, "of": 1} for each in outcomes]


def test_o_rings():
    """Slope and standard error to the fourth digit, odds ratio with its interval."""
    temperatures = [float(t) for t in (*FAILED, *SOUND)]
    outcomes = [1] * len(FAILED) + [0] * len(SOUND)
    solved = _solve(*patterns([temperatures], outcomes))
    assert solved is not None
    (slope,), (error,) = solved
    assert slope == pytest.approx(-0.17132, abs=5e-6)
    assert error == pytest.approx(0.08344, abs=5e-6)
    assert exp(slope) == pytest.approx(0.84, abs=5e-3)
    assert exp(slope - 1.96 * error) == pytest.approx(0.72, abs=5e-3)
    assert exp(slope + 1.96 * error) == pytest.approx(0.99, abs=5e-3)


def test_o_rings_by_statsmodels_alone():
    """The library itself, as it is used here: constant, its error, log-likelihood."""
    temperatures = np.array([*FAILED, *SOUND], dtype=float)
    counts = np.array([[1, 0]] * len(FAILED) + [[0, 1]] * len(SOUND), dtype=float)
    result = sm.GLM(counts, sm.add_constant(temperatures), family=sm.families.Binomial()).fit()
    assert result.params[0] == pytest.approx(10.875, abs=5e-4)
    assert result.bse[0] == pytest.approx(5.703, abs=5e-4)
    assert result.llf == pytest.approx(-11.515, abs=5e-4)


def test_spector_and_mazzeo():
    """Three variables at once."""
    data = sm.datasets.spector.load_pandas().data
    columns = [data[name].tolist() for name in ("GPA", "TUCE", "PSI")]
    solved = _solve(*patterns(columns, [int(each) for each in data["GRADE"]]))
    assert solved is not None
    assert solved[0] == pytest.approx([2.826, 0.095, 2.379], abs=6e-4)
    assert solved[1] == pytest.approx([1.263, 0.142, 1.065], abs=6e-4)


def test_grouped_counts_give_what_single_specimens_give():
    """The model is fitted to patterns; one row a specimen gives the same."""
    rows = [
        {"site": "v", "device": "straight", "gauge": gauge, "attempt": "first",
         "tourniquet": t, "transport": 2, "bad": bad, "of": 200}
        for gauge, t, bad in ((21, 2, 12), (21, 6, 15), (23, 2, 25), (23, 6, 31))
    ]  # fmt: skip
    single = [
        {**row, "bad": int(n < row["bad"]), "of": 1} for row in rows for n in range(row["of"])
    ]
    grouped, apart = (fit(each, ("gauge", "tourniquet"), shipped()) for each in (rows, single))
    assert len(grouped.effects) == 2
    for one, other in zip(grouped.effects, apart.effects, strict=True):
        assert (one.odds, one.low, one.high) == pytest.approx(
            (other.odds, other.low, other.high), rel=1e-5
        )
