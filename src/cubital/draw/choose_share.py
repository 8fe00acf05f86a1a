"""
Share things out among places that hold only so many, at the least cost: a transport problem.

Everything starts where it costs least.  While a place is overfull, the cheapest chain of moves
leads one thing from it to a place with room; that keeps the whole sharing optimal at each step.
"""

from __future__ import annotations

from collections.abc import Sequence

FAR = 1 << 62

Lot = tuple[int, dict[int, int]]
"""(how many alike things, cost by place)."""


def share_out(lots: Sequence[Lot], caps: Sequence[int]) -> list[dict[int, int]] | None:
    """
    Give for each lot how many of it go to each place, or None when the places cannot hold all.

    Args:
        caps: how many things each place holds.
    """
    shares: list[dict[int, int]] = []
    spare = list(caps)
    for number, costs in lots:
        if not costs:
            return None
        best = min(costs, key=lambda place: (costs[place], place))
        shares.append({best: number})
        spare[best] -= number
    while True:
        over = [place for place, left in enumerate(spare) if left < 0]
        if not over:
            return shares
        if not _relieve(lots, shares, spare, over):
            return None


def _relieve(
    lots: Sequence[Lot], shares: list[dict[int, int]], spare: list[int], over: list[int]
) -> bool:
    """Lead as many alike things as can be along the cheapest chain out of an overfull place."""
    size = len(spare)
    # the cheapest single move between two places, and the lot that makes it
    move: list[list[tuple[int, int]]] = [[(FAR, -1)] * size for _ in range(size)]
    for lot, (share, (_, costs)) in enumerate(zip(shares, lots, strict=True)):
        for here in share:
            row = move[here]
            out = costs[here]
            for there, cost in costs.items():
                if cost - out < row[there][0] and there != here:
                    row[there] = (cost - out, lot)
    reach = [FAR] * size
    before = [-1] * size
    for place in over:
        reach[place] = 0
    changed = True
    while changed:
        changed = False
        for here in range(size):
            if reach[here] == FAR:
                continue
            row = move[here]
            for there in range(size):
                if row[there][1] >= 0 and reach[here] + row[there][0] < reach[there]:
                    reach[there] = reach[here] + row[there][0]
                    before[there] = here
                    changed = True
    goals = [place for place in range(size) if spare[place] > 0 and reach[place] < FAR]
    if not goals:
        return False
    end = min(goals, key=lambda place: (reach[place], place))
    chain: list[tuple[int, int, int]] = []
    there = end
    while before[there] >= 0:
        here = before[there]
        chain.append((move[here][there][1], here, there))
        there = here
    number = min([spare[end], -spare[there], *(shares[lot][here] for lot, here, _ in chain)])
    for lot, here, to in chain:
        share = shares[lot]
        share[to] = share.get(to, 0) + number
        share[here] -= number
        if not share[here]:
            del share[here]
    spare[end] -= number
    spare[there] += number
    return True
