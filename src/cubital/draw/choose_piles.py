"""
What the tubes of one kind can hold together: piles of volumes, known by how many of each size.

A ``Shape`` is so many tubes of one room.  A ``Pile`` is what has been put into them, whichever
tube it is in; whether a further volume fits, and what the tubes draw beyond what they draw anyway,
is worked out exactly when asked for, and remembered.
"""

from __future__ import annotations

Tube = tuple[int, ...]
"""Sizes in a tube, by number, the largest first."""


class Pile:
    """
    Volumes in the tubes of a shape.

    Args:
        volume, count: of all of them.
        tubes: one way to hold them (several tubes only).
        after: size -> pile with one more of it, None when it does not fit.
        spare: volume that may still come, at most.
        unfilled: what is missing until the tubes hold what they draw anyway, at least.
        beyond: what the tubes draw beyond their base, at least.
    """

    __slots__ = ("after", "beyond", "count", "key", "shape", "spare", "tubes", "unfilled", "volume")

    def __init__(
        self, shape: Shape, key: tuple[int, ...], volume: int, count: int, tubes: tuple[Tube, ...]
    ) -> None:
        self.shape = shape
        self.key = key
        self.volume = volume
        self.count = count
        self.tubes = tubes
        self.after: dict[int, Pile | None] = {}
        self.spare = shape.all_room - volume
        rest = shape.all_free - volume
        self.unfilled = rest if rest > 0 else 0
        self.beyond = -rest if rest < 0 else 0

    def add(self, size: int) -> Pile | None:
        """The pile with one more of a size; None when the tubes cannot hold it."""
        if size in self.after:
            return self.after[size]
        after = self.after[size] = self.shape.grow(self, size)
        return after

    def most(self, size: int, wanted: int) -> int:
        """How many more of a size fit, up to ``wanted``."""
        number = 0
        pile: Pile | None = self
        while number < wanted:
            assert pile is not None
            pile = pile.add(size)
            if pile is None:
                break
            number += 1
        return number


class Shape:
    """
    So many tubes of one kind.

    Args:
        sizes: the volumes that come, the largest first.
        room, free, slots: of one tube.
        number: of tubes.
        counted: whether the number of tests in a tube can matter.
    """

    __slots__ = ("all_free", "all_room", "counted", "empty", "free", "number", "piles", "reach",
                 "room", "sizes", "slots", "_filled")  # fmt: skip

    def __init__(
        self, sizes: list[int], room: int, free: int, slots: int, number: int, counted: bool
    ) -> None:
        self.sizes = sizes
        self.room = room
        self.free = free
        self.slots = slots
        self.number = number
        self.counted = counted
        self.all_room = room * number
        self.all_free = free * number
        self.reach = self._reach() if number == 1 and free >= room else []
        self.piles: dict[tuple[int, ...], Pile] = {}
        self._filled: dict[tuple[int, ...], tuple[int, tuple[Tube, ...]]] = {}
        start = (0,) * (2 if number == 1 else len(sizes))
        self.empty = self._pile(start, 0, 0, ((),) * number)

    def _reach(self) -> list[int]:
        """For each size, as bits, the volumes that it and the smaller ones can add up to."""
        inside = (1 << self.room + 1) - 1
        reach = [1] * len(self.sizes)
        sums = 1
        for size in range(len(self.sizes) - 1, -1, -1):
            shift = self.sizes[size]
            while shift <= self.room:
                sums |= sums << shift & inside
                shift *= 2
            reach[size] = sums
        return reach

    def _pile(self, key: tuple[int, ...], volume: int, count: int, tubes: tuple[Tube, ...]) -> Pile:
        pile = self.piles.get(key)
        if pile is None:
            pile = self.piles[key] = Pile(self, key, volume, count, tubes)
        return pile

    def grow(self, pile: Pile, size: int) -> Pile | None:
        """One more of a size."""
        volume = pile.volume + self.sizes[size]
        count = pile.count + 1
        if volume > self.all_room or count > self.slots * self.number:
            return None
        if self.number == 1:
            # one tube: what is in it does not matter, only how much
            if self.free >= self.room:
                # and room that the sizes to come cannot fill is no room
                sums = self.reach[size] & ((1 << self.room - volume + 1) - 1)
                volume = self.room + 1 - sums.bit_length()
            key: tuple[int, ...] = (volume, count if self.counted else 0)
            return self._pile(key, volume, count, ())
        key = (*pile.key[:size], pile.key[size] + 1, *pile.key[size + 1 :])
        known = self.piles.get(key)
        if known is not None:
            return known
        tubes = self._put(pile.tubes, size)
        if tubes is None:
            tubes = Packing(self, key).fit()
        if tubes is None:
            return None
        return self._pile(key, volume, count, tubes)

    def _put(self, tubes: tuple[Tube, ...], size: int) -> tuple[Tube, ...] | None:
        """Add a size where it leaves least room, if it fits as things stand."""
        sizes = self.sizes
        need = sizes[size]
        best, least = -1, 1 << 62
        for t, tube in enumerate(tubes):
            left = self.room - sum([sizes[s] for s in tube]) - need
            if 0 <= left < least and len(tube) < self.slots:
                best, least = t, left
        if best < 0:
            return None
        return (*tubes[:best], (*tubes[best], size), *tubes[best + 1 :])

    def filled(self, pile: Pile) -> tuple[int, tuple[Tube, ...]]:
        """The least that the tubes draw beyond their base with a pile in them, and how."""
        if self.number == 1:
            return pile.beyond, ()
        known = self._filled.get(pile.key)
        if known is None:
            known = self._filled[pile.key] = self._fill(pile)
        return known

    def _fill(self, pile: Pile) -> tuple[int, tuple[Tube, ...]]:
        if self.free <= 0 or self.free >= self.room:
            return pile.beyond, pile.tubes
        if self._beyond(pile.tubes) == pile.beyond:
            return pile.beyond, pile.tubes
        packing = Packing(self, pile.key)
        level = packing.level()
        if level is not None and self._beyond(level) == pile.beyond:
            return pile.beyond, level
        return packing.least_beyond(pile.beyond)

    def _beyond(self, tubes: tuple[Tube, ...]) -> int:
        sizes, free = self.sizes, self.free
        return sum([max(0, sum([sizes[s] for s in tube]) - free) for tube in tubes])


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
            beyond = sum(max(0, load - shape.free) for load, _ in tubes) if enough is not None else 0
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
