"""
Centrifuge runs against CP-SAT, a general solver that shares no code with the search.

A sample; all fifty questions stand in ``benchmarks/runs.py``.
"""

from __future__ import annotations

import pytest
from benchmarks.spin_cases import hour

from cubital.bench.spin_plan import plan
from cubital.bench.spin_question import faults
from tests.bench.cpsat import optimum

SAMPLE = (3, 6, 12, 20, 25, 33, 36, 38, 39, 42, 46, 48)
"""Questions that CP-SAT settles in seconds: ten to thirty jobs, with and without slack."""


@pytest.mark.parametrize("seed", SAMPLE)
def test_equal_in_all_three_objectives(seed: int) -> None:
    """Past due, runs and waiting are those that CP-SAT proves to be the least."""
    question = hour(seed)
    answer = plan(question)
    assert faults(question, answer.runs) == []
    other = optimum(question, seconds=60)
    assert other.proved == 3
    assert answer.score == other.values
    assert answer.proved == 3


def test_the_sample_is_a_fair_one() -> None:
    """With overload and without, one machine and several."""
    answers = [plan(hour(seed)) for seed in SAMPLE]
    assert sum(answer.score[0] > 0 for answer in answers) >= 4
    assert sum(answer.score[0] == 0 for answer in answers) >= 4
    assert {len(hour(seed).rotors) for seed in SAMPLE} == {1, 2, 3}
