"""
The question of the centrifuge runs in whole numbers, and its answer.

Times are whole minutes from now; they may be negative in a release.  Nothing here knows blood.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

from cubital.bench.balance import fits

NEVER = 10**9
"""A due time of what is never past due."""


@dataclass(frozen=True, slots=True)
class Job:
    """
    A tube to be spun.

    Args:
        family: programmes of one family share a run.
        kind: tubes of one kind (container and fill) balance each other.
        release: not before.
        due: the spin has ended by then, or :data:`NEVER`.
    """

    family: int
    kind: int
    release: int
    due: int = NEVER


@dataclass(frozen=True, slots=True)
class Rotor:
    """
    A machine.

    Args:
        places: in its rotor, 2 or more.
        free: from when on.
        minutes: of a run, by family; 0 where it cannot run the family.
    """

    places: int
    free: int
    minutes: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Question:
    """What is to be planned; every family can run on one rotor at least."""

    jobs: tuple[Job, ...]
    rotors: tuple[Rotor, ...]


@dataclass(frozen=True, slots=True)
class Spun:
    """One run: which rotor, which family, when, and the jobs by index."""

    rotor: int
    family: int
    start: int
    jobs: tuple[int, ...]


Score: TypeAlias = tuple[int, int, int]
"""Jobs past due, runs, total waiting from release to start: smaller is better, in this order."""


@dataclass(frozen=True, slots=True)
class Answer:
    """
    A plan and what is known of it.

    Args:
        runs: in order of their start.
        score: of the plan.
        late_bound: no plan has fewer jobs past due.
        runs_bound: no plan with as few jobs past due as this one has fewer runs.
        proved: how many of the three objectives are proved to be the least possible, one after
            the other.
        nodes: runs that were tried.
    """

    runs: tuple[Spun, ...]
    score: Score
    late_bound: int
    runs_bound: int
    proved: int
    nodes: int


def score_of(question: Question, runs: Sequence[Spun]) -> Score:
    """Reckon the three objectives of a plan from its runs alone."""
    late = waiting = 0
    for run in runs:
        end = run.start + question.rotors[run.rotor].minutes[run.family]
        for index in run.jobs:
            late += end > question.jobs[index].due
            waiting += run.start - question.jobs[index].release
    return late, len(runs), waiting


def faults(question: Question, runs: Sequence[Spun]) -> list[str]:
    """Say everything that is wrong with a plan; an empty list for a sound one."""
    found = []
    served = sorted(index for run in runs for index in run.jobs)
    if served != list(range(len(question.jobs))):
        found.append("not every job runs exactly once")
    for run in runs:
        rotor = question.rotors[run.rotor]
        jobs = [question.jobs[index] for index in run.jobs]
        kinds = [job.kind for job in jobs]
        if not jobs:
            found.append("an empty run")
        if not rotor.minutes[run.family] or any(job.family != run.family for job in jobs):
            found.append("a family where it cannot run")
        if run.start < max([rotor.free, *(job.release for job in jobs)]):
            found.append("a run before its rotor or a job is ready")
        if not fits([kinds.count(kind) for kind in sorted(set(kinds))], rotor.places):
            found.append("a run that does not balance")
    for index, rotor in enumerate(question.rotors):
        mine = sorted((run.start, run.family) for run in runs if run.rotor == index)
        ends = [start + rotor.minutes[family] for start, family in mine]
        if any(start < end for (start, _), end in zip(mine[1:], ends, strict=False)):
            found.append("two runs of one rotor at once")
    return found
