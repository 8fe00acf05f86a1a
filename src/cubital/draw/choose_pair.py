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


class Pair:
    """
    Two tubes with what must go into each of them, and the needs that may go into either.

    Args:
        load, count, needs: of the two tubes before the free needs are placed.
        items: the free needs.
        rank: preference when all free needs go into the second tube.
    """

    __slots__ = ("count", "items", "load", "needs", "rank")

    def __init__(self, model: Model, first: int, second: int) -> None:
        self.load = [0, 0]
        self.count = [0, 0]
        self.needs: list[list[int]] = [[], []]
        self.items: list[Item] = []
        self.rank = 0
        for one, ranks, mask in zip(model.classes, model.ranks, model.masks, strict=True):
            if mask >> first & 1 and mask >> second & 1:
                step = ranks[first] - ranks[second]
                self.items += [(volume, step, need) for volume, need in one.members]
                self.rank += ranks[second] * len(one.members)
                continue
            side, j = (0, first) if mask >> first & 1 else (1, second)
            self.rank += ranks[j] * len(one.members)
            self.count[side] += len(one.members)
            self.load[side] += sum(member[0] for member in one.members)
            self.needs[side] += [member[1] for member in one.members]


def pack_pair(model: Model, chosen: list[int], over: int, rank: int) -> Found | None:
    """The best way to fill two tubes that beats (``over``, ``rank``), or None."""
    first, second = chosen
    pair = Pair(model, first, second)
    items = pair.items
    total = sum(item[0] for item in items)
    low = max(0, pair.load[1] + total - model.room[second])
    high = min(total, model.room[first] - pair.load[0])
    few = max(0, pair.count[1] + len(items) - model.slots[second])
    many = min(len(items), model.slots[first] - pair.count[0])
    if low > high or few > many:
        return None
    counted = few > 0 or many < len(items)
    stride = len(items) + 1 if counted else 1
    layers = _reach(items, stride, counted, (1 << (high + 1) * stride) - 1)
    # beyond the base draw the pair draws ``bottom`` for a first volume from ``left`` to ``right``,
    # and one more for each µL outside
    turn = model.free[first] - pair.load[0]
    back = pair.load[1] + total - model.free[second]
    left, right = min(turn, back), max(turn, back)
    bottom = max(0, back - turn)
    allowed = _window(few, many, stride, high) if counted else -1
    best: tuple[int, int, int] | None = None
    for step, bits in layers[-1].items():
        place = _nearest(bits & allowed, stride, low, high, left, right)
        if place is not None and (best is None or (place[0], step) < best[:2]):
            best = (place[0], step, place[1])
    if best is None or (bottom + best[0], pair.rank + best[1]) >= (over, rank):
        return None
    away, step, at = best
    needs = [list(pair.needs[0]), list(pair.needs[1])]
    for i in range(len(items) - 1, -1, -1):
        volume, gain, need = items[i]
        shift = volume * stride + (1 if counted else 0)
        if at >= shift and layers[i].get(step - gain, 0) >> (at - shift) & 1:
            at -= shift
            step -= gain
            needs[0].append(need)
        else:
            needs[1].append(need)
    return bottom + away, pair.rank + best[1], needs


def _window(few: int, many: int, stride: int, high: int) -> int:
    """The bits of states whose count stands between ``few`` and ``many``."""
    window = ((1 << (many - few + 1)) - 1) << few
    return window * (((1 << stride * (high + 1)) - 1) // ((1 << stride) - 1))


def _reach(
    items: list[Item], stride: int, counted: bool, inside: int
) -> list[dict[int, int]]:
    """After each need: preference step -> bits of what the first tube can hold."""
    layers = [{0: 1}]
    for volume, gain, _ in items:
        shift = volume * stride + (1 if counted else 0)
        after = dict(layers[-1])
        for step, bits in layers[-1].items():
            moved = bits << shift & inside
            if moved:
                after[step + gain] = after.get(step + gain, 0) | moved
        layers.append(after)
    return layers


def _nearest(
    bits: int, stride: int, low: int, high: int, left: int, right: int
) -> tuple[int, int] | None:
    """(distance from ``left``..``right``, bit) of the nearest reached state, or None."""
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
    return min(found) if found else None


def _between(bits: int, stride: int, low: int, high: int) -> int:
    """The bits of volumes from ``low`` to ``high``."""
    if low > high:
        return 0
    return bits & ((1 << (high + 1) * stride) - 1) & ~((1 << low * stride) - 1)
