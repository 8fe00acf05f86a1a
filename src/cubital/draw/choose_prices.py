"""
A price on room: a strong bound on the preference that tubes can still reach.

If a tube's room costs ``price`` for each µL, every need goes where rank and price together are
least; what that comes to, less the price of all the room there is, is never more than the best
preference (weak duality).  Where the blood leaves no slack, a tube must be filled at least to what
it draws anyway: then a negative price, a bounty, holds too.  Prices are whole multiples of
``2 ** -SHIFT``, so that the bound holds exactly whatever they are; good ones are found by ascent
over sets of kinds, which share a step.
"""

from __future__ import annotations

from cubital.draw.choose_model import Model

SHIFT = 16
"""Prices and priced ranks carry so many bits behind the point."""

MOST_KINDS = 5
"""Kinds whose sets are all tried; of more, only the sets of one and of all but one."""

MOST_ROUNDS = 8
"""Times that all sets of kinds are gone through."""

FAR = 1 << 200


class Market:
    """
    Prices of the room of a part's local kinds.

    Args:
        model: of the part.
    """

    __slots__ = ("_least", "_model", "prices")

    def __init__(self, model: Model) -> None:
        self._model = model
        self.prices = [0] * len(model.kinds)
        self._least: dict[int, int] = {}

    def bound(self, chosen: list[int], over: int) -> int:
        """A bound on the preference of a multiset that draws ``over`` beyond its base."""
        mask = 0
        for j in chosen:
            mask |= 1 << j
        total = self._least.get(mask)
        if total is None:
            total = self._least[mask] = self._of_needs(mask)
        model, prices = self._model, self.prices
        slackless: bool | None = None
        for j in chosen:
            price = prices[j]
            if price > 0:
                total -= price * model.room[j]
            elif price < 0:
                if slackless is None:
                    slackless = over == model.volume - sum([model.free[j] for j in chosen])
                if slackless:
                    total -= price * model.free[j]
        return -(-total >> SHIFT)

    def _of_needs(self, mask: int) -> int:
        """What the needs pay at least when they may go to these kinds."""
        prices = self.prices
        total = 0
        for volume, number, ranks in self._model.types:
            total += number * min(
                [
                    (rank << SHIFT) + volume * prices[j]
                    for j, rank in enumerate(ranks)
                    if rank >= 0 and mask >> j & 1
                ]
            )
        return total

    def improve(self, chosen: list[int], over: int, enough: int) -> int:
        """Better prices for a multiset; its bound at those."""
        model = self._model
        room = dict.fromkeys(chosen, 0)
        fill = dict.fromkeys(chosen, 0)
        for j in chosen:
            room[j] += model.room[j]
            fill[j] += model.free[j]
        # what the tubes draw anyway must all be used when nothing can be left unused
        if over > model.volume - sum(fill.values()):
            fill = dict.fromkeys(fill, 0)
        value = Ascent(model, room, fill).climb(self.prices, enough)
        self._least.clear()
        return value


class Ascent:
    """
    Prices for one multiset, step by step.

    Args:
        room: local kind -> room of all its tubes.
        fill: local kind -> volume that its tubes must hold at least.
    """

    __slots__ = ("fill", "kinds", "room", "rows")

    def __init__(self, model: Model, room: dict[int, int], fill: dict[int, int]) -> None:
        self.kinds = list(room)
        self.room = room
        self.fill = fill
        self.rows = [
            (volume, number, [(j, ranks[j] << SHIFT) for j in room if ranks[j] >= 0])
            for volume, number, ranks in model.types
        ]

    def bound(self, price: list[int]) -> int:
        """The bound at given prices, in whole ranks."""
        total = 0
        for volume, number, offers in self.rows:
            total += number * min([rank + volume * price[j] for j, rank in offers])
        for j in self.kinds:
            total -= price[j] * (self.room[j] if price[j] > 0 else self.fill[j])
        return -(-total >> SHIFT)

    def climb(self, price: list[int], enough: int) -> int:
        """Raise the bound by better prices, until it reaches ``enough`` or no step helps."""
        value = self.bound(price)
        groups = self._groups()
        for _ in range(MOST_ROUNDS):
            before = value
            for group in groups:
                for sign in (1, -1):
                    step = self._step(price, group, sign)
                    if not step:
                        continue
                    for j in group:
                        price[j] += sign * step
                    reached = self.bound(price)
                    if reached > value:
                        value = reached
                        break
                    for j in group:
                        price[j] -= sign * step
                if value >= enough:
                    return value
            if value == before:
                break
        return value

    def _groups(self) -> list[list[int]]:
        kinds = self.kinds
        if len(kinds) > MOST_KINDS:
            return [[j] for j in kinds] + [[i for i in kinds if i != j] for j in kinds]
        return [
            [j for b, j in enumerate(kinds) if bits >> b & 1] for bits in range(1, 1 << len(kinds))
        ]

    def _step(self, price: list[int], group: list[int], sign: int) -> int:
        """How far to move the prices of a group up or down; 0 when that does not help."""
        load, turns = self._turns(price, set(group), sign)
        limit = 0
        for j in group:
            rising = price[j] > 0 or (sign > 0 and price[j] == 0)
            limit += self.room[j] if rising else self.fill[j]
            if price[j] * sign < 0:
                turns.append((-price[j] * sign, self.room[j] - self.fill[j]))
        turns.sort()
        slope = (load - limit) * sign
        step = 0
        for at, volume in turns:
            if slope <= 0:
                break
            step = at
            slope -= volume
        return step

    def _turns(
        self, price: list[int], inside: set[int], sign: int
    ) -> tuple[int, list[tuple[int, int]]]:
        """
        The volume in a group that gains by a step, and where needs change sides on the way.

        Gives pairs (how far, volume that turns): out of the group on the way up, into it down.
        """
        load = 0
        turns: list[tuple[int, int]] = []
        for volume, number, offers in self.rows:
            here = there = FAR
            for j, rank in offers:
                cost = rank + volume * price[j]
                if j in inside:
                    here = min(here, cost)
                else:
                    there = min(there, cost)
            if here == FAR:
                continue
            gap = (there - here) * sign
            if (gap > 0) == (sign > 0):
                load += volume * number
            if gap > 0 and there != FAR:
                turns.append((-(-gap // volume), volume * number))
        return load, turns
