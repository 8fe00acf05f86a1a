"""
What the tubes of one kind can hold together: piles of volumes, known by how many of each size.

A ``Shape`` is so many tubes of one room.  A ``Pile`` is what has been put into them, whichever
tube it is in; whether a further volume fits, and what the tubes draw beyond what they draw anyway,
is worked out exactly when asked for, and remembered.
"""

from __future__ import annotations

from cubital.draw.choose_packing import Packing, Tube, Ways


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
        self.unfilled = max(0, rest)
        self.beyond = max(0, -rest)
        if shape.number == 1:
            self._tighten()
        elif shape.sharp is not None:
            self.spare, used = shape.sharp.best(key, shape.number)
            self.unfilled = max(0, used - volume)
            self.beyond = max(0, volume - used)

    def _tighten(self) -> None:
        """In one tube only what sums of the sizes can reach is of use."""
        self.spare, self.unfilled = self.shape.use(self.volume)

    def force(self, size: int) -> Pile | None:
        """As :meth:`add`, but any size may still come after it."""
        return self.shape.grow(self, size, 0)

    def add(self, size: int) -> Pile | None:
        """
        The pile with one more of a size; None when the tubes cannot hold it.

        Only sizes no larger than this one may come after it.
        """
        if size in self.after:
            return self.after[size]
        after = self.after[size] = self.shape.grow(self, size, size)
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
        sharp: whether the bounds of piles look at each way to hold them.
    """

    __slots__ = ("_filled", "all_free", "all_room", "counted", "empty", "free", "number",
                 "piles", "reach", "room", "sharp", "sizes", "slots")  # fmt: skip

    def __init__(
        self,
        sizes: list[int],
        room: int,
        free: int,
        slots: int,
        number: int,
        *,
        counted: bool,
        sharp: bool,
    ) -> None:
        self.sizes = sizes
        self.room = room
        self.free = free
        self.slots = slots
        self.number = number
        self.counted = counted
        self.all_room = room * number
        self.all_free = free * number
        self.reach = self._reach() if number == 1 or sharp else []
        self.sharp = Ways(self) if sharp and number > 1 else None
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

    def use(self, load: int) -> tuple[int, int]:
        """
        What more one tube can hold, and what of it can fill up what it draws anyway.

        Only sums of the sizes can be reached.
        """
        spare = self.room - load
        rest = self.free - load
        sums = self.reach[0] & ((1 << spare + 1) - 1)
        spare = sums.bit_length() - 1
        if rest <= 0:
            return spare, 0
        if sums >> rest:
            return spare, rest
        return spare, spare

    def _pile(self, key: tuple[int, ...], volume: int, count: int, tubes: tuple[Tube, ...]) -> Pile:
        pile = self.piles.get(key)
        if pile is None:
            pile = self.piles[key] = Pile(self, key, volume, count, tubes)
        return pile

    def grow(self, pile: Pile, size: int, largest: int) -> Pile | None:
        """One more of a size, with ``largest`` and smaller ones still to come."""
        volume = pile.volume + self.sizes[size]
        count = pile.count + 1
        if volume > self.all_room or count > self.slots * self.number:
            return None
        if self.number == 1:
            # one tube: what is in it does not matter, only how much
            if self.free >= self.room:
                # and room that the sizes to come cannot fill is no room
                sums = self.reach[largest] & ((1 << self.room - volume + 1) - 1)
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
