"""
How sure a figure is: intervals of a share, of the difference of two, of a ratio; and sigma.

Nothing here divides by zero: a share of nothing is not known, and its interval is everything.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from statistics import NormalDist

from cubital.catalogue import Catalogue

NORMAL = NormalDist()


@dataclass(frozen=True, slots=True)
class Interval:
    """Between ``low`` and ``high``, both ends included."""

    low: float
    high: float

    def holds(self, value: float) -> bool:
        """Whether a value lies in it."""
        return self.low <= value <= self.high


def z_of(catalogue: Catalogue) -> float:
    """The normal quantile of the setting ``indicator_confidence_percent``, two-sided."""
    return NORMAL.inv_cdf(0.5 + catalogue.decimal("indicator_confidence_percent") / 200)


def wilson(bad: int, of: int, z: float) -> Interval:
    """
    The score interval of a share (Wilson 1927; NIST/SEMATECH e-Handbook 7.2.4.1).

    Args:
        bad: of them.
        of: all; of 0 nothing is known and the interval is 0 to 1.
        z: normal quantile, two-sided.

    >>> interval = wilson(81, 263, 1.959964)
    >>> round(interval.low, 4), round(interval.high, 4)
    (0.2553, 0.3662)
    """
    if of == 0:
        return Interval(0.0, 1.0)
    share = bad / of
    square = z * z
    middle = bad + square / 2
    reach = z * sqrt(bad * (of - bad) / of + square / 4)
    low = 0.0 if bad == 0 else (middle - reach) / (of + square)
    high = 1.0 if bad == of else (middle + reach) / (of + square)
    # rounding must not put the share outside its own interval
    return Interval(min(low, share), max(high, share))


def newcombe(bad: int, of: int, bad_before: int, of_before: int, z: float) -> Interval:
    """
    The interval of the difference of two shares, now less before (Newcombe 1998, method 10).

    Where one of them has nothing, nothing is known: -1 to 1.
    """
    if of == 0 or of_before == 0:
        return Interval(-1.0, 1.0)
    now, before = bad / of, bad_before / of_before
    here, there = wilson(bad, of, z), wilson(bad_before, of_before, z)
    low = now - before - sqrt((now - here.low) ** 2 + (there.high - before) ** 2)
    high = now - before + sqrt((here.high - now) ** 2 + (before - there.low) ** 2)
    return Interval(low, high)


def attempts_interval(attempts: int, successes: int, z: float) -> Interval | None:
    """
    The interval of attempts per success: one over that of successes per attempt.

    None when nothing succeeded, or where more succeeded than was tried.
    """
    if not 0 < successes <= attempts:
        return None
    share = wilson(successes, attempts, z)
    return Interval(1 / share.high, 1 / share.low)


def ratio_interval(
    top: int, bottom: int, rows: int, squares: tuple[int, int, int], z: float
) -> Interval | None:
    """
    The interval of a ratio of two sums over the same rows (ratio estimator, from memory: Cochran).

    Args:
        top: sum above.
        bottom: sum below.
        rows: how many rows.
        squares: sums of top², bottom² and top · bottom.
        z: normal quantile, two-sided.

    Returns:
        None with fewer than two rows or nothing below.
    """
    if rows < 2 or bottom <= 0:
        return None
    ratio = top / bottom
    tops, bottoms, both = squares
    spread = max(0.0, tops - 2 * ratio * both + ratio * ratio * bottoms) / (rows - 1)
    reach = z * sqrt(spread * rows) / bottom
    return Interval(max(0.0, ratio - reach), ratio + reach)


def sigma(bad: int, of: int, shift: float) -> float | None:
    """
    The short-term sigma of a share: Φ⁻¹(1 - share) + shift.

    None where no such number exists: nothing counted, none found, or all.
    """
    return sigma_of(bad / of, shift) if 0 < bad < of else None


def sigma_of(share: float, shift: float) -> float:
    """The short-term sigma of a share between 0 and 1."""
    return NORMAL.inv_cdf(1 - share) + shift


def least_sigma(bad: int, of: int, z: float, shift: float) -> float | None:
    """The sigma of the upper end of a share's interval: it is at least so much; None of nothing."""
    high = wilson(bad, of, z).high
    return sigma_of(high, shift) if of and high < 1 else None
