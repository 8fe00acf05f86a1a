"""
Which needs go into tubes of which kind, exactly: a best-first search over piles.

The kinds of the tubes and their numbers are given.  The needs are placed one by one, the largest
first, into a *kind*; which of its tubes is left to the piles.  So states that differ only in the
order of the needs, or in the tube, are one state.  Of the smallest size only the numbers matter:
they are shared out in one go.  The bound on the preference still to come counts the room at a
price.  The first finished state is the best.
"""

from __future__ import annotations

from heapq import heappop, heappush

from cubital.draw.choose_model import Model
from cubital.draw.choose_piles import Pile
from cubital.draw.choose_prices import SHIFT
from cubital.draw.choose_share import Lot, share_out

State = tuple[Pile, ...]

Trail = tuple["Trail", int] | None
"""The places of the kinds chosen so far, the last first."""

Filled = tuple[int, int, list[tuple[int, list[int]]]]
"""(blood beyond the base draw, preference, [(local kind, needs)])."""

TIRED: Filled = (-1, -1, [])
"""Given back when a search was broken off."""

Goal = tuple[State, list[dict[int, int]]]
"""(final piles, how the smallest were shared out)."""


class Rack:
    """
    Tubes to be filled.

    Args:
        chosen: local kinds, equal ones side by side.
        floor: blood beyond the base draw, at least.
        limit: (blood beyond the base draw, preference) to beat.
        prices: of room, by local kind; None when the preference does not count.
    """

    __slots__ = ("chosen", "ends", "floor", "items", "kinds", "left", "limit", "lots", "model",
                 "options", "priced", "prices", "ranks_left", "shared",
                 "start")  # fmt: skip

    def __init__(
        self,
        model: Model,
        chosen: list[int],
        floor: int,
        limit: tuple[int, int],
        prices: list[int] | None,
    ) -> None:
        self.model = model
        self.floor = floor
        self.limit = limit
        ranked = prices is not None
        self.kinds = kinds = sorted(set(chosen))
        self.start: State = tuple(model.shape(j, chosen.count(j)).empty for j in kinds)
        self.items = model.items
        self.ends = model.items_before_last
        self.options = [
            sorted(
                (ranks[j] if ranked else 0, k)
                for k, j in enumerate(kinds)
                if ranks[j] >= 0
            )
            for ranks in model.ranks
        ]
        slackless = floor == model.volume - sum(pile.shape.all_free for pile in self.start)
        self.prices = [
            prices[j] if prices is not None and (prices[j] > 0 or slackless) else 0
            for j in kinds
        ]
        self.lots: list[Lot] = [
            (number, {k: rank for rank, k in self.options[c]}) for c, number in model.last_lots
        ]
        self.shared = model.shared.setdefault((tuple(kinds), ranked), {})
        self._sum_up()

    def _sum_up(self) -> None:
        """What is still to come after each need: its volume, its best ranks, plain and priced."""
        size = len(self.items)
        self.left = left = [0] * (size + 1)
        self.ranks_left = plain = [0] * (size + 1)
        self.priced = priced = [0] * (size + 1)
        for i in range(size - 1, -1, -1):
            volume, _, c, _ = self.items[i]
            options = self.options[c]
            left[i] = left[i + 1] + volume
            plain[i] = plain[i + 1] + options[0][0]
            priced[i] = priced[i + 1] + min(
                [(rank << SHIFT) + volume * self.prices[k] for rank, k in options]
            )

    def fill(self, patience: int | None) -> Filled | None:
        """The best filling that beats the limit, or None; TIRED when patience is out."""
        start = self.start
        prices, left, priced, plain = self.prices, self.left, self.priced, self.ranks_left
        items, options, ends = self.items, self.options, self.ends
        floor, limit = self.floor, self.limit
        spare = sum([pile.spare for pile in start])
        unfilled = sum([pile.unfilled for pile in start])
        toll = sum([self._toll(k, pile) for k, pile in enumerate(start)])
        heap: list[tuple[int, int, int, int, int, int, int, int, int, State, Trail, Goal | None]]
        heap = [(floor, 0, 0, 0, 0, spare, unfilled, 0, toll, start, None, None)]
        known: list[dict[State, int]] = [{} for _ in range(len(items) + 1)]
        serial = 0
        while heap:
            over, _, back, _, rank, spare, unfilled, beyond, toll, state, trail, goal = heappop(heap)
            if goal is not None:
                return over, rank, self._layout(trail, goal)
            if patience is not None:
                patience -= 1
                if patience < 0:
                    return TIRED
            i = -back
            if known[i].get(state, rank) < rank:
                continue
            if i >= ends:
                if i == len(items):
                    finish: tuple[int, int, Goal] | None = self._finish(state, rank, [])
                elif i == ends:
                    finish = self._share(state, rank)
                    if finish is None:
                        continue
                else:
                    finish = None
                if finish is not None:
                    if finish[:2] < limit:
                        serial -= 1
                        heappush(heap, (*finish[:2], back - 1, serial, finish[1], 0, 0, 0, 0,
                                        state, trail, finish[2]))  # fmt: skip
                    if i == len(items) or finish[0] <= over:
                        continue
            _, size, c, _ = items[i]
            i += 1
            layer = known[i]
            for step, k in options[c]:
                pile = state[k]
                try:
                    after = pile.after[size]
                except KeyError:
                    after = pile.add(size)
                if after is None:
                    continue
                spare_after = spare - pile.spare + after.spare
                if spare_after < left[i]:
                    continue
                unfilled_after = unfilled - pile.unfilled + after.unfilled
                beyond_after = beyond - pile.beyond + after.beyond
                ahead = beyond_after
                if left[i] > unfilled_after:
                    ahead += left[i] - unfilled_after
                if ahead < floor:
                    ahead = floor
                price = prices[k]
                toll_after = toll
                if price > 0:
                    toll_after += price * (after.spare - pile.spare)
                elif price < 0:
                    toll_after += price * (after.unfilled - pile.unfilled)
                rank_after = rank + step
                rank_ahead = -((toll_after - priced[i]) >> SHIFT)
                if rank_ahead < plain[i]:
                    rank_ahead = plain[i]
                rank_ahead += rank_after
                if (ahead, rank_ahead) >= limit:
                    continue
                reached = (*state[:k], after, *state[k + 1 :])
                before = layer.get(reached)
                if before is not None and before <= rank_after:
                    continue
                layer[reached] = rank_after
                serial -= 1
                heappush(heap, (ahead, rank_ahead, -i, serial, rank_after, spare_after,
                                unfilled_after, beyond_after, toll_after, reached, (trail, k),
                                None))  # fmt: skip
        return None

    def _toll(self, k: int, pile: Pile) -> int:
        price = self.prices[k]
        return price * pile.spare if price > 0 else price * pile.unfilled

    def _share(self, state: State, rank: int) -> tuple[int, int, Goal] | None:
        """Share out the needs of the smallest size; None when they cannot all be placed."""
        last = len(self.model.sizes) - 1
        number = len(self.items) - self.ends
        caps = tuple([pile.most(last, number) for pile in state])
        if caps in self.shared:
            shares = self.shared[caps]
        else:
            shares = self.shared[caps] = share_out(self.lots, caps)
        if shares is None:
            return None
        piles = list(state)
        for share, (_, costs) in zip(shares, self.lots, strict=True):
            for k, some in share.items():
                rank += some * costs[k]
                for _ in range(some):
                    after = piles[k].add(last)
                    assert after is not None  # within the caps
                    piles[k] = after
        return self._finish(tuple(piles), rank, shares)

    def _finish(
        self, state: State, rank: int, shares: list[dict[int, int]]
    ) -> tuple[int, int, Goal]:
        over = sum([pile.shape.filled(pile)[0] for pile in state])
        return over, rank, (state, shares)

    def _layout(self, trail: Trail, goal: Goal) -> list[tuple[int, list[int]]]:
        """The needs tube by tube."""
        state, shares = goal
        places: list[int] = []
        while trail is not None:
            trail, k = trail
            places.append(k)
        places.reverse()
        of_kind: list[dict[int, list[int]]] = [{} for _ in self.kinds]
        for (_, size, _, need), k in zip(self.items, places, strict=False):
            of_kind[k].setdefault(size, []).append(need)
        if shares:
            self._layout_last(shares, of_kind)
        layout = []
        for j, pile, needs in zip(self.kinds, state, of_kind, strict=True):
            if pile.shape.number == 1:
                layout.append((j, [need for some in needs.values() for need in some]))
                continue
            for tube in pile.shape.filled(pile)[1]:
                layout.append((j, [needs[size].pop() for size in tube]))
        return layout

    def _layout_last(
        self, shares: list[dict[int, int]], of_kind: list[dict[int, list[int]]]
    ) -> None:
        last = len(self.model.sizes) - 1
        waiting: dict[int, list[int]] = {}
        for _, _, c, need in self.items[self.ends :]:
            waiting.setdefault(c, []).append(need)
        for share, (c, _) in zip(shares, self.model.last_lots, strict=True):
            for k, some in share.items():
                for _ in range(some):
                    of_kind[k].setdefault(last, []).append(waiting[c].pop())
