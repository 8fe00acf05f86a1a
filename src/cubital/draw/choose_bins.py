"""
Whether volumes can be parted among rooms at all.

A quick necessary condition for filling tubes: kinds and preferences are left aside, so that one
answer settles many multisets of kinds.  Where it would take long the answer is "perhaps".
"""

from __future__ import annotations

from collections.abc import Iterable
from operator import ge

MOST_STATES = 10_000
"""States that are looked at before the answer is "perhaps"."""


def may_be_parted(volumes: list[int], rooms: tuple[int, ...]) -> bool:
    """False when the volumes, the largest first, cannot be parted among the rooms."""
    if sum(volumes) > sum(rooms):
        return False
    if _greedy(volumes, rooms):
        return True
    return _Search(volumes).may_hold(0, rooms)


def _greedy(volumes: list[int], rooms: tuple[int, ...]) -> bool:
    """Each volume where it leaves least room."""
    left = sorted(rooms)
    for volume in volumes:
        for i, room in enumerate(left):
            if room >= volume:
                left[i] = room - volume
                left.sort()
                break
        else:
            return False
    return True


class _Search:
    """Depth first, remembering the states that failed."""

    __slots__ = ("failed", "reach", "rest", "states", "volumes")

    def __init__(self, volumes: list[int]) -> None:
        self.volumes = volumes
        self.states = 0
        self.failed: list[set[tuple[int, ...]]] = [set() for _ in volumes]
        # sums that the volumes from i on can reach, as bits, and all of them together
        self.reach = [1] * (len(volumes) + 1)
        self.rest = [0] * (len(volumes) + 1)
        for i in range(len(volumes) - 1, -1, -1):
            self.reach[i] = self.reach[i + 1] | self.reach[i + 1] << volumes[i]
            self.rest[i] = self.rest[i + 1] + volumes[i]

    def may_hold(self, i: int, rooms: tuple[int, ...]) -> bool:
        """Whether the volumes from i on can perhaps be parted among the rooms."""
        self.states += 1
        if i == len(self.volumes) or self.states > MOST_STATES:
            return True
        reach = self.reach[i]
        rooms = tuple(sorted([(reach & ((1 << room + 1) - 1)).bit_length() - 1 for room in rooms]))
        failed = self.failed[i]
        if sum(rooms) < self.rest[i] or rooms in failed:
            return False
        volume = self.volumes[i]
        last = -1
        for b, room in enumerate(rooms):
            if room >= volume and room != last:
                last = room
                if self.may_hold(i + 1, (*rooms[:b], room - volume, *rooms[b + 1 :])):
                    return True
        failed.add(rooms)
        return False


class Bins:
    """
    The needs that must go into a union of kinds, and the rooms that were tried for them.

    Args:
        volumes: of the needs.
        union: mask of the kinds.
    """

    __slots__ = ("good", "poor", "union", "volumes")

    def __init__(self, volumes: Iterable[int], union: int) -> None:
        self.union = union
        self.volumes = sorted(volumes, reverse=True)
        self.good: set[tuple[int, ...]] = set()
        self.poor: list[tuple[int, ...]] = []

    def may_hold(self, rooms: list[int]) -> bool:
        """False when the rooms cannot hold the volumes."""
        key = tuple(sorted(rooms, reverse=True))
        if key in self.good:
            return True
        for poor in self.poor:
            if len(poor) >= len(key) and all(map(ge, poor, key)):
                return False
        if may_be_parted(self.volumes, key):
            self.good.add(key)
            return True
        self.poor.append(key)
        return False
