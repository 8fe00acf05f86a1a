"""
The multisets of kinds that could serve a part with so many tubes, from linear conditions alone.

Each condition says that the tubes together must *supply* at least what is *wanted*: a tube among
the kinds that a class accepts, room and places for the needs that have nowhere else to go, no
more blood than is known to be enough, no more of a container than may be opened.  All conditions
live side by side in the fields of one whole number, so that a tube is added with one addition
and all conditions are looked at with one comparison.
"""

from __future__ import annotations

from itertools import pairwise

from cubital.draw.choose_model import Model

Supply = tuple[list[int], int]
"""(what a tube of each local kind supplies, what is wanted of all tubes together)."""

Candidate = tuple[int, list[int]]
"""(least blood, local kinds)."""


def candidates(model: Model, tubes: int, below: int | None) -> list[Candidate]:
    """The multisets of so many kinds that may draw less than ``below``, the least blood first."""
    fields = _Fields(len(model.kinds))
    for supply, wanted in model.wants:
        fields.add(supply, wanted, tubes)
    for container, cap in model.caps.items():
        if cap < tubes:
            fields.add([0 if c == container else 1 for c in model.group], tubes - cap, tubes)
    if below is not None:
        # Σ base < below, and Σ dead + all volume < below: each a budget that room is bought from
        for price, budget in ((model.base, below - 1), (model.dead, below - 1 - model.volume)):
            fields.add([-p for p in price], -budget, tubes)
            if model.volume > min(model.room):
                for supply, wanted in _bought(price, budget, model):
                    fields.add(supply, wanted, tubes)
    result: list[Candidate] = []
    for chosen in fields.all_of(tubes, model.most):
        blood = model.drawn(chosen) + model.over(chosen)
        if below is None or blood < below:
            result.append((blood, chosen))
    result.sort()
    return result


def _bought(price: list[int], budget: int, model: Model) -> list[Supply]:
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
    for (low, small), (high, large) in pairwise(hull):
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

    Args:
        size: kinds there are.
    """

    __slots__ = ("adds", "guards", "start", "tops", "width")

    def __init__(self, size: int) -> None:
        self.adds = [0] * size
        self.tops = [0] * size  # best supply, field by field, of the kinds up to this one
        self.guards = 0
        self.start = 0
        self.width = 0

    def add(self, supply: list[int], wanted: int, tubes: int) -> None:
        """One more condition, unless so many tubes always meet it."""
        least = min(supply)
        want = wanted - least * tubes
        if want <= 0:
            return
        at = self.width
        adds, tops = self.adds, self.tops
        top = 0
        for j, value in enumerate(supply):
            lifted = value - least
            if lifted > top:
                top = lifted
            adds[j] += lifted << at
            tops[j] += top << at
        width = max(want, top * tubes).bit_length() + 2
        guard = 1 << (at + width - 1)
        self.guards |= guard
        self.start += guard - (want << at)
        self.width = at + width

    def all_of(self, tubes: int, most: list[int]) -> list[list[int]]:
        """
        Every multiset that meets all conditions.

        Kinds that draw much come first: what is left to the others shows soon whether it will do.
        """
        adds, tops, guards = self.adds, self.tops, self.guards
        found: list[list[int]] = []

        def grow(chosen: list[int], state: int, last: int, run: int, left: int) -> None:
            for j in range(last, -1, -1):
                if j == last and run >= most[j]:
                    continue
                after = state + adds[j]
                if left == 1:
                    if after & guards == guards:
                        found.append([j, *chosen])
                elif (after + (left - 1) * tops[j]) & guards == guards:
                    grow([j, *chosen], after, j, run + 1 if j == last else 1, left - 1)

        last = len(adds) - 1
        if (self.start + tubes * tops[last]) & guards == guards:
            grow([], self.start, last, 0, tubes)
        return found
