"""
Add up the parts of a question under a blood limit.

Without a limit the optimum is the sum of the optima.  Where the fewest tubes draw too much blood,
the frontiers of the parts are added up: for each number of tubes the least blood.
"""

from __future__ import annotations

from collections.abc import Sequence

from cubital.draw.choose_part import Caps, Frontier, Part, Point
from cubital.draw.choose_singles import SinglePoint, Singles
from cubital.draw.choose_values import Aim

Piece = Part | Singles

AnyFrontier = Frontier | SinglePoint

NO_LIMIT = 1 << 60
"""More blood than any draw."""

Points = list[Point]
"""The point of each piece."""


def sum_up(
    pieces: Sequence[Piece], caps: Sequence[Caps], aim: Aim, limit: int | None
) -> Points | None:
    """The optimum of pieces that share nothing but the blood limit."""
    frontiers = [piece.frontier(cap) for piece, cap in zip(pieces, caps, strict=True)]
    if aim is Aim.LEAST_BLOOD:
        return _least(frontiers, NO_LIMIT if limit is None else limit)
    points: list[Point] = []
    blood = 0
    for frontier in frontiers:
        point = frontier.first()
        if point is None:
            return None
        points.append(point)
        blood += point.blood
    if limit is not None and blood > limit:
        return _under_limit(frontiers, limit)
    return points


def _least(frontiers: Sequence[AnyFrontier], limit: int) -> Points | None:
    """The points of least blood, or None when they exceed the limit."""
    floors = [frontier.floor() for frontier in frontiers]
    spare = limit - sum(floors)
    points: list[Point] = []
    for frontier, floor in zip(frontiers, floors, strict=True):
        if spare < 0:
            return None
        point = frontier.least(floor + spare)
        if point is None:
            return None
        points.append(point)
        spare -= point.blood - floor
    return points if spare >= 0 else None


def _under_limit(frontiers: Sequence[AnyFrontier], limit: int) -> Points | None:
    """The fewest tubes within a blood limit that the fewest of each piece together exceed."""
    least = _least(frontiers, limit)
    if least is None:
        return None
    spare = limit - sum([point.blood for point in least])
    ways = [
        frontier.points(point.blood + spare)
        for frontier, point in zip(frontiers, least, strict=True)
    ]
    # piece by piece, for each number of tubes the least blood
    sums: list[dict[int, int]] = [{0: 0}]
    for points in ways:
        after: dict[int, int] = {}
        for tubes, blood in sums[-1].items():
            for point in points:
                both = blood + point.blood
                if both < after.get(tubes + point.tubes, both + 1):
                    after[tubes + point.tubes] = both
        sums.append(after)
    tubes = min(tubes for tubes, blood in sums[-1].items() if blood <= limit)
    return _trace(ways, sums, len(ways), tubes, ranked=False)[1]


def _trace(
    ways: list[Points],
    sums: list[dict[int, int]],
    i: int,
    tubes: int,
    *,
    ranked: bool,
) -> tuple[int, Points]:
    """
    The best points of the first i pieces at the least blood of so many tubes.

    Gives their preference too if ``ranked``: it is only worked out where it decides.
    """
    if i == 0:
        return 0, []
    blood, before = sums[i][tubes], sums[i - 1]
    tight = [
        point for point in ways[i - 1] if before.get(tubes - point.tubes) == blood - point.blood
    ]
    ranked = ranked or len(tight) > 1
    best: tuple[int, Points] | None = None
    for point in tight:
        preference, points = _trace(ways, sums, i - 1, tubes - point.tubes, ranked=ranked)
        if ranked:
            preference += point.preference
        if best is None or preference < best[0]:
            best = (preference, [*points, point])
    assert best is not None  # the sum came about somehow
    return best
