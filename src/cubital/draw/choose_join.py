"""
Join the parts of a question under the stock of containers and the blood limit.

Without either, the optimum is the sum of the optima.  Where the fewest tubes draw too much blood,
the frontiers of the parts are added up.  Where the parts together take more of a container than
there is, the question branches: in every solution one of the parts takes less of it than now.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from heapq import heappop, heappush

from cubital.draw.choose_part import Caps, Frontier, Part, Point
from cubital.draw.choose_question import Question, Shelf
from cubital.draw.choose_singles import SinglePoint, Singles
from cubital.draw.choose_values import Aim

Piece = Part | Singles

Points = list[Point]
"""The point of each piece."""


def can_join(question: Question, limit: int | None) -> bool:
    """Whether there is an answer at all."""
    return join(question, Aim.FEWEST_TUBES, limit) is not None


def join(question: Question, aim: Aim, limit: int | None) -> Points | None:
    """The optimum as one point a piece, or None."""
    if question.hopeless:
        return None
    shelf = question.shelf
    pieces: list[Piece] = [Part(part, shelf) for part in question.parts]
    if question.singles:
        pieces.append(Singles(question.singles, shelf))
    if not shelf.limited:
        return _sum_up(pieces, [{}] * len(pieces), aim, limit)
    return _share_out(pieces, shelf, aim, limit)


def _sum_up(pieces: list[Piece], caps: list[Caps], aim: Aim, limit: int | None) -> Points | None:
    """The optimum of pieces that share nothing but the blood limit."""
    points: list[Point] = []
    least = aim is Aim.LEAST_BLOOD
    blood = 0
    for piece, cap in zip(pieces, caps, strict=True):
        frontier = piece.frontier(cap)
        point = frontier.least() if least else frontier.first()
        if point is None:
            return None
        points.append(point)
        blood += point.blood
        if least and limit is not None and blood > limit:
            return None
    if limit is not None and blood > limit:
        return _under_limit(pieces, caps, limit)
    return points


def _objective(points: Points, aim: Aim) -> tuple[int, int, int]:
    tubes = sum([point.tubes for point in points])
    blood = sum([point.blood for point in points])
    preference = sum([point.preference for point in points])
    if aim is Aim.LEAST_BLOOD:
        return blood, tubes, preference
    return tubes, blood, preference


def _under_limit(pieces: list[Piece], caps: list[Caps], limit: int) -> Points | None:
    """The fewest tubes within a blood limit that the fewest of each piece together exceed."""
    frontiers = [piece.frontier(cap) for piece, cap in zip(pieces, caps, strict=True)]
    floors = [frontier.floor() for frontier in frontiers]
    spare = limit - sum(floors)
    for i, frontier in enumerate(frontiers):
        if spare < 0:
            return None
        last = frontier.least()
        if last is None:
            return None
        spare -= last.blood - floors[i]
    if spare < 0:
        return None
    # piece by piece, for each number of tubes the least blood
    sums: list[dict[int, int]] = [{0: 0}]
    for frontier in frontiers:
        after: dict[int, int] = {}
        for tubes, blood in sums[-1].items():
            for point in frontier.all_points():
                both = blood + point.blood
                if both < after.get(tubes + point.tubes, both + 1):
                    after[tubes + point.tubes] = both
        sums.append(after)
    tubes = min(tubes for tubes, blood in sums[-1].items() if blood <= limit)
    return _trace(frontiers, sums, len(frontiers), tubes, ranked=False)[1]


def _trace(
    frontiers: Sequence[Frontier | SinglePoint],
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
    ways = [
        point
        for point in frontiers[i - 1].all_points()
        if before.get(tubes - point.tubes) == blood - point.blood
    ]
    ranked = ranked or len(ways) > 1
    best: tuple[int, Points] | None = None
    for point in ways:
        preference, points = _trace(frontiers, sums, i - 1, tubes - point.tubes, ranked=ranked)
        if ranked:
            preference += point.preference
        if best is None or preference < best[0]:
            best = (preference, [*points, point])
    assert best is not None  # the sum came about somehow
    return best


def _share_out(
    pieces: list[Piece], shelf: Shelf, aim: Aim, limit: int | None
) -> Points | None:
    """The optimum where containers are short: best-first over caps piece by piece."""
    everywhere: Mapping[str, int] = shelf.limited
    start: list[Caps] = [
        {c: n for c, n in everywhere.items() if piece.may_use(c) > n} for piece in pieces
    ]
    heap: list[tuple[tuple[int, int, int], int, list[Caps], list[Point]]] = []
    seen: set[tuple[tuple[tuple[str, int], ...], ...]] = set()
    serial = 0

    def look(caps: list[Caps]) -> None:
        nonlocal serial
        key = tuple(tuple(sorted(cap.items())) for cap in caps)
        if key in seen:
            return
        seen.add(key)
        joined = _sum_up(pieces, caps, aim, limit)
        if joined is not None:
            serial += 1
            heappush(heap, (_objective(joined, aim), serial, caps, joined))

    look(start)
    while heap:
        _, _, caps, points = heappop(heap)
        short = _short(points, shelf)
        if short is None:
            return points
        _branch(short, points, caps, shelf, look)
    return None


def _branch(
    container: str,
    points: list[Point],
    caps: list[Caps],
    shelf: Shelf,
    look: Callable[[list[Caps]], None],
) -> None:
    """One of the pieces has to take less of a container that is short."""
    for i, point in enumerate(points):
        taken = sum(1 for kind, _ in point.layout if shelf.container[kind] == container)
        if taken:
            fewer = list(caps)
            fewer[i] = {**caps[i], container: taken - 1}
            look(fewer)


def _short(points: list[Point], shelf: Shelf) -> str | None:
    """A container of which more is taken than there is."""
    left = dict(shelf.limited)
    for point in points:
        for kind, _ in point.layout:
            container = shelf.container[kind]
            if container in left:
                left[container] -= 1
                if left[container] < 0:
                    return container
    return None
