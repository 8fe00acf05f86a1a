"""
Ways to hold a pile in several tubes of one kind: exact searches over what each tube holds.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cubital.draw.choose_piles import Shape

Tube = tuple[int, ...]
"""Sizes in a tube, by number, the largest first."""


class Ways:
    """
    Over all ways to hold a pile: the most that may still come, and the most free draw to be used.

    Args:
        shape: the tubes.
    """

    __slots__ = ("_known", "_shape")

    def __init__(self, shape: Shape) -> None:
        self._shape = shape
        self._known: dict[tuple[tuple[int, ...], int], tuple[int, int]] = {}

    def best(self, key: tuple[int, ...], tubes: int) -> tuple[int, int]:
        """(room left, free draw used in the end), each at most; (-1, -1) when it does not fit."""
        shape = self._shape
        first = next((size for size, number in enumerate(key) if number), None)
        if first is None:
            empty = shape.use(0)
            return tubes * empty[0], tubes * empty[1]
        if tubes == 0:
            return -1, -1
        known = self._known.get((key, tubes))
        if known is not None:
            return known
        # one tube holds one of the largest: try all that can stand beside it
        most_spare = most_used = -1
        left = (*key[:first], key[first] - 1, *key[first + 1 :])
        for load, rest in self._beside(left, first, shape.sizes[first], 1):
            spare, used = self.best(rest, tubes - 1)
            if spare < 0:
                continue
            here_spare, here_rest = shape.use(load)
            most_spare = max(most_spare, spare + here_spare)
            most_used = max(most_used, used + min(load, shape.free) + here_rest)
        self._known[key, tubes] = most_spare, most_used
        return most_spare, most_used

    def _beside(
        self, key: tuple[int, ...], size: int, load: int, count: int
    ) -> Iterator[tuple[int, tuple[int, ...]]]:
        """The loads that a tube can come to with sizes from ``size`` on, and what is left."""
        yield load, key
        shape = self._shape
        if count >= shape.slots:
            return
        for other in range(size, len(key)):
            if key[other] and load + shape.sizes[other] <= shape.room:
                rest = (*key[:other], key[other] - 1, *key[other + 1 :])
                yield from self._beside(rest, other, load + shape.sizes[other], count + 1)


class Packing:
    """Exact searches for one pile in the tubes of a shape."""

    __slots__ = ("best", "failed", "items", "left", "reach", "shape", "tubes")

    def __init__(self, shape: Shape, key: tuple[int, ...]) -> None:
        self.shape = shape
        self.items = [size for size, number in enumerate(key) for _ in range(number)]
        self.failed: dict[tuple[int, tuple[tuple[int, int], ...]], int] = {}
        self.best = 1 << 62
        self.tubes: tuple[Tube, ...] = ()
        count = len(self.items)
        self.reach = [1] * (count + 1)
        self.left = [0] * (count + 1)
        for i in range(count - 1, -1, -1):
            volume = shape.sizes[self.items[i]]
            self.reach[i] = self.reach[i + 1] | self.reach[i + 1] << volume
            self.left[i] = self.left[i + 1] + volume

    def fit(self) -> tuple[Tube, ...] | None:
        """A way to hold the pile, or None."""
        self._place(0, [(0, ())] * self.shape.number, None)
        return self.tubes if self.best < 1 << 62 else None

    def least_beyond(self, enough: int) -> tuple[int, tuple[Tube, ...]]:
        """The least drawn beyond the base, at least ``enough``, and how."""
        self._place(0, [(0, ())] * self.shape.number, enough)
        return self.best, self.tubes

    def level(self) -> tuple[Tube, ...] | None:
        """The largest first, always into the tube that holds least; None when that fails."""
        shape = self.shape
        loads = [0] * shape.number
        tubes: list[Tube] = [()] * shape.number
        for size in self.items:
            fits = [t for t in range(shape.number) if len(tubes[t]) < shape.slots]
            t = min(fits, key=loads.__getitem__) if fits else -1
            if t < 0 or loads[t] + shape.sizes[size] > shape.room:
                return None
            loads[t] += shape.sizes[size]
            tubes[t] = (*tubes[t], size)
        return tuple(tubes)

    def _place(self, i: int, tubes: list[tuple[int, Tube]], enough: int | None) -> bool:
        """Depth first; True when the search may stop.  ``enough`` None: any way will do."""
        shape = self.shape
        if i == len(self.items):
            beyond = (
                sum(max(0, load - shape.free) for load, _ in tubes) if enough is not None else 0
            )
            if beyond < self.best:
                self.best = beyond
                self.tubes = tuple(tube for _, tube in tubes)
            return enough is None or self.best <= enough
        if self._hopeless(i, tubes, enough):
            return False
        size = self.items[i]
        volume = shape.sizes[size]
        tried = set()
        for t in sorted(range(len(tubes)), key=lambda t: -tubes[t][0]):
            load, tube = tubes[t]
            mark = (load, len(tube))
            if load + volume > shape.room or len(tube) >= shape.slots or mark in tried:
                continue
            tried.add(mark)
            after = [*tubes[:t], (load + volume, (*tube, size)), *tubes[t + 1 :]]
            if self._place(i + 1, after, enough):
                return True
        return False

    def _hopeless(self, i: int, tubes: list[tuple[int, Tube]], enough: int | None) -> bool:
        """Whether this state cannot be finished, or not better than what is known."""
        shape = self.shape
        reach = self.reach[i]
        if enough is None:
            rooms = []
            for load, tube in tubes:
                sums = reach & ((1 << shape.room - load + 1) - 1)
                rooms.append((sums.bit_length() - 1, len(tube) if shape.counted else 0))
            if sum([room for room, _ in rooms]) < self.left[i]:
                return True
            state = (i, tuple(sorted(rooms)))
            if state in self.failed:
                return True
            self.failed[state] = 0
            return False
        beyond = rest = room = 0
        for load, _ in tubes:
            beyond += max(0, load - shape.free)
            rest += max(0, shape.free - load)
            room += shape.room - load
        if room < self.left[i] or beyond + max(0, self.left[i] - rest) >= self.best:
            return True
        state = (i, tuple(sorted((load, len(tube)) for load, tube in tubes)))
        if state in self.failed:
            return True
        self.failed[state] = 0
        return False
