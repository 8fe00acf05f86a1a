"""
Share things out among places that hold only so many, at the least cost: a transport problem.

Everything starts where it costs least.  While a place is overfull, the cheapest chain of moves
leads things from it to a place with room; that keeps the whole sharing optimal at each step.
"""

from __future__ import annotations

from collections.abc import Sequence

FAR = 1 << 62

Lot = tuple[int, dict[int, int]]
"""(how many alike things, cost by place)."""

Share = dict[int, int]
"""Place -> how many of a lot are there."""

Move = tuple[int, int]
"""(what it costs more to have a thing there than here, the lot it comes from)."""


def share_out(lots: Sequence[Lot], caps: Sequence[int]) -> list[Share] | None:
    """
    Give for each lot how many of it go to each place, or None when the places cannot hold all.

    Args:
        caps: how many things each place holds.
    """
    shares: list[Share] = []
    spare = list(caps)
    for number, costs in lots:
        if not costs:
            return None
        best = min(costs, key=lambda place: (costs[place], place))
        shares.append({best: number})
        spare[best] -= number
    while min(spare, default=0) < 0:
        if not _relieve(lots, shares, spare):
            return None
    return shares


def _relieve(lots: Sequence[Lot], shares: list[Share], spare: list[int]) -> bool:
    """Lead as many alike things as can be along the cheapest chain out of an overfull place."""
    moves = _moves(lots, shares, len(spare))
    reach, before = _chains(moves, spare)
    goals = [place for place, left in enumerate(spare) if left > 0 and reach[place] < FAR]
    if not goals:
        return False
    there = end = min(goals, key=lambda place: (reach[place], place))
    chain: list[tuple[Share, int, int]] = []
    while before[there] >= 0:
        here = before[there]
        chain.append((shares[moves[here][there][1]], here, there))
        there = here
    number = min([spare[end], -spare[there], *(share[here] for share, here, _ in chain)])
    for share, here, to in chain:
        share[to] = share.get(to, 0) + number
        share[here] -= number
        if not share[here]:
            del share[here]
    spare[end] -= number
    spare[there] += number
    return True


def _moves(lots: Sequence[Lot], shares: list[Share], size: int) -> list[list[Move]]:
    """The cheapest single move from each place to each other place."""
    moves: list[list[Move]] = [[(FAR, -1)] * size for _ in range(size)]
    for lot, share in enumerate(shares):
        costs = lots[lot][1]
        for here in share:
            row = moves[here]
            out = costs[here]
            for there, cost in costs.items():
                if cost - out < row[there][0] and there != here:
                    row[there] = (cost - out, lot)
    return moves


def _chains(moves: list[list[Move]], spare: list[int]) -> tuple[list[int], list[int]]:
    """Cost of the cheapest chain to each place from an overfull one, and the place before it."""
    size = len(spare)
    reach = [0 if left < 0 else FAR for left in spare]
    before = [-1] * size
    changed = True
    while changed:
        changed = False
        for here in range(size):
            so_far = reach[here]
            if so_far == FAR:
                continue
            for there, (cost, _) in enumerate(moves[here]):
                if so_far + cost < reach[there]:
                    reach[there] = so_far + cost
                    before[there] = here
                    changed = True
    return reach, before
