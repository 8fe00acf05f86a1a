"""
Planning centrifuge runs: exact for a busy hour, close with a stated bound for a busy day.

**The states.**  Runs are decided in the order of their start.  After some of them a state is: when
each rotor is free next (never before the last start), and which jobs have not run.  An optimal plan
never starts a run later than its rotor and its jobs allow, because starting it then would shorten
the waiting and spoil nothing; so a run starts when its rotor is free or when one of its jobs is
released.  What it takes is one of the sets of :mod:`cubital.bench.spin_loads`.

**The layers.**  Layer ``k`` holds the states after ``k`` runs.  Of states with the same jobs left,
one is dropped when another has every rotor free as early, no more jobs past due, and no more
waiting.

**The order.**  :func:`cubital.bench.spin_plan.plan` first sweeps the layers with a few states each
for a good plan.  Then it asks, with all states: is there a plan with fewer jobs past due?  When
there is none, what is the smallest number of runs, tried upwards from the bound?  The first number
that works gives the least waiting in the same search.  A search is exhaustive as long as no state
was left out for want of effort, and only then its "no" counts as proof.

Nothing here reads a clock: effort is counted in runs tried, so the same question has the same
answer everywhere.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

from cubital.bench.spin_bounds import Bounds
from cubital.bench.spin_family import Family
from cubital.bench.spin_loads import Loads
from cubital.bench.spin_question import NEVER, Question, Spun


class Move(NamedTuple):
    """A run as the search decides it: set of jobs as bits of its family."""

    rotor: int
    family: int
    start: int
    jobs: int


Path: TypeAlias = "tuple[Path, Move] | None"
"""The runs decided so far, last first."""


class State(NamedTuple):
    """
    Where a plan stands.

    Args:
        free: when each rotor is free next, sorted among equal rotors.
        left: jobs that have not run, by family.
        late: jobs past due so far.
    """

    free: tuple[int, ...]
    left: tuple[int, ...]
    late: int


@dataclass(frozen=True, slots=True)
class Limits:
    """What a plan must stay within."""

    late: int = NEVER
    runs: int = NEVER
    waiting: int = NEVER


@dataclass(frozen=True, slots=True)
class Effort:
    """
    How hard to search.

    Args:
        nodes: runs to try at most, about.
        width: states kept of a layer.
        few: only the likely sets and starts of a run; never exhaustive.
        any: stop at the first plan within the limits.
    """

    nodes: int
    width: int = NEVER
    few: bool = False
    any: bool = False


@dataclass(frozen=True, slots=True)
class Found:
    """
    What a search found.

    Args:
        runs: of the best plan, None when there is none within the limits.
        exhausted: nothing was left out, so there is no better one.
        nodes: runs tried.
    """

    runs: tuple[Spun, ...] | None
    exhausted: bool
    nodes: int


STARTS = 4
"""Starts of a run tried in a sweep."""


class Search:
    """The state space of one question."""

    def __init__(self, question: Question) -> None:
        self.question = question
        count = max((job.family for job in question.jobs), default=-1) + 1
        self.families = tuple(Family(question, index) for index in range(count))
        self.bounds = Bounds(self.families)
        self.loads = Loads(question)
        alike: dict[tuple[int, tuple[int, ...]], list[int]] = {}
        for at, rotor in enumerate(question.rotors):
            alike.setdefault((rotor.places, rotor.minutes), []).append(at)
        self._alike = tuple(tuple(group) for group in alike.values())
        self._twins = tuple(group for group in self._alike if len(group) > 1)
        free = tuple(rotor.free for rotor in question.rotors)
        self.begin = State(self._sorted(free), tuple(one.all for one in self.families), 0)

    def _sorted(self, free: tuple[int, ...]) -> tuple[int, ...]:
        """Equal rotors in the order in which they are free: which of them is which is no matter."""
        if not self._twins:
            return free
        times = list(free)
        for group in self._twins:
            for at, time in zip(group, sorted(times[at] for at in group), strict=True):
                times[at] = time
        return tuple(times)

    # ------------------------------------------------------------ moves

    def first_free(self, family: Family, free: tuple[int, ...]) -> int:
        """When the first rotor of a family is free."""
        return min(free[at] for at in family.rotors)

    def moves(
        self, state: State, *, late: int = NEVER, few: bool = False
    ) -> Iterator[tuple[Move, State, int]]:
        """
        Every run worth trying next, the state after it, and the waiting that it adds.

        Args:
            state: before it.
            late: jobs past due that a plan may have.
            few: only the likely runs.
        """
        for group in self._alike:
            tried = set()
            for rotor in group:
                if state.free[rotor] in tried:
                    continue
                tried.add(state.free[rotor])
                for family in self.families:
                    if state.left[family.index] and family.minutes[rotor]:
                        yield from self._runs(state, family, rotor, late - state.late, few=few)

    def _runs(
        self, state: State, family: Family, rotor: int, spare: int, *, few: bool
    ) -> Iterator[tuple[Move, State, int]]:
        index = family.index
        left, free = state.left[index], state.free[rotor]
        for start in self._starts(state, family, rotor, few=few):
            waiting = left & family.released(start)
            fresh = waiting & ~family.released(start - 1) if start > free else -1
            times = [max(start, time) for time in state.free]
            times[rotor] = start + family.minutes[rotor]
            after = self._sorted(tuple(times))
            for load in self.loads.sets(family, waiting, rotor, start, few=few):
                if load.jobs & fresh and load.late <= spare:
                    rest = (*state.left[:index], left & ~load.jobs, *state.left[index + 1 :])
                    move = Move(rotor, index, start, load.jobs)
                    added = load.number * start - load.releases
                    yield move, State(after, rest, state.late + load.late), added

    def _starts(self, state: State, family: Family, rotor: int, *, few: bool) -> list[int]:
        """When the rotor is free, if something waits, and each later release of a job left."""
        left, free = state.left[family.index], state.free[rotor]
        seen = family.released(free)
        starts = [free] if left & seen else []
        latest = NEVER
        if few:
            first = self.first_free(family, state.free)
            urgent = self.bounds.outlook(family.index, left, first).urgent
            latest = urgent - (family.minutes[rotor] - family.least)
        for moment in family.releases:
            if moment <= free:
                continue
            if moment > latest and starts:
                break
            now = family.released(moment)
            if left & now & ~seen:
                starts.append(moment)
            seen = now
        if few and len(starts) > STARTS:
            step = (len(starts) - 1) / (STARTS - 1)
            starts = [starts[round(at * step)] for at in range(STARTS)]
        return starts

    # ------------------------------------------------------------ layers

    def runs_of(self, path: Path) -> tuple[Spun, ...]:
        """
        Give a path as runs of real rotors, each as early as it can be.

        Any of several equal rotors that is free can take a run, since those free at its start are
        alike from then on.
        """
        moves: list[Move] = []
        while path is not None:
            path, move = path
            moves.append(move)
        free = [rotor.free for rotor in self.question.rotors]
        group_of = {at: group for group in self._alike for at in group}
        runs = []
        for move in reversed(moves):
            family = self.families[move.family]
            group = [at for at in group_of[move.rotor] if free[at] <= move.start]
            rotor = min(group, key=lambda at: (free[at], at))
            jobs = family.members(move.jobs)
            ready = max(self.question.jobs[at].release for at in jobs)
            start = max(free[rotor], ready)
            runs.append(Spun(rotor, move.family, start, jobs))
            free[rotor] = start + family.minutes[rotor]
        return tuple(sorted(runs, key=lambda run: (run.start, run.rotor)))


def undominated(
    layer: dict[State, tuple[int, Path]],
) -> dict[State, tuple[int, Path]]:
    """Drop every state that another one with the same jobs left is as good as in all respects."""
    groups: dict[tuple[int, ...], list[tuple[int, int, tuple[int, ...], State]]] = {}
    for state, (waiting, _) in layer.items():
        groups.setdefault(state.left, []).append((waiting, state.late, state.free, state))
    kept: dict[State, tuple[int, Path]] = {}
    for group in groups.values():
        group.sort(key=lambda one: one[:3])
        best: list[tuple[int, tuple[int, ...]]] = []
        for _, late, free, state in group:
            if not any(
                other <= late and all(a <= b for a, b in zip(times, free, strict=True))
                for other, times in best
            ):
                best.append((late, free))
                kept[state] = layer[state]
    return kept
