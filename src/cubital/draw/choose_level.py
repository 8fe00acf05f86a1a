"""
One number of tubes of a part: first the least blood, then, when asked for, the best preference.

The multisets of kinds that could serve the part come from bounds; they are tried in the order of
their bounds until none can beat what was packed.
"""

from __future__ import annotations

from collections.abc import Iterable
from heapq import heapify, heappop, heappush

from cubital.draw.choose_model import Model
from cubital.draw.choose_pair import pack_pair, pair_is_small
from cubital.draw.choose_prices import Market
from cubital.draw.choose_rack import TIRED, Filled, Rack
from cubital.draw.choose_search import candidates

Layout = list[tuple[int, list[int]]]
"""(kind, indices of the needs in the tube), tube by tube."""

NEVER = 1 << 62
"""More blood, or a worse preference, than any."""

PATIENCE = 300
"""States of a search that are looked at before better prices are worked out for its bound."""

SHARP = 2000
"""States of a search that are looked at before it starts again with sharper bounds."""

MOST_TIRED = 4
"""Multisets of a level that may try the patience before the others are put off as well."""

PRICED_TRIES = (4, 12, 36, 108, 324)
"""Multisets after which better prices are worked out: each search may be cheap, but not many."""


class Level:
    """
    A level of a part.

    Args:
        model: of the part.
        tubes: how many.
        below: blood that must not be reached; None when any will do.

    Attributes:
        blood: the least found so far, NEVER when none; ``layout`` draws it.
        floor: the least that there can be.
        settled: whether ``blood`` is the least that there is.
    """

    __slots__ = (
        "_found",
        "_model",
        "_open",
        "_overs",
        "blood",
        "floor",
        "layout",
        "settled",
        "tubes",
    )

    def __init__(self, model: Model, tubes: int, below: int | None) -> None:
        self._model = model
        self.tubes = tubes
        self.blood = NEVER
        self.layout: Layout = []
        self._found = candidates(model, tubes, below)
        self._overs: dict[int, int] = {}  # blood on top of the base, at least, where it was tried
        self._open: Iterable[int] = range(len(self._found))
        self.floor = self._found[0][0] if self._found else NEVER
        self.settled = not self._found

    def settle(self, below: int, patience: int | None = None) -> None:
        """
        Look for less blood than ``below``.

        With patience, multisets that need more of it stay open, and the level unsettled.
        """
        least = min(self.blood, below)
        still_open: list[int] = []
        for n in self._open:
            if self._found[n][0] >= least:
                break
            if patience is not None and len(still_open) > MOST_TIRED:
                still_open.append(n)
                continue
            packed = self._least_of(n, least, patience)
            if packed is TIRED:
                still_open.append(n)
            elif packed is not None:
                self.layout = packed[2]
                least = self.blood = self._model.drawn(self._found[n][1]) + packed[0]
        self._open = still_open
        self.settled = not still_open
        self.floor = self._found[still_open[0]][0] if still_open else least

    def _least_of(self, n: int, least: int, patience: int | None) -> Filled | None:
        """A multiset filled with as little blood as can be, if that is under ``least``."""
        model = self._model
        bound, chosen = self._found[n]
        if not model.may_hold(chosen):
            self._overs[n] = NEVER
            return None
        drawn = model.drawn(chosen)
        packed = _pack(model, chosen, bound - drawn, (least - drawn, -1), None, patience)
        if packed is not TIRED:
            self._overs[n] = packed[0] if packed is not None else least - drawn
        return packed

    def best(self) -> tuple[int, Layout]:
        """The best preference at that blood, and a layout that reaches it."""
        model, blood = self._model, self.blood
        market = Market(model)
        heap: list[tuple[int, int, bool]] = []
        for n, (bound, chosen) in enumerate(self._found):
            over = blood - model.drawn(chosen)
            if bound <= blood and self._overs.get(n, 0) <= over:
                heap.append((market.bound(chosen, over), n, False))
        heapify(heap)
        best = NEVER
        layout: Layout = []
        tries = 0
        while heap:
            bound, n, sharp = heappop(heap)
            if bound >= best:
                break
            chosen = self._found[n][1]
            over = blood - model.drawn(chosen)
            if not sharp:
                # prices may be better than when this bound was worked out
                again = market.bound(chosen, over)
                if again > bound:
                    heappush(heap, (again, n, False))
                    continue
                if not model.may_hold(chosen):
                    continue
                tries += 1
                if tries in PRICED_TRIES and market.improve(chosen, over, best) >= best:
                    continue
            packed = _pack(
                model, chosen, over, (over, best), market.prices, None if sharp else PATIENCE
            )
            if packed is TIRED:
                sharper = market.improve(chosen, over, best)
                heappush(heap, (max(bound, sharper), n, True))
            elif packed is not None:
                best, layout = packed[1], packed[2]
        return best, layout


