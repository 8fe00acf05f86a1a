"""
Which counts balance in a rotor, against the theorem and its table.

Sivek, On vanishing sums of distinct roots of unity, Integers 10 (2010), A31: k distinct n-th roots
of unity add up to zero if and only if k and n - k are sums of prime factors of n.  The On-Line
Encyclopedia of Integer Sequences, A306275, lists for n = 1, 2, … how many k from 1 to n are
impossible (computed there by others).
"""

from __future__ import annotations

import pytest

from cubital.bench import can_balance

A306275 = (
    1, 1, 2, 2, 4, 2, 6, 4, 6, 4, 10, 2, 12, 6, 8, 8, 16, 2, 18, 4, 12, 10, 22, 2, 20, 12, 18, 6,
    28, 2, 30, 16, 20, 16, 24, 2, 36, 18, 24, 4, 40, 2, 42, 10, 8, 22, 46, 2, 42, 4, 32, 12, 52, 2,
    40, 6, 36, 28, 58, 2, 60, 30, 12, 32, 48, 2, 66, 16, 44, 4, 70, 2, 72,
)  # fmt: skip


@pytest.mark.parametrize("places", range(2, 74))
def test_impossible_counts(places: int) -> None:
    """As many as the sequence says."""
    impossible = [tubes for tubes in range(1, places + 1) if not can_balance(tubes, places)]
    assert len(impossible) == A306275[places - 1]


def test_rotors_of_a_laboratory() -> None:
    """Where 6 divides the places only 1 and all but one are impossible; in powers of 2 the odd."""
    for places in (6, 12, 18, 24, 30, 36, 48):
        impossible = {k for k in range(1, places + 1) if not can_balance(k, places)}
        assert impossible == {1, places - 1}
    for places in (4, 8, 16, 32):
        impossible = {k for k in range(1, places + 1) if not can_balance(k, places)}
        assert impossible == set(range(1, places, 2))
