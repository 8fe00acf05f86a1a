"""
Join the parts of a question under the stock of containers and the blood limit.

Without either, the optimum is the sum of the optima.  Where the fewest tubes draw too much blood,
the frontiers of the parts are added up.  Where the parts together take more of a container than
there is, the question branches: in every solution one of the parts takes less of it than now.
"""

from __future__ import annotations

from collections.abc import Sequence
from heapq import heappop, heappush

from cubital.draw.choose_part import Caps, Frontier, Part, Point
from cubital.draw.choose_question import Question, Shelf
from cubital.draw.choose_singles import SinglePoint, Singles
from cubital.draw.choose_values import Aim

Piece = Part | Singles

AnyFrontier = Frontier | SinglePoint

NO_LIMIT = 1 << 60
"""More blood than any draw."""

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


class _Node:
    """
    Caps piece by piece, in a best-first search.

    Args:
        bound: objectives that it cannot beat.
        points: its points once they are worked out.
        exact: whether ``bound`` is what they come to.
    """

    __slots__ = ("bound", "caps", "exact", "points")

    def __init__(self, bound: tuple[int, int, int], caps: list[Caps]) -> None:
        self.bound = bound
        self.caps = caps
        self.points: Points | None = None
        self.exact = False


def _share_out(pieces: list[Piece], shelf: Shelf, aim: Aim, limit: int | None) -> Points | None:
    """
    The optimum where containers are short: best-first over caps piece by piece.

    What a node comes to is worked out step by step as it comes to the front: nothing, then tubes
    and blood, then the preference.
    """
    start: list[Caps] = [
        {c: n for c, n in shelf.limited.items() if piece.may_use(c) > n} for piece in pieces
    ]
    root = _Node((0, 0, 0), start)
    heap: list[tuple[tuple[int, int, int], int, _Node]] = [(root.bound, 0, root)]
    seen: set[tuple[tuple[tuple[str, int], ...], ...]] = set()
    serial = 0
    while heap:
        node = heappop(heap)[2]
        if node.exact and node.points is not None:
            short = _short(node.points, shelf)
            if short is None:
                return node.points
            children = _branch(short, node, shelf)
        elif _advance(node, pieces, aim, limit):
            children = [node]
        else:
            continue
        for child in children:
            if child is not node:
                key = tuple(tuple(sorted(cap.items())) for cap in child.caps)
                if key in seen:
                    continue
                seen.add(key)
            serial += 1
            heappush(heap, (child.bound, serial, child))
    return None


def _advance(node: _Node, pieces: list[Piece], aim: Aim, limit: int | None) -> bool:
    """Work out one more of a node's objectives; False when it has no answer."""
    if node.points is None:
        node.points = _sum_up(pieces, node.caps, aim, limit)
        if node.points is None:
            return False
        tubes = sum([point.tubes for point in node.points])
        blood = sum([point.blood for point in node.points])
        first, second = (blood, tubes) if aim is Aim.LEAST_BLOOD else (tubes, blood)
        node.bound = max(node.bound, (first, second, 0))
    else:
        preference = sum([point.preference for point in node.points])
        node.bound = (node.bound[0], node.bound[1], preference)
        node.exact = True
    return True


def _branch(container: str, node: _Node, shelf: Shelf) -> list[_Node]:
    """One of the pieces has to take less of a container that is short."""
    children = []
    for i, point in enumerate(node.points or []):
        taken = sum(1 for kind, _ in point.layout if shelf.container[kind] == container)
        if taken:
            caps = list(node.caps)
            caps[i] = {**caps[i], container: taken - 1}
            children.append(_Node(node.bound, caps))
    return children


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
