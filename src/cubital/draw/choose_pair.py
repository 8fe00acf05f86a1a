"""
Two tubes, exactly: which needs go into the first is a question of sums of subsets.

For each total of preference, a whole number holds in its bits which volumes the first tube can
reach (with how many tests, where that matters).  Adding a need is one shift.
"""

from __future__ import annotations

from cubital.draw.choose_model import Model

Found = tuple[int, int, list[list[int]]]
"""(blood beyond the base draw, preference, indices of needs tube by tube)."""

Item = tuple[int, int, int]
"""(volume, rank in the first tube less rank in the second, index)."""


MOST_BITS = 2_000_000
"""Bits that all sums may take; with more the general search is the better one."""


def pair_is_small(model: Model, chosen: list[int]) -> bool:
    """Whether the sums of two tubes are few enough to be written down."""
    needs = len(model.items)
    counted = min(model.slots[chosen[0]], model.slots[chosen[1]]) < needs
    return model.room[chosen[0]] * needs * (needs if counted else 1) <= MOST_BITS


def pack_pair(model: Model, chosen: list[int], limit: tuple[int, int]) -> Found | None:
    """The best way to fill two tubes that beats ``limit`` (blood on top, preference), or None."""
    pair = _Pair(model, chosen[0], chosen[1])
    best = pair.best()
    if best is None:
        return None
    over, step, at = best
    if (over, pair.rank + step) >= limit:
        return None
    return over, pair.rank + step, pair.split(step, at)


class _Pair:
    """
    Two tubes with what must go into each of them, and the needs that may go into either.

    Attributes:
        load, count, needs: of the two tubes before the free needs are placed.
        items: the free needs.
        rank: preference when all free needs go into the second tube.
        layers: after each need, preference step -> bits of what the first tube can hold.
    """

    __slots__ = ("count", "free", "items", "layers", "load", "needs", "rank", "room", "slots",
                 "stride")  # fmt: skip

    def __init__(self, model: Model, first: int, second: int) -> None:
        self.room = (model.room[first], model.room[second])
        self.free = (model.free[first], model.free[second])
        self.slots = (model.slots[first], model.slots[second])
        self.load = [0, 0]
        self.count = [0, 0]
        self.needs: list[list[int]] = [[], []]
        self.items: list[Item] = []
        self.rank = 0
        self.layers: list[dict[int, int]] = []
        self.stride = 1
        for one, ranks, mask in zip(model.classes, model.ranks, model.masks, strict=True):
            if mask >> first & 1 and mask >> second & 1:
                step = ranks[first] - ranks[second]
                self.items += [(volume, step, need) for volume, need in one.members]
                self.rank += ranks[second] * len(one.members)
                continue
            side, j = (0, first) if mask >> first & 1 else (1, second)
            self.rank += ranks[j] * len(one.members)
            self.count[side] += len(one.members)
            self.load[side] += sum([member[0] for member in one.members])
            self.needs[side] += [member[1] for member in one.members]

    def best(self) -> tuple[int, int, int] | None:
        """(blood beyond the base draw, step of preference, bit of the state), or None."""
        total = sum([item[0] for item in self.items])
        low = max(0, self.load[1] + total - self.room[1])
        high = min(total, self.room[0] - self.load[0])
        few = max(0, self.count[1] + len(self.items) - self.slots[1])
        many = min(len(self.items), self.slots[0] - self.count[0])
        if low > high or few > many:
            return None
        allowed = -1
        if few > 0 or many < len(self.items):
            self.stride = len(self.items) + 1
            allowed = _window(few, many, self.stride, high)
        self._reach((1 << (high + 1) * self.stride) - 1)
        # beyond the base draw the pair draws ``bottom`` while the volume that goes into the first
        # tube stands from ``left`` to ``right``, and one more for each µL outside
        turn = self.free[0] - self.load[0]
        back = self.load[1] + total - self.free[1]
        left, right = min(turn, back), max(turn, back)
        bottom = max(0, back - turn)
        best: tuple[int, int, int] | None = None
        for step, bits in self.layers[-1].items():
            place = _nearest(bits & allowed, self.stride, (low, high), (left, right))
            if place is not None and (best is None or (bottom + place[0], step) < best[:2]):
                best = (bottom + place[0], step, place[1])
        return best

    def _shift(self, volume: int) -> int:
        """How far a need moves the bits: its volume, and one more test where tests count."""
        return volume * self.stride + (1 if self.stride > 1 else 0)

    def _reach(self, inside: int) -> None:
        """Work out the layers."""
        self.layers = [{0: 1}]
        for volume, gain, _ in self.items:
            shift = self._shift(volume)
            after = dict(self.layers[-1])
            for step, bits in self.layers[-1].items():
                moved = bits << shift & inside
                if moved:
                    after[step + gain] = after.get(step + gain, 0) | moved
            self.layers.append(after)

    def split(self, step: int, at: int) -> list[list[int]]:
        """The needs of the two tubes, traced back from a state."""
        needs = [list(self.needs[0]), list(self.needs[1])]
        for i in range(len(self.items) - 1, -1, -1):
            volume, gain, need = self.items[i]
            shift = self._shift(volume)
            if at >= shift and self.layers[i].get(step - gain, 0) >> (at - shift) & 1:
                at -= shift
                step -= gain
                needs[0].append(need)
            else:
                needs[1].append(need)
        return needs


def _window(few: int, many: int, stride: int, high: int) -> int:
    """The bits of states whose count stands between ``few`` and ``many``."""
    window = ((1 << (many - few + 1)) - 1) << few
    return window * (((1 << stride * (high + 1)) - 1) // ((1 << stride) - 1))


def _nearest(
    bits: int, stride: int, ends: tuple[int, int], flat: tuple[int, int]
) -> tuple[int, int] | None:
    """(distance from ``flat``, bit) of the nearest reached state between ``ends``, or None."""
    (low, high), (left, right) = ends, flat
    inside = _between(bits, stride, max(left, low), min(right, high))
    if inside:
        return 0, (inside & -inside).bit_length() - 1
    found = []
    below = _between(bits, stride, low, min(left - 1, high))
    if below:
        at = below.bit_length() - 1
        found.append((left - at // stride, at))
    above = _between(bits, stride, max(right + 1, low), high)
    if above:
        at = (above & -above).bit_length() - 1
        found.append((at // stride - right, at))
    return min(found, default=None)


def _between(bits: int, stride: int, low: int, high: int) -> int:
    """The bits of volumes from ``low`` to ``high``."""
    if low > high:
        return 0
    return bits & ((1 << (high + 1) * stride) - 1) & ~((1 << low * stride) - 1)
