"""
Which needs go into tubes of which kind, exactly: a best-first search over piles.

The kinds of the tubes and their numbers are given.  The needs are placed one by one, the largest
first, into a *kind*; which of its tubes is left to the piles.  So states that differ only in the
order of the needs, or in the tube, are one state.  Of the smallest size only the numbers matter:
they are shared out in one go.  The bound on the preference still to come counts the room at a
price.  The first finished state that comes to the front is the best.
"""

from __future__ import annotations

from heapq import heappop, heappush

from cubital.draw.choose_model import Model
from cubital.draw.choose_piles import Pile
from cubital.draw.choose_prices import SHIFT
from cubital.draw.choose_share import Lot, Share, share_out

State = tuple[Pile, ...]

Filled = tuple[int, int, list[tuple[int, list[int]]]]
"""(blood beyond the base draw, preference, [(local kind, needs)])."""

TIRED: Filled = (-1, -1, [])
"""Given back when a search was broken off."""


class _Node:
    """
    A state of the search.

    Args:
        placed: needs placed so far.
        state: the piles, kind by kind.
        rank: preference so far.
        spare, unfilled, beyond: of all piles.
        toll: the price of all the room that is left.
        before, place: the state it came from, and where the last need went.
    """

    __slots__ = ("before", "beyond", "place", "placed", "rank", "spare", "state", "toll",
                 "unfilled")  # fmt: skip

    def __init__(
        self,
        placed: int,
        state: State,
        rank: int,
        spare: int,
        unfilled: int,
        beyond: int,
        toll: int,
        before: _Node | None,
        place: int,
    ) -> None:
        self.placed = placed
        self.state = state
        self.rank = rank
        self.spare = spare
        self.unfilled = unfilled
        self.beyond = beyond
        self.toll = toll
        self.before = before
        self.place = place


class _Goal:
    """A finished state: its piles, how the smallest were shared out, and where it came from."""

    __slots__ = ("node", "over", "rank", "shares", "state")

    def __init__(
        self, node: _Node, state: State, over: int, rank: int, shares: list[Share]
    ) -> None:
        self.node = node
        self.state = state
        self.over = over
        self.rank = rank
        self.shares = shares


