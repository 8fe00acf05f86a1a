"""
p charts against the NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.2 (pmc332.htm).

Thirty wafers of fifty chips, mean share .2313: published, the mean read on pages that quote the
handbook; the counts as a teaching page gives them with three values restored (wafers 15, 21 and 23,
from memory), whose sum gives the published mean.  A second series of ten samples of 200 comes from
a textbook page (p. 489 of a quality management text: centre .16, limits .0822 and .2378).
"""

from math import sqrt

import pytest

from cubital.catalogue import shipped
from cubital.indicators.control import SHARE, Policy, chart
from cubital.indicators.runs import rules_of, signals

WAFERS = (12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11, 20, 18, 24, 15, 9,
          12, 7, 13, 9, 6)  # fmt: skip
CHIPS = 50
TEN = (40, 44, 22, 34, 24, 32, 28, 32, 34, 30)
PLAIN = Policy(least=8, firm=20, few=5, laney=False)


def series(tops: tuple[int, ...], bottom: int) -> list[tuple[int, int, int]]:
    """Numbered from 1."""
    return [(n, top, bottom) for n, top in enumerate(tops, start=1)]


def test_the_handbook_s_mean_and_limits():
    """Published mean .2313; limits .0524 and .4102 by the handbook's formula."""
    drawn = chart(series(WAFERS, CHIPS), SHARE, PLAIN)
    assert drawn.kind == "p"
    assert drawn.centre == pytest.approx(0.2313, abs=5e-5)
    assert sum(WAFERS) == 347
    low, high = drawn.points[0].low, drawn.points[0].high
    assert low == pytest.approx(0.0524, abs=1e-4)
    assert high == pytest.approx(0.4102, abs=1e-4)
    by_hand = 3 * sqrt(0.2313333 * (1 - 0.2313333) / 50)
    assert high == pytest.approx(0.2313333 + by_hand, abs=1e-6)


def test_the_wafers_beyond_the_limits():
    """15 and 23, and no other."""
    drawn = chart(series(WAFERS, CHIPS), SHARE, PLAIN)
    beyond = [p.period for p in drawn.points if p.high and p.value and p.value > p.high]
    assert beyond == [15, 23]
    found = signals(drawn, rules_of(shipped()))
    assert [one.period for one in found if one.rule == "beyond-3"] == [15, 23]


def test_the_textbook_series_in_control():
    """Centre .16, limits .0822 and .2378, nothing beyond."""
    drawn = chart(series(TEN, 200), SHARE, PLAIN)
    assert drawn.centre == pytest.approx(0.16)
    point = drawn.points[0]
    assert point.low == pytest.approx(0.0822, abs=5e-5)
    assert point.high == pytest.approx(0.2378, abs=5e-5)
    assert not [one for one in signals(drawn, rules_of(shipped())) if one.rule == "beyond-3"]
