"""
A part made small, and the multisets of kinds that could serve it.

First what cannot matter is left out: a kind that another kind beats everywhere (*dominance*), the
room and the sharing that the part cannot use, and the third tube of a kind of which two always
suffice.  Then conditions of Hall's type: for each union of accepted kinds, the needs that
have nowhere else to go must find enough room, enough places and at least one tube among them, and
what exceeds the blood that the tubes draw anyway is drawn on top.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from cubital.draw.choose_bins import bins_hold
from cubital.draw.choose_question import NeedClass, Shelf
from cubital.draw.choose_piles import Shape
from cubital.draw.choose_trim import kept_kinds, useful

MOST_UNIONS = 96
"""Unions of accepted kinds that are looked at; fewer only makes the bounds weaker."""

Row = tuple[list[int], int]
"""(what a tube of each kind gives, what is wanted of them together)."""


class Model:
    """
    A part in its own small numbering.

    Args:
        kinds: local kind -> kind, the least base draw first.
        base, free, room, slots: of each local kind.
        most: tubes of it that can be of use.
        group: container number of each kind, its cap in ``caps`` (absent: none).
        classes: the needs.
        masks: of local kinds, class by class.
        ranks: class by class, local kind -> rank (-1: not accepted).
    """

    __slots__ = (
        "_bins",
        "_frees",
        "_shapes",
        "base",
        "caps",
        "classes",
        "counts",
        "dead",
        "free",
        "group",
        "items",
        "items_before_last",
        "kinds",
        "last_lots",
        "masks",
        "most",
        "most_tubes",
        "ranks",
        "room",
        "shared",
        "sizes",
        "slots",
        "types",
        "volume",
        "volumes",
        "wants",
    )

    def __init__(
        self, classes: list[NeedClass], shelf: Shelf, kinds: list[int], caps: Mapping[str, int]
    ) -> None:
        kinds.sort(key=lambda k: (shelf.base[k], k))
        self.classes = classes
        self.kinds = kinds
        self.base = [shelf.base[k] for k in kinds]
        self.free = [shelf.free[k] for k in kinds]
        self.dead = [shelf.base[k] - shelf.free[k] for k in kinds]
        self.counts = [len(one.members) for one in classes]
        self.volumes = [sum(member[0] for member in one.members) for one in classes]
        self.volume = sum(self.volumes)
        self.ranks = [[one.ranks.get(k, -1) for k in kinds] for one in classes]
        self.masks = [
            sum(1 << j for j, rank in enumerate(ranks) if one.mask >> kinds[j] & 1)
            for one, ranks in zip(classes, self.ranks, strict=True)
        ]
        self.room: list[int] = []
        self.slots: list[int] = []
        self.most: list[int] = []
        for j, k in enumerate(kinds):
            mine = [c for c, mask in enumerate(self.masks) if mask >> j & 1]
            room, slots, most = useful(
                [classes[c] for c in mine], shelf.room[k], shelf.slots[k]
            )
            self.room.append(room)
            self.slots.append(slots)
            self.most.append(most)
        self.free = [min(free, room) for free, room in zip(self.free, self.room, strict=True)]
        self.group = [shelf.container[k] for k in kinds]
        self.caps = {
            container: cap
            for container, cap in caps.items()
            if cap < sum(m for m, g in zip(self.most, self.group, strict=True) if g == container)
        }
        self.types = [
            (volume, number, ranks)
            for one, ranks in zip(classes, self.ranks, strict=True)
            for volume, number in Counter(member[0] for member in one.members).items()
        ]
        self.shared: dict[object, dict[tuple[int, ...], list[dict[int, int]] | None]] = {}
        self._shapes: dict[tuple[int, int, int, int], Shape] = {}
        self._lay_out()
        self.most_tubes = sum(self.most)
        self._set_rows()

    def _lay_out(self) -> None:
        """The needs one by one, the largest first, and those of the smallest size by class."""
        sizes = sorted({volume for volume, _, _ in self.types}, reverse=True)
        number = {volume: size for size, volume in enumerate(sizes)}
        self.sizes = sizes
        items = [
            (volume, number[volume], c, need)
            for c, one in enumerate(self.classes)
            for volume, need in one.members
        ]
        items.sort(key=lambda item: (item[1], self.masks[item[2]].bit_count(), item[2], item[3]))
        self.items = items
        last = Counter(item[2] for item in items if item[1] == len(sizes) - 1)
        self.last_lots = list(last.items())
        self.items_before_last = len(items) - sum(last.values())

    def shape(self, j: int, number: int) -> Shape:
        """So many tubes of a local kind; kinds that hold alike share what is known of them."""
        key = (self.room[j], self.free[j], self.slots[j], number)
        shape = self._shapes.get(key)
        if shape is None:
            counted = self.slots[j] < len(self.items)
            shape = self._shapes[key] = Shape(
                self.sizes, self.room[j], self.free[j], self.slots[j], number, counted
            )
        return shape

    def _set_rows(self) -> None:
        unions = {0}
        for mask in sorted(set(self.masks), key=lambda m: (m.bit_count(), m)):
            if len(unions) > MOST_UNIONS:
                break
            unions |= {union | mask for union in unions}
        everything = 0
        for mask in self.masks:
            everything |= mask
        unions.add(everything)
        unions.discard(0)
        covers = set(self.masks)
        self.wants: list[Row] = [
            (self._give([1] * len(self.kinds), mask), 1)
            for mask in covers
            if not any(other != mask and other & ~mask == 0 for other in covers)
        ]
        self._bins: list[Bins] = []
        self._frees: list[Row] = []
        size = len(self.kinds)
        for union in sorted(unions):
            inside = [c for c, mask in enumerate(self.masks) if mask & ~union == 0]
            volume = sum(self.volumes[c] for c in inside)
            count = sum(self.counts[c] for c in inside)
            js = [j for j in range(size) if union >> j & 1]
            if volume > min(self.room[j] for j in js):
                self._bins.append(Bins([self.classes[c] for c in inside], union))
                self.wants.append((self._give(self.room, union), volume))
            if count > min(self.slots[j] for j in js):
                self.wants.append((self._give(self.slots, union), count))
            if volume > min(self.free[j] for j in js):
                self._frees.append((self._give(self.free, union), volume))

    def _give(self, column: list[int], union: int) -> list[int]:
        return [value if union >> j & 1 else 0 for j, value in enumerate(column)]

    def drawn(self, chosen: list[int]) -> int:
        """What tubes of these local kinds draw at least: their base."""
        base = self.base
        return sum([base[j] for j in chosen])

    def over(self, chosen: list[int]) -> int:
        """What they draw on top at least."""
        over = 0
        for free, volume in self._frees:
            beyond = volume - sum([free[j] for j in chosen])
            if beyond > over:
                over = beyond
        return over

    def floor(self, tubes: int) -> int:
        """The least that so many tubes can draw."""
        cheapest = 0
        left = tubes
        for base, most in zip(self.base, self.most, strict=True):
            taken = min(left, most)
            cheapest += taken * base
            left -= taken
            if not left:
                break
        return max(cheapest, self.volume + tubes * min(self.dead))

    def may_hold(self, chosen: list[int]) -> bool:
        """Whether the tubes could hold the volumes if kinds counted only by union."""
        room = self.room
        return all(
            [bins.hold([room[j] for j in chosen if bins.union >> j & 1]) for bins in self._bins]
        )


class Bins:
    """The needs that must go into a union of kinds, and the rooms that were tried for them."""

    __slots__ = ("good", "poor", "union", "volumes")

    def __init__(self, classes: list[NeedClass], union: int) -> None:
        self.union = union
        self.volumes = sorted((m[0] for one in classes for m in one.members), reverse=True)
        self.good: set[tuple[int, ...]] = set()
        self.poor: list[tuple[int, ...]] = []

    def hold(self, rooms: list[int]) -> bool:
        """Whether rooms hold the volumes."""
        key = tuple(sorted(rooms, reverse=True))
        if key in self.good:
            return True
        for poor in self.poor:
            if len(poor) >= len(key) and all([a >= b for a, b in zip(poor, key)]):
                return False
        if bins_hold(self.volumes, key):
            self.good.add(key)
            return True
        self.poor.append(key)
        return False


def build_model(classes: list[NeedClass], shelf: Shelf, caps: Mapping[str, int]) -> Model:
    """The model of a part without the kinds that another kind beats everywhere."""
    return Model(classes, shelf, kept_kinds(classes, shelf, caps), caps)
