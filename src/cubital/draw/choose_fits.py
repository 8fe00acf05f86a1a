"""
Which needs to serve when not all can be: best by priority, exactly.

Serving fewer is never harder, so a need that does not fit beside a served set never fits beside a
larger one.  Needs of one priority with the same choice of kinds differ in volume alone: where only
counts matter the smallest go first.  The counts of all priorities are maximised together by branch
and bound; then the needs that stand earliest are served, one after the other, wherever that costs
no count.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from cubital.draw.choose_values import Need

Fits = Callable[[frozenset[int]], bool]
"""Whether these needs can be served together."""

Counts = tuple[int, ...]
"""Needs served of each priority, the most wanted first."""


def served_set(needs: Sequence[Need], priorities: Sequence[int], fits: Fits) -> tuple[int, ...]:
    """The needs to serve, in order."""
    everything = frozenset(range(len(needs)))
    if fits(everything):
        return tuple(sorted(everything))
    ladder = {priority: level for level, priority in enumerate(sorted(set(priorities)))}
    levels = [ladder[priority] for priority in priorities]
    kept = _Kept(fits)
    alone = [i for i in range(len(needs)) if kept.fits(frozenset((i,)))]
    search = _Search(needs, levels, len(ladder), kept)
    best, served = search.run(frozenset(), alone, None)
    forced: frozenset[int] = frozenset()
    left = list(alone)
    for i in alone:
        left.remove(i)
        if i not in served:
            if not kept.fits(forced | {i}):
                continue
            counts, other = search.run(forced | {i}, left, best)
            if counts != best:
                continue
            served = other
        forced |= {i}
    return tuple(sorted(forced))


class _Kept:
    """Answers that follow from earlier ones are not asked for again."""

    def __init__(self, fits: Fits) -> None:
        self._ask = fits
        self._good: list[frozenset[int]] = []
        self._poor: list[frozenset[int]] = []
        self._known: dict[frozenset[int], bool] = {frozenset(): True}

    def fits(self, served: frozenset[int]) -> bool:
        """Whether a set can be served."""
        known = self._known.get(served)
        if known is None:
            if any(served <= good for good in self._good):
                known = True
            elif any(poor <= served for poor in self._poor):
                known = False
            else:
                known = self._ask(served)
                (self._good if known else self._poor).append(served)
            self._known[served] = known
        return known


class _Search:
    """
    Branch and bound over how many needs of each class are served.

    Args:
        levels: rung of each need's priority, 0 is wanted most.
    """

    def __init__(
        self, needs: Sequence[Need], levels: Sequence[int], rungs: int, kept: _Kept
    ) -> None:
        self.needs = needs
        self.levels = levels
        self.rungs = rungs
        self.kept = kept
        self.best: Counts = ()
        self.served: frozenset[int] = frozenset()
        self.enough: Counts | None = None

    def run(
        self, forced: frozenset[int], free: Sequence[int], enough: Counts | None
    ) -> tuple[Counts, frozenset[int]]:
        """
        The best counts with ``forced`` served and any of ``free``, and a set that reaches them.

        Stops at ``enough``; then lower counts than that are of no interest.
        """
        classes: dict[tuple[object, ...], list[int]] = {}
        for i in sorted(free, key=lambda i: (self.levels[i], self.needs[i].volume_ul, i)):
            need = self.needs[i]
            key = (self.levels[i], frozenset(need.kinds), need.own_tube)
            classes.setdefault(key, []).append(i)
        groups = sorted(classes.values(), key=lambda group: self.levels[group[0]])
        self.best = self._counts(forced) if enough is None else ()
        self.served = forced
        self.enough = enough
        self._grow(forced, groups)
        return self.best, self.served

    def _counts(self, served: frozenset[int]) -> Counts:
        counts = [0] * self.rungs
        for i in served:
            counts[self.levels[i]] += 1
        return tuple(counts)

    def _done(self) -> bool:
        return self.enough is not None and self.best >= self.enough

    def _grow(self, served: frozenset[int], groups: list[list[int]]) -> None:
        counts = self._counts(served)
        if counts > self.best:
            self.best, self.served = counts, served
        if not groups:
            return
        # of each class only what still fits beside the served set
        groups = [some for group in groups if (some := self._fitting(served, group))]
        bound = list(counts)
        for group in groups:
            bound[self.levels[group[0]]] += len(group)
        if tuple(bound) <= self.best or (self.enough and tuple(bound) < self.enough):
            return
        if not groups:
            return
        first, others = groups[0], groups[1:]
        for number in range(len(first), -1, -1):
            if self._done():
                return
            self._grow(served | set(first[:number]), others)

    def _fitting(self, served: frozenset[int], group: list[int]) -> list[int]:
        """The longest run of a class, the smallest first, that fits beside a served set."""
        low, high = 0, len(group)
        while low < high:
            middle = (low + high + 1) // 2
            if self.kept.fits(served | set(group[:middle])):
                low = middle
            else:
                high = middle - 1
        return group[:low]