class Rack:
    """
    Tubes to be filled.

    Args:
        chosen: local kinds, equal ones side by side.
        floor: blood beyond the base draw, at least.
        limit: (blood beyond the base draw, preference) to beat.
        prices: of room, by local kind; None when the preference does not count.
        sharp: whether to look closely at what piles can still hold; slower, with better bounds.
    """

    __slots__ = ("ends", "floor", "forced", "heap", "items", "kinds", "known", "left", "limit",
                 "lot_class", "lots", "model", "options", "priced", "prices", "rank",
                 "ranks_left", "serial", "shared", "start")  # fmt: skip

    def __init__(
        self,
        model: Model,
        chosen: list[int],
        floor: int,
        limit: tuple[int, int],
        prices: list[int] | None,
        *,
        sharp: bool,
    ) -> None:
        self.model = model
        self.floor = floor
        self.limit = limit
        ranked = prices is not None
        self.kinds = kinds = sorted(set(chosen))
        start = [model.shape(j, chosen.count(j), sharp=sharp).empty for j in kinds]
        # a negative price is paid for what the tubes draw anyway: it must all be used then
        slackless = floor == model.volume - sum([pile.shape.all_free for pile in start])
        self.prices = [
            prices[j] if prices is not None and (prices[j] > 0 or slackless) else 0 for j in kinds
        ]
        self.options = [
            sorted([(ranks[j] if ranked else 0, k) for k, j in enumerate(kinds) if ranks[j] >= 0])
            for ranks in model.ranks
        ]
        self.forced: list[tuple[int, int, int]] = []  # size, place, need
        self.rank = 0
        self.start = self._force(start)
        self._lay_out()
        self.shared = model.shared.setdefault((tuple(kinds), ranked), {})
        self._sum_up()

    def _force(self, piles: list[Pile]) -> State | None:
        """Place the needs that have no choice; None when their tubes cannot hold them."""
        for _, size, c, need in self.model.items:
            if len(self.options[c]) == 1:
                rank, k = self.options[c][0]
                pile = piles[k].force(size)
                if pile is None:
                    return None
                piles[k] = pile
                self.rank += rank
                self.forced.append((size, k, need))
        return tuple(piles)

    def _lay_out(self) -> None:
        """The needs that have a choice, and those of the smallest size as lots."""
        model, options = self.model, self.options
        last = len(model.sizes) - 1
        self.items = [item for item in model.items if len(options[item[2]]) > 1]
        self.ends = sum([item[1] != last for item in self.items])
        self.lots: list[Lot] = []
        self.lot_class: list[int] = []
        for c, number in model.last_lots:
            if len(options[c]) > 1:
                self.lots.append((number, {k: rank for rank, k in options[c]}))
                self.lot_class.append(c)

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
        if start is None:
            return None
        self.known: list[dict[State, int]] = [{} for _ in range(len(self.items) + 1)]
        self.serial = 0
        self.heap: list[tuple[int, int, int, int, _Node | _Goal]] = []
        root = _Node(
            0,
            start,
            self.rank,
            sum([pile.spare for pile in start]),
            sum([pile.unfilled for pile in start]),
            sum([pile.beyond for pile in start]),
            sum([self._toll(k, pile) for k, pile in enumerate(start)]),
            None,
            -1,
        )
        self.heap.append((self.floor, 0, 0, 0, root))
        looked = 0
        while self.heap:
            over, _, _, _, node = heappop(self.heap)
            if isinstance(node, _Goal):
                return node.over, node.rank, self._layout(node)
            looked += 1
            if patience is not None and looked > patience:
                return TIRED
            if self.known[node.placed].get(node.state, node.rank) < node.rank:
                continue
            if node.placed < self.ends or not self._closed(node, over):
                self._spread(node)
        return None

    def _toll(self, k: int, pile: Pile) -> int:
        price = self.prices[k]
        return price * pile.spare if price > 0 else price * pile.unfilled

    def _spread(self, node: _Node) -> None:
        """The states after the next need."""
        i = node.placed
        _, size, c, _ = self.items[i]
        i += 1
        left, floor, prices, state = self.left[i], self.floor, self.prices, node.state
        layer = self.known[i]
        for step, k in self.options[c]:
            pile = state[k]
            try:
                after = pile.after[size]
            except KeyError:
                after = pile.add(size)
            if after is None:
                continue
            spare = node.spare - pile.spare + after.spare
            if spare < left:
                continue
            unfilled = node.unfilled - pile.unfilled + after.unfilled
            beyond = node.beyond - pile.beyond + after.beyond
            over = max(floor, beyond + left - unfilled if left > unfilled else beyond)
            price = prices[k]
            toll = node.toll
            if price > 0:
                toll += price * (after.spare - pile.spare)
            elif price < 0:
                toll += price * (after.unfilled - pile.unfilled)
            rank = node.rank + step
            ahead = rank + max(self.ranks_left[i], -((toll - self.priced[i]) >> SHIFT))
            if (over, ahead) >= self.limit:
                continue
            reached = (*state[:k], after, *state[k + 1 :])
            known = layer.get(reached)
            if known is not None and known <= rank:
                continue
            layer[reached] = rank
            self.serial -= 1
            child = _Node(i, reached, rank, spare, unfilled, beyond, toll, node, k)
            heappush(self.heap, (over, ahead, -i, self.serial, child))

    def _closed(self, node: _Node, over: int) -> bool:
        """Finish a state if it can be; whether nothing more has to come of it."""
        if node.placed == len(self.items):
            goal: _Goal | None = self._finish(node, node.state, node.rank, [])
        elif node.placed == self.ends:
            goal = self._share(node)
            if goal is None:
                return True
        else:
            return False
        if goal is not None and (goal.over, goal.rank) < self.limit:
            self.serial -= 1
            heappush(self.heap, (goal.over, goal.rank, -1 - node.placed, self.serial, goal))
        return node.placed == len(self.items) or (goal is not None and goal.over <= over)

    def _share(self, node: _Node) -> _Goal | None:
        """Share out the needs of the smallest size; None when they cannot all be placed."""
        last = len(self.model.sizes) - 1
        number = len(self.items) - self.ends
        caps = tuple([pile.most(last, number) for pile in node.state])
        if caps in self.shared:
            shares = self.shared[caps]
        else:
            shares = self.shared[caps] = share_out(self.lots, caps)
        if shares is None:
            return None
        piles = list(node.state)
        rank = node.rank
        for share, (_, costs) in zip(shares, self.lots, strict=True):
            for k, some in share.items():
                rank += some * costs[k]
                for _ in range(some):
                    after = piles[k].add(last)
                    assert after is not None  # within the caps
                    piles[k] = after
        return self._finish(node, tuple(piles), rank, shares)

    def _finish(self, node: _Node, state: State, rank: int, shares: list[Share]) -> _Goal:
        over = sum([pile.shape.filled(pile)[0] for pile in state])
        return _Goal(node, state, over, rank, shares)

    def _layout(self, goal: _Goal) -> list[tuple[int, list[int]]]:
        """The needs tube by tube."""
        of_kind: list[dict[int, list[int]]] = [{} for _ in self.kinds]
        for size, k, need in self.forced:
            of_kind[k].setdefault(size, []).append(need)
        node: _Node | None = goal.node
        while node is not None and node.placed:
            _, size, _, need = self.items[node.placed - 1]
            of_kind[node.place].setdefault(size, []).append(need)
            node = node.before
        self._layout_last(goal.shares, of_kind)
        layout = []
        for j, pile, needs in zip(self.kinds, goal.state, of_kind, strict=True):
            if pile.shape.number == 1:
                layout.append((j, [need for some in needs.values() for need in some]))
                continue
            tubes = pile.shape.filled(pile)[1]
            layout += [(j, [needs[size].pop() for size in tube]) for tube in tubes]
        return layout

    def _layout_last(self, shares: list[Share], of_kind: list[dict[int, list[int]]]) -> None:
        """Deal out the needs of the smallest size as they were shared, if they were."""
        if not shares:
            return
        last = len(self.model.sizes) - 1
        waiting: dict[int, list[int]] = {}
        for _, _, c, need in self.items[self.ends :]:
            waiting.setdefault(c, []).append(need)
        for share, c in zip(shares, self.lot_class, strict=True):
            for k, some in share.items():
                dealt = [waiting[c].pop() for _ in range(some)]
                of_kind[k].setdefault(last, []).extend(dealt)