def _pack(
    model: Model,
    chosen: list[int],
    floor: int,
    limit: tuple[int, int],
    prices: list[int] | None,
    patience: int | None,
) -> tuple[int, int, Layout] | None:
    """
    The best way to fill the tubes ``chosen`` (local kinds), if it beats ``limit``.

    Gives (blood beyond the base draw, preference, layout), or TIRED when patience is out.

    Args:
        floor: blood beyond the base draw, at least.
        prices: of room, by local kind; None when the preference does not count.
    """
    quick = _by_preference(model, chosen, floor)
    if quick is not None and (floor, -2 if prices is None else quick[1]) < limit:
        return quick
    if len(chosen) == 2 and pair_is_small(model, chosen):
        found = pack_pair(model, chosen, limit)
        if found is None:
            return None
        over, rank, tubes = found
        pairs = zip(chosen, tubes, strict=True)
        return over, rank, [(model.kinds[j], needs) for j, needs in pairs if needs]
    filled = Rack(model, chosen, floor, limit, prices, sharp=False).fill(patience or SHARP)
    if filled is TIRED and patience is None:
        filled = Rack(model, chosen, floor, limit, prices, sharp=True).fill(None)
    if filled is None or filled is TIRED:
        return filled
    over, rank, layout = filled
    return over, rank, [(model.kinds[j], needs) for j, needs in layout if needs]


def _by_preference(model: Model, chosen: list[int], floor: int) -> tuple[int, int, Layout] | None:
    """Each class where it is preferred, kinds evenly filled; None when that misses the floor."""
    piles: dict[int, list[tuple[int, int]]] = {j: [] for j in chosen}
    preference = 0
    for one, ranks, mask in zip(model.classes, model.ranks, model.masks, strict=True):
        rank, target = min([(ranks[j], j) for j in piles if mask >> j & 1])
        piles[target] += one.members
        preference += rank * len(one.members)
    over = 0
    layout: Layout = []
    for j, pile in piles.items():
        copies = chosen.count(j)
        if copies == 1:
            loads, filled = [sum([m[0] for m in pile])], [[m[1] for m in pile]]
        else:
            loads, filled = _evenly(pile, copies, model.slots[j])
        room, slots, free = model.room[j], model.slots[j], model.free[j]
        for load, needs in zip(loads, filled, strict=True):
            if load > room or len(needs) > slots:
                return None
            if load > free:
                over += load - free
            if needs:
                layout.append((model.kinds[j], needs))
    return (over, preference, layout) if over <= floor else None


def _evenly(
    pile: list[tuple[int, int]], copies: int, slots: int
) -> tuple[list[int], list[list[int]]]:
    """The largest first, always into the tube that holds least."""
    loads = [0] * copies
    filled: list[list[int]] = [[] for _ in range(copies)]
    for volume, need in sorted(pile, reverse=True):
        open_tubes = [t for t in range(copies) if len(filled[t]) < slots]
        if not open_tubes:
            loads[0] = NEVER
            break
        t = min(open_tubes, key=loads.__getitem__)
        loads[t] += volume
        filled[t].append(need)
    return loads, filled
