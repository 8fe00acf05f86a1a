"""Going through the layers of the state space: a quick sweep, and the search within limits."""

from __future__ import annotations

from typing import TypeAlias

from cubital.bench.spin_question import NEVER, Score
from cubital.bench.spin_search import Effort, Found, Limits, Path, Search, State, undominated

Layer: TypeAlias = dict[State, tuple[int, Path]]
"""Each state with its waiting so far and how it was reached."""

NARROWEST = 24
"""States of a layer that a search keeps even when its effort is used up."""


def sweep(search: Search, width: int) -> tuple[Score, Path, int]:
    """
    Find a good plan with ``width`` states a layer; gives its score, its path, and runs tried.

    The states are ranked by jobs past due, then by the runs that they need if no more are to be
    past due, then by waiting: as far as the bounds know.
    """
    layer: Layer = {search.begin: (0, None)}
    best: Score = (NEVER, NEVER, NEVER)
    chosen: Path = None
    nodes = runs = 0
    while layer:
        runs += 1
        grown: Layer = {}
        for state, (waiting, path) in layer.items():
            for move, after, added in search.moves(state, few=True):
                nodes += 1
                total = waiting + added
                if not any(after.left):
                    if (after.late, runs, total) < best:
                        best, chosen = (after.late, runs, total), (path, move)
                elif after not in grown or total < grown[after][0]:
                    grown[after] = (total, (path, move))
        layer = _best_of(search, grown, runs, best, width)
    return best, chosen, nodes


def _best_of(search: Search, grown: Layer, runs: int, best: Score, width: int) -> Layer:
    ranked = []
    for state, (waiting, _) in grown.items():
        late, fewest, stabs, more = _outlook(search, state)
        if (state.late + late, runs + fewest, waiting + more) < best:
            ranked.append(((state.late + late, runs + stabs, waiting + more), state))
    ranked.sort()
    return {state: grown[state] for _, state in ranked[:width]}


def _outlook(search: Search, state: State) -> tuple[int, int, int, int]:
    late = fewest = stabs = waiting = 0
    for family, left in zip(search.families, state.left, strict=True):
        if left:
            first = search.first_free(family, state.free)
            one = search.bounds.outlook(family.index, left, first)
            late += one.late
            fewest += one.fewest
            stabs += one.stabs
            waiting += one.waiting
    return late, fewest, stabs, waiting


def rest_of(search: Search, state: State, limits: Limits, runs: int) -> tuple[int, int] | None:
    """
    Bound what finishing a state still costs, within limits.

    Args:
        search: of the question.
        state: not finished.
        limits: of the whole plan.
        runs: done so far.

    Returns:
        Runs and waiting at least, or None when the limits cannot be kept.
    """
    outlooks = []
    spare = limits.late - state.late
    for family, left in zip(search.families, state.left, strict=True):
        if left:
            first = search.first_free(family, state.free)
            one = search.bounds.outlook(family.index, left, first)
            spare -= one.late
            outlooks.append((family.index, left, first, one))
    room = limits.runs - runs
    # each job more that is past due takes the place of one window at most
    needed = max(sum(o[3].fewest for o in outlooks), sum(o[3].stabs for o in outlooks) - spare)
    if spare < 0 or needed > room:
        return None
    if room >= NEVER // 2:  # no limit of runs: the waiting of the families adds up alone
        return needed, sum(o[3].waiting for o in outlooks)
    shared = {0: 0}
    for at, left, first, one in outlooks:
        strict = spare == 0
        waits = search.bounds.waits(at, left, first, strict=strict)
        shared = _share(shared, waits, one.stabs if strict else one.fewest, room)
    return (needed, min(shared.values())) if shared else None


def _share(shared: dict[int, int], waits: list[int], least: int, room: int) -> dict[int, int]:
    """Add a family: the least waiting for each number of runs of the families so far."""
    grown: dict[int, int] = {}
    for runs, waiting in shared.items():
        for number in range(least, max(least + 1, len(waits))):
            total = waiting + waits[min(number, len(waits) - 1)]
            if runs + number > room:
                break
            if total < grown.get(runs + number, NEVER):
                grown[runs + number] = total
    return grown


def within(search: Search, limits: Limits, effort: Effort) -> Found:
    """
    Find the plan with the least waiting within limits.

    States are dropped when the bounds show that they cannot be finished within the limits, or
    when the effort does not suffice; only the second spoils the proof.
    """
    layer: Layer = {search.begin: (0, None)}
    best, chosen = limits.waiting, None
    exhausted = not effort.few
    nodes = runs = 0
    while layer and runs < limits.runs:
        runs += 1
        grown: Layer = {}
        before = nodes
        for state, (waiting, path) in layer.items():
            for move, after, added in search.moves(state, late=limits.late, few=effort.few):
                nodes += 1
                total = waiting + added
                if total >= best:
                    continue
                if not any(after.left):
                    best, chosen = total, (path, move)
                elif after not in grown or total < grown[after][0]:
                    grown[after] = (total, (path, move))
        if chosen is not None and effort.any:
            return Found(search.runs_of(chosen), exhausted=False, nodes=nodes)
        ranked = _ranked(search, undominated(grown), limits, runs, best)
        width = _width(effort, nodes, (nodes - before) / len(layer))
        exhausted = exhausted and len(ranked) <= width and search.loads.complete
        layer = {state: grown[state] for _, _, state in ranked[:width]}
    runs_ = None if chosen is None else search.runs_of(chosen)
    return Found(runs_, exhausted=exhausted, nodes=nodes)


def _ranked(
    search: Search, grown: Layer, limits: Limits, runs: int, best: int
) -> list[tuple[int, int, State]]:
    """States that may still be finished, by waiting and then by runs, as far as the bounds know."""
    ranked = []
    for state, (waiting, _) in grown.items():
        rest = rest_of(search, state, limits, runs)
        if rest is not None and waiting + rest[1] < best:
            ranked.append((waiting + rest[1], rest[0], state))
    ranked.sort()
    return ranked


def _width(effort: Effort, spent: int, branching: float) -> int:
    """How many states a layer may have, so that the next one takes half the effort left at most."""
    kept = int((effort.nodes - spent) / 2 / max(branching, 1.0))
    return min(effort.width, max(NARROWEST, kept))
