"""From a question of centrifuge runs to its answer; see :mod:`cubital.bench.spin_search`."""

from __future__ import annotations

from dataclasses import dataclass

from cubital.bench.spin_bounds import late_bound
from cubital.bench.spin_layers import rest_of, sweep, within
from cubital.bench.spin_question import NEVER, Answer, Question, Score, Spun, score_of
from cubital.bench.spin_search import Effort, Limits, Search

EXACT_MOST = 60
"""Jobs up to which an exhaustive search is tried."""
NODES = 100_000
"""Runs tried in all, about: well under a second."""
FIRST_WIDTH = 16
WIDEST, WIDE_JOBS = 20, 4000
"""States a layer of the sweep: fewer for more jobs."""


@dataclass(slots=True)
class _Stand:
    """The best plan so far and what is proved."""

    runs: tuple[Spun, ...]
    score: Score
    late: int
    nodes: int

    def take(self, question: Question, runs: tuple[Spun, ...]) -> None:
        score = score_of(question, runs)
        if score < self.score:
            self.runs, self.score = runs, score


def plan(question: Question, *, nodes: int = NODES) -> Answer:
    """
    Plan the runs: fewest jobs past due, then fewest runs, then least waiting.

    Up to :data:`EXACT_MOST` jobs the plan is exact as far as ``proved`` says; beyond, it comes
    with the bounds.  ``runs_bound`` is for plans with at most as many jobs past due as this one
    has: a plan with more of them past due may need fewer runs and is no better.

    Args:
        question: every family can run on one rotor at least.
        nodes: runs to try, about.
    """
    if not question.jobs:
        return Answer((), (0, 0, 0), 0, 0, 3, 0)
    search = Search(question)
    large = len(question.jobs) > EXACT_MOST
    width = max(2, min(WIDEST, WIDE_JOBS // len(question.jobs))) if large else FIRST_WIDTH
    _, path, tried = sweep(search, width)
    stand = _Stand((), (NEVER, NEVER, NEVER), late_bound(question, search.families), tried)
    stand.take(question, search.runs_of(path))
    proved = 0 if large else _prove(search, stand, nodes)
    bound = _runs_bound(search, stand.score[0])
    if proved == 0 and stand.late == stand.score[0]:
        proved = 1
    if proved >= 2:
        bound = stand.score[1]
    elif proved == 1 and bound == stand.score[1]:
        proved = 2
    return Answer(stand.runs, stand.score, stand.late, bound, proved, stand.nodes)


def _runs_bound(search: Search, late: int) -> int:
    """Runs that a plan with at most so many jobs past due needs at least."""
    rest = rest_of(search, search.begin, Limits(late=late), 0)
    return rest[0] if rest else 0


def _prove(search: Search, stand: _Stand, nodes: int) -> int:
    """Search exhaustively, objective by objective; gives how many are proved."""
    proved_late = _fewest_late(search, stand, nodes)
    late, most, waiting = stand.score
    runs = _runs_bound(search, late)
    sure = proved_late
    while runs <= most:
        limits = Limits(late, runs, waiting if runs == most else NEVER)
        found = within(search, limits, Effort(max(nodes // 8, nodes - stand.nodes)))
        stand.nodes += found.nodes
        if found.runs is not None:
            stand.take(search.question, found.runs)
        if found.runs is not None or runs == most:
            return int(proved_late) + sure * (1 + found.exhausted)
        sure = sure and found.exhausted
        runs += 1
    return int(proved_late)


def _fewest_late(search: Search, stand: _Stand, nodes: int) -> bool:
    """Look for plans with fewer jobs past due until there is proved to be none."""
    while stand.score[0] > stand.late:
        limits = Limits(late=stand.score[0] - 1)
        found = within(search, limits, Effort(nodes // 2, any=True))
        stand.nodes += found.nodes
        if found.runs is not None:
            stand.take(search.question, found.runs)
        elif found.exhausted:
            stand.late = stand.score[0]
        else:
            return False
    return True
