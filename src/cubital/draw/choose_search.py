"""
The multisets of kinds that could serve a part with so many tubes, from linear conditions alone.

Each condition says that the tubes together must *supply* at least what is *wanted*: a tube among
the kinds that a class accepts, room and places for the needs that have nowhere else to go, no
more blood than is known to be enough, no more of a container than may be opened.  All conditions
live side by side in the fields of one whole number, so that a tube is added with one addition
and all conditions are looked at with one comparison.
"""

from __future__ import annotations

from collections.abc import Sequence

from cubital.draw.choose_model import Model

Supply = tuple[list[int], int]
"""(what a tube of each local kind supplies, what is wanted of all tubes together)."""

Candidate = tuple[int, list[int]]
"""(least blood, local kinds)."""


def candidates(model: Model, tubes: int, below: int | None) -> list[Candidate]:
    """The multisets of so many kinds that may draw less than ``below``, the least blood first."""
    rows = _rows(model, tubes, below)
    found: list[list[int]] = []
    _Fields(rows, len(model.kinds), tubes).grow(model.most, found)
    result: list[Candidate] = []
    for chosen in found:
        blood = model.drawn(chosen) + model.over(chosen)
        if below is None or blood < below:
            result.append((blood, chosen))
    result.sort()
    return result


def _rows(model: Model, tubes: int, below: int | None) -> list[Supply]:
    """The conditions of a level."""
    rows = list(model.wants)
    for container, cap in model.caps.items():
        if cap < tubes:
            rows.append(([0 if c == container else 1 for c in model.group], tubes - cap))
    if below is not None:
        # Σ base < below, and Σ dead + all volume < below: each a budget that room is bought from
        for price, budget in ((model.base, below - 1), (model.dead, below - 1 - model.volume)):
            rows.append(([-p for p in price], -budget))
            if model.volume > min(model.room):
                rows += _bought(price, budget, model, tubes)
    return rows


def _bought(price: list[int], budget: int, model: Model, tubes: int) -> list[Supply]:
    """
    Room that a budget can buy: ``give * room - take * price``, summed, is enough in every answer.

    The weights are the edges of the upper hull of (price, room): what one more µL of budget buys.
    """
    points = sorted(zip(price, model.room, strict=True))
    hull: list[tuple[int, int]] = []
    for point in points:
        if hull and point[1] <= hull[-1][1]:
            continue
        while len(hull) > 1 and (hull[-1][1] - hull[-2][1]) * (point[0] - hull[-2][0]) <= (
            point[1] - hull[-2][1]
        ) * (hull[-1][0] - hull[-2][0]):
            hull.pop()
        hull.append(point)
    rows: list[Supply] = []
    for (low, small), (high, large) in zip(hull, hull[1:], strict=False):
        take, give = large - small, high - low
        if give <= 0:
            continue
        supply = [give * room - take * p for room, p in zip(model.room, price, strict=True)]
        rows.append((supply, give * model.volume - take * budget))
    return rows


class _Fields:
    """
    Conditions side by side in one whole number.

    A field holds what is supplied less what is wanted, above a guard bit that stays set when that
    is not negative.
    """

    __slots__ = ("adds", "guards", "size", "start", "tops", "tubes")

    def __init__(self, rows: Sequence[Supply], size: int, tubes: int) -> None:
        self.size = size
        self.tubes = tubes
        self.adds = [0] * size
        self.tops = [0] * size  # best supply, field by field, of the kinds from this one on
        self.guards = 0
        self.start = 0
        at = 0
        for supply, wanted in rows:
            least = min(supply)
            lifted = [value - least for value in supply]
            want = wanted - least * tubes
            if want <= 0:
                continue
            width = max(want, max(lifted) * tubes).bit_length() + 2
            guard = 1 << (at + width - 1)
            self.guards |= guard
            self.start += guard - (want << at)
            top = 0
            for j in range(size - 1, -1, -1):
                top = max(top, lifted[j])
                self.adds[j] += lifted[j] << at
                self.tops[j] += top << at
            at += width

    def grow(self, most: list[int], found: list[list[int]]) -> None:
        """Add every multiset that meets all conditions to ``found``."""
        adds, tops, guards, size = self.adds, self.tops, self.guards, self.size

        def add(chosen: list[int], state: int, first: int, run: int, left: int) -> None:
            for j in range(first, size):
                if j == first and run >= most[j]:
                    continue
                after = state + adds[j]
                if left == 1:
                    if after & guards == guards:
                        found.append([*chosen, j])
                elif (after + (left - 1) * tops[j]) & guards == guards:
                    add([*chosen, j], after, j, run + 1 if j == first else 1, left - 1)

        if (self.start + self.tubes * tops[0]) & guards == guards:
            add([], self.start, 0, 0, self.tubes)
