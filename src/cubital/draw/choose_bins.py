"""
Can volumes be parted among rooms at all?  Exact, and remembered.

A quick necessary condition for filling tubes: kinds and preferences are left aside, so that one
answer settles many multisets of kinds.
"""

from __future__ import annotations


def bins_hold(volumes: list[int], rooms: tuple[int, ...]) -> bool:
    """Whether the volumes, the largest first, can be parted among the rooms."""
    if sum(volumes) > sum(rooms):
        return False
    if _greedy(volumes, rooms):
        return True
    return _Search(volumes).holds(0, rooms)


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

    __slots__ = ("failed", "reach", "rest", "volumes")

    def __init__(self, volumes: list[int]) -> None:
        self.volumes = volumes
        self.failed: list[set[tuple[int, ...]]] = [set() for _ in volumes]
        # sums that the volumes from i on can reach, as bits, and all of them together
        self.reach = [1] * (len(volumes) + 1)
        self.rest = [0] * (len(volumes) + 1)
        for i in range(len(volumes) - 1, -1, -1):
            self.reach[i] = self.reach[i + 1] | self.reach[i + 1] << volumes[i]
            self.rest[i] = self.rest[i + 1] + volumes[i]

    def holds(self, i: int, rooms: tuple[int, ...]) -> bool:
        """Whether the volumes from i on can be parted among the rooms."""
        if i == len(self.volumes):
            return True
        reach = self.reach[i]
        rooms = tuple(
            sorted([(reach & ((1 << room + 1) - 1)).bit_length() - 1 for room in rooms])
        )
        failed = self.failed[i]
        if sum(rooms) < self.rest[i] or rooms in failed:
            return False
        volume = self.volumes[i]
        last = -1
        for b, room in enumerate(rooms):
            if room >= volume and room != last:
                last = room
                if self.holds(i + 1, (*rooms[:b], room - volume, *rooms[b + 1 :])):
                    return True
        failed.add(rooms)
        return False
