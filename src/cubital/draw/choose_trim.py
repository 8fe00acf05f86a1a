"""
What of a part's kinds can be of use: room, places, tubes, and which kinds are beaten everywhere.
"""

from __future__ import annotations

from collections.abc import Mapping

from cubital.draw.choose_question import NeedClass, Shelf


def useful(mine: list[NeedClass], room: int, slots: int) -> tuple[int, int, int]:
    """
    Room and places of a kind that its needs can use, and the most tubes of it that can be of use.

    Two tubes of a kind whose needs fit into one are never better than that one.  So at most one
    tube is both half empty and half free of tests; every other takes more than half of the room
    or of the places.
    """
    volumes = [member[0] for one in mine for member in one.members]
    count, volume = len(volumes), sum(volumes)
    most = 1
    if volume > room:
        # what the volumes cannot reach is of no use
        reach = 1
        for each in volumes:
            reach |= reach << each
        room = (reach & ((1 << room + 1) - 1)).bit_length() - 1
        most += volume // (room // 2 + 1)
    if count > slots:
        most += count // (slots // 2 + 1)
        volume = sum(sorted(volumes, reverse=True)[:slots])
    return min(room, volume), min(slots, count), min(most, count)


class _Facts:
    """What of a kind counts when kinds are compared."""

    __slots__ = ("base", "container", "full", "kind", "ranks", "room", "slots", "takes", "users")

    def __init__(self, kind: int, classes: list[NeedClass], shelf: Shelf) -> None:
        mine = [one for one in classes if kind in one.ranks]
        self.kind = kind
        self.container = shelf.container[kind]
        self.ranks = [one.ranks.get(kind, -1) for one in classes]
        self.users = sum([1 << c for c, rank in enumerate(self.ranks) if kind in classes[c].ranks])
        self.base = shelf.base[kind]
        self.takes, self.slots, _ = useful(mine, shelf.room[kind], shelf.slots[kind])
        self.full = shelf.draws(kind, self.takes)
        self.room = (shelf.room[kind], shelf.slots[kind])


def kept_kinds(classes: list[NeedClass], shelf: Shelf, caps: Mapping[str, int]) -> list[int]:
    """The kinds of a part without those that another kind beats everywhere."""
    kinds = sorted({kind for one in classes for kind in one.ranks})
    facts = [_Facts(kind, classes, shelf) for kind in kinds if caps.get(shelf.container[kind], 1)]
    return [
        one.kind
        for one in facts
        if not any(other is not one and _beats(other, one, shelf, caps) for other in facts)
    ]


def _beats(other: _Facts, one: _Facts, shelf: Shelf, caps: Mapping[str, int]) -> bool:
    """Whether a tube of ``other`` can stand wherever one of ``one`` stands, and is no worse."""
    if other.base > one.base or one.users & ~other.users:
        return False
    if other.room[0] < one.takes or other.room[1] < one.slots:
        return False
    # draws are convex: compared at nothing and at the fullest, they are compared everywhere
    full = shelf.draws(other.kind, one.takes)
    if full > one.full or (other.container in caps and other.container != one.container):
        return False
    if other.base < one.base and full < one.full:
        return True
    pairs = [(a, b) for a, b in zip(other.ranks, one.ranks, strict=True) if b >= 0]
    if any(a > b for a, b in pairs):
        return False
    draws_less = other.base < one.base or full < one.full
    if draws_less or other.users != one.users or any(a < b for a, b in pairs):
        return True
    # equal in all that counts: the one with more room and places, then the one that stands first
    mine, yours = other.room, one.room
    return (-mine[0], -mine[1], other.kind) < (-yours[0], -yours[1], one.kind)
