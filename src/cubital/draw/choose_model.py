"""
A part in its own small numbering, with what can be said of it before any search.

What cannot matter is left out: a kind that another kind beats everywhere, the room and the places
that the part cannot use, the third tube of a kind of which two always suffice.  Then conditions of
Hall's type: for each union of accepted kinds, the needs that have nowhere else to go must find
enough room, enough places and at least one tube among them, and what exceeds the blood that the
tubes draw anyway is drawn on top.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from cubital.draw.choose_bins import Bins
from cubital.draw.choose_piles import Shape
from cubital.draw.choose_question import NeedClass, Shelf
from cubital.draw.choose_share import Share
from cubital.draw.choose_trim import kept_kinds, useful

MOST_UNIONS = 96
"""Unions of accepted kinds that are looked at; fewer only makes the bounds weaker."""

MOST_BESIDE = 6
"""Of the smallest size in a tube: with more there are too many ways to look at them all."""

Row = tuple[list[int], int]
"""(what a tube of each kind gives, what is wanted of them together)."""

Item = tuple[int, int, int, int]
"""(volume, number of its size, class, index of the need)."""

Shared = dict[tuple[int, ...], list[Share] | None]
"""How the needs of the smallest size were shared out, by how many each kind can take."""


class Model:
    """
    A part in its own small numbering.

    Args:
        classes: the needs.
        kinds: that can be of use.
        caps: most tubes of a container.

    Attributes:
        kinds: local kind -> kind, the least base draw first.
        base, dead, free, room, slots: of each local kind.
        most: tubes of it that can be of use; ``most_tubes`` of all.
        group: container of each local kind.
        masks: of local kinds, class by class.
        ranks: class by class, local kind -> rank, -1 where it is not accepted.
        types: (volume, number of needs, ranks): needs that differ in nothing.
        sizes: the different volumes, the largest first.
        items: the needs, the largest first; ``last_lots`` those of the smallest size by class.
        wants: what every choice of tubes must give.
        shared: see :data:`Shared`, by kinds and whether ranks count.
    """

    __slots__ = ("_bins", "_frees", "_shapes", "base", "caps", "classes", "dead", "free", "group",
                 "items", "kinds", "last_lots", "masks", "most", "most_tubes", "ranks", "room",
                 "shared", "sizes", "slots", "types", "volume", "wants")  # fmt: skip

    def __init__(
        self, classes: list[NeedClass], shelf: Shelf, kinds: list[int], caps: Mapping[str, int]
    ) -> None:
        self.classes = classes
        self.kinds = kinds = sorted(kinds, key=lambda k: (shelf.base[k], k))
        self.base = [shelf.base[k] for k in kinds]
        self.dead = [shelf.base[k] - shelf.free[k] for k in kinds]
        self.group = [shelf.container[k] for k in kinds]
        self.ranks = [[one.ranks.get(k, -1) for k in kinds] for one in classes]
        self.masks = [
            sum([1 << j for j, rank in enumerate(ranks) if rank >= 0]) for ranks in self.ranks
        ]
        self.types = [
            (volume, number, ranks)
            for one, ranks in zip(classes, self.ranks, strict=True)
            for volume, number in Counter([member[0] for member in one.members]).items()
        ]
        self.volume = sum([volume * number for volume, number, _ in self.types])
        self._trim(shelf, caps)
        self._lay_out()
        self._set_rows()
        self.shared: dict[tuple[tuple[int, ...], bool], Shared] = {}
        self._shapes: dict[tuple[int, int, int, int, bool], Shape] = {}

    def _trim(self, shelf: Shelf, caps: Mapping[str, int]) -> None:
        """Room, places and tubes that can be of use, and the caps that can matter."""
        trimmed = [
            useful([one for one in self.classes if k in one.ranks], shelf.room[k], shelf.slots[k])
            for k in self.kinds
        ]
        self.room = [room for room, _, _ in trimmed]
        self.slots = [slots for _, slots, _ in trimmed]
        self.most = [most for _, _, most in trimmed]
        self.most_tubes = sum(self.most)
        self.free = [
            min(shelf.free[k], room) for k, room in zip(self.kinds, self.room, strict=True)
        ]
        useful_of: Counter[str] = Counter()
        for container, most in zip(self.group, self.most, strict=True):
            useful_of[container] += most
        self.caps = {name: cap for name, cap in caps.items() if cap < useful_of[name]}

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
        self.items: list[Item] = items
        last = Counter([item[2] for item in items if item[1] == len(sizes) - 1])
        self.last_lots = list(last.items())

    def shape(self, j: int, number: int, *, sharp: bool = False) -> Shape:
        """So many tubes of a local kind; kinds that hold alike share what is known of them."""
        sharp = sharp and self.room[j] <= MOST_BESIDE * self.sizes[-1]
        key = (self.room[j], self.free[j], self.slots[j], number, sharp)
        shape = self._shapes.get(key)
        if shape is None:
            counted = self.slots[j] < len(self.items)
            shape = self._shapes[key] = Shape(
                self.sizes,
                self.room[j],
                self.free[j],
                self.slots[j],
                number,
                counted=counted,
                sharp=sharp,
            )
        return shape

    def _set_rows(self) -> None:
        """The conditions, union by union; only those that some choice of tubes could miss."""
        masks = set(self.masks)
        self.wants: list[Row] = [
            ([mask >> j & 1 for j in range(len(self.kinds))], 1)
            for mask in sorted(masks)
            if not any(other != mask and other & ~mask == 0 for other in masks)
        ]
        self._bins: list[Bins] = []
        self._frees: list[Row] = []
        for union in self._unions():
            inside = [
                one for one, mask in zip(self.classes, self.masks, strict=True) if not mask & ~union
            ]
            volumes = [member[0] for one in inside for member in one.members]
            js = [j for j in range(len(self.kinds)) if union >> j & 1]
            volume, count = sum(volumes), len(volumes)
            if volume > min([self.room[j] for j in js]):
                self._bins.append(Bins(volumes, union))
                self.wants.append((self._inside(self.room, union), volume))
            if count > min([self.slots[j] for j in js]):
                self.wants.append((self._inside(self.slots, union), count))
            if volume > min([self.free[j] for j in js]):
                self._frees.append((self._inside(self.free, union), volume))

    def _unions(self) -> list[int]:
        """Unions of the classes' masks, and the union of all."""
        unions = {0}
        everything = 0
        for mask in sorted(set(self.masks), key=lambda m: (m.bit_count(), m)):
            everything |= mask
            if len(unions) <= MOST_UNIONS:
                unions |= {union | mask for union in unions}
        unions.add(everything)
        unions.discard(0)
        return sorted(unions)

    @staticmethod
    def _inside(column: list[int], union: int) -> list[int]:
        return [value if union >> j & 1 else 0 for j, value in enumerate(column)]

    def drawn(self, chosen: list[int]) -> int:
        """What tubes of these local kinds draw at least: their base."""
        base = self.base
        return sum([base[j] for j in chosen])

    def over(self, chosen: list[int]) -> int:
        """What they draw on top at least."""
        over = 0
        for free, volume in self._frees:
            over = max(over, volume - sum([free[j] for j in chosen]))
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
        """False when the tubes cannot hold the volumes even if kinds counted only by union."""
        room = self.room
        for bins in self._bins:
            if not bins.may_hold([room[j] for j in chosen if bins.union >> j & 1]):
                return False
        return True


def build_model(classes: list[NeedClass], shelf: Shelf, caps: Mapping[str, int]) -> Model:
    """The model of a part without the kinds that another kind beats everywhere."""
    return Model(classes, shelf, kept_kinds(classes, shelf, caps), caps)
