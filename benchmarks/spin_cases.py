"""
Random questions of centrifuge runs, the same for the same seed: for the benchmark and the tests.

Some have slack and some more work than time; rotors of 4 to 24 places, one to three machines, not
every machine for every family, some slower than others; jobs released one by one or in boxes.
"""

from __future__ import annotations

import random

from cubital.bench.spin_question import NEVER, Job, Question, Rotor


def hour(seed: int, jobs: int | None = None) -> Question:
    """A busy hour: 10 to 40 jobs, or as many as said."""
    rng = random.Random(f"hour {seed}")
    count = jobs or rng.randint(10, 40)
    minutes = [rng.choice((8, 10, 12, 14, 17, 20)) for _ in range(rng.choice((2, 3, 3, 4)))]
    rotors = tuple(
        Rotor(
            rng.choice((4, 6, 8, 8, 10, 12, 12, 16, 20, 24)),
            rng.choice((0, 0, 0, rng.randint(1, 15))),
            _run_times(rng, minutes, first=at == 0, slow=(0, 0, 0, 3, 5), skip=0.15),
        )
        for at in range(rng.choice((1, 2, 2, 3)))
    )
    span = rng.choice((20, 45, 60, 90, 120, 180))
    slack = rng.choice(((12, 40), (15, 60), (20, 90), (30, 120), (40, 180)))
    kinds = [rng.choice((1, 1, 2, 2, 3)) for _ in minutes]
    return Question(_jobs(rng, count, minutes, kinds, span, slack, box=10, undue=0.03), rotors)


def day(seed: int, jobs: int) -> Question:
    """A busy day: 100 to 500 jobs on two to seven machines of 12 to 48 places."""
    rng = random.Random(f"day {seed} {jobs}")
    minutes = [rng.choice((10, 13, 15, 18)) for _ in range(rng.choice((3, 4, 5)))]
    rotors = tuple(
        Rotor(
            rng.choice((12, 16, 20, 24, 24, 32, 36, 48)),
            rng.choice((0, 0, rng.randint(1, 15))),
            _run_times(rng, minutes, first=at == 0, slow=(0, 0, 0, 3), skip=0.1),
        )
        for at in range(max(2, jobs // 100 + rng.choice((0, 1, 1, 2))))
    )
    span = rng.choice((120, 180, 240, 300))
    slack = rng.choice(((20, 60), (20, 90), (30, 120), (40, 180)))
    kinds = [rng.choice((1, 2, 2, 3, 4)) for _ in minutes]
    return Question(_jobs(rng, jobs, minutes, kinds, span, slack, box=15, undue=0.0), rotors)


def _run_times(
    rng: random.Random, minutes: list[int], *, first: bool, slow: tuple[int, ...], skip: float
) -> tuple[int, ...]:
    more = rng.choice(slow)
    return tuple(each + more if first or rng.random() > skip else 0 for each in minutes)


def _jobs(
    rng: random.Random,
    count: int,
    minutes: list[int],
    kinds: list[int],
    span: int,
    slack: tuple[int, int],
    *,
    box: int,
    undue: float,
) -> tuple[Job, ...]:
    weights = [rng.random() + 0.2 for _ in minutes]
    jobs = []
    for _ in range(count):
        family = rng.choices(range(len(minutes)), weights)[0]
        release = rng.randint(-30, span)
        if rng.random() < 0.5:
            release = release // box * box  # it comes with a box
        due = release + minutes[family] + rng.randint(*slack)
        kind = rng.randrange(kinds[family])
        jobs.append(Job(family, kind, release, NEVER if rng.random() < undue else due))
    return tuple(jobs)
