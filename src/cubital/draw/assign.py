"""
Which new test goes to which specimen on hand, exactly.

The served tests are the best by priority (1 first), then those of the least age in all, then the
first found (tests in the order of their priority and of the requisition, specimens by age and
preference).  A specimen keeps its dead volume once, the largest of the stations that use it; it
is used spun or whole, not both; and no station puts more tests on it than may share.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Sequence
from dataclasses import dataclass, field

from cubital.draw.onhand import Fit


@dataclass(frozen=True, slots=True)
class Wish:
    """
    A test and the specimens that can serve it.

    Args:
        fits: each with the station's slots left on that specimen.
    """

    priority: int
    station: str
    alone: bool
    fits: tuple[tuple[Fit, int], ...]


@dataclass(slots=True)
class _Shelf:
    """What has been taken from one specimen."""

    left: int
    used: int = 0
    dead: int = 0
    state: str = ""
    count: int = 0
    shut: bool = False
    stations: dict[str, int] = field(default_factory=dict)


def assign(wishes: Sequence[Wish], left_ul: Sequence[int]) -> tuple[Fit | None, ...]:
    """
    Give each test its specimen, or None when it is not served.

    Args:
        wishes: the new tests, as asked.
        left_ul: of each specimen.
    """
    search = _Search(wishes, left_ul)
    search.run(0, 0)
    return tuple(search.best)


class _Search:
    """Depth first over the tests, the most wanted first, with a bound on what can still come."""

    def __init__(self, wishes: Sequence[Wish], left_ul: Sequence[int]) -> None:
        self.wishes = wishes
        self.shelves = [_Shelf(left) for left in left_ul]
        self.order = sorted(range(len(wishes)), key=lambda i: (wishes[i].priority, i))
        self.ladder = sorted({wish.priority for wish in wishes})
        self.options = [
            sorted(wish.fits, key=lambda f: (f[0].age_s, f[0].rank, f[0].specimen))
            for wish in wishes
        ]
        self.now: list[Fit | None] = [None] * len(wishes)
        self.best: list[Fit | None] = [None] * len(wishes)
        self.best_counts = [-1] * len(self.ladder)
        self.best_age = 0
        self.counts = [0] * len(self.ladder)

    def run(self, depth: int, age: int) -> None:
        """Place the tests from ``depth`` on; ``age`` is that of the tests placed so far."""
        if not self._promising(depth, age):
            return
        if depth == len(self.order):
            self.best, self.best_age = list(self.now), age
            self.best_counts = list(self.counts)
            return
        index = self.order[depth]
        wish = self.wishes[index]
        rung = self.ladder.index(wish.priority)
        for fit, slots in self.options[index]:
            undo = self._take(wish, fit, slots)
            if undo is None:
                continue
            self.now[index] = fit
            self.counts[rung] += 1
            self.run(depth + 1, age + fit.age_s)
            self.counts[rung] -= 1
            self.now[index] = None
            self.shelves[fit.specimen] = undo
        self.run(depth + 1, age)

    def _take(self, wish: Wish, fit: Fit, slots: int) -> _Shelf | None:
        """Put a test on a specimen and give back what the shelf was, or None when it cannot."""
        shelf = self.shelves[fit.specimen]
        there = shelf.stations.get(wish.station, 0)
        dead = max(shelf.dead, fit.dead_ul)
        if shelf.shut or shelf.state not in ("", fit.state) or there >= slots:
            return None
        if (wish.alone and shelf.count) or dead + shelf.used + fit.volume_ul > shelf.left:
            return None
        self.shelves[fit.specimen] = _Shelf(
            left=shelf.left,
            used=shelf.used + fit.volume_ul,
            dead=dead,
            state=fit.state,
            count=shelf.count + 1,
            shut=wish.alone,
            stations={**shelf.stations, wish.station: there + 1},
        )
        return shelf

    def _promising(self, depth: int, age: int) -> bool:
        """Whether a better answer may still come from here."""
        counts, least_age = self._bound(depth, age)
        if counts != self.best_counts:
            return counts > self.best_counts
        return least_age < self.best_age

    def _bound(self, depth: int, age: int) -> tuple[list[int], int]:
        """
        No answer from here serves more, or the same with less age.

        Rung by rung the smallest volumes are counted as long as all that is left on all specimens
        together holds them; dead volumes, states and slots are let go.
        """
        room = sum(max(0, s.left - s.used - s.dead) for s in self.shelves if not s.shut)
        volumes: list[list[int]] = [[] for _ in self.ladder]
        ages: list[list[int]] = [[] for _ in self.ladder]
        for index in self.order[depth:]:
            if self.options[index]:
                rung = self.ladder.index(self.wishes[index].priority)
                insort(volumes[rung], min(fit.volume_ul for fit, _ in self.options[index]))
                insort(ages[rung], self.options[index][0][0].age_s)
        counts = list(self.counts)
        for rung, small in enumerate(volumes):
            fitting = 0
            for volume in small:
                if volume > room:
                    break
                room -= volume
                fitting += 1
            counts[rung] += fitting
            age += sum(ages[rung][:fitting])
        return counts, age
