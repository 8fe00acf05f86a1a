"""
Join the parts of a question under the stock of containers and the blood limit.

Where the parts together take more of a container than there is, the question branches: in every
solution one of the parts takes less of it than now.
"""

from __future__ import annotations

from collections.abc import Sequence
from heapq import heappop, heappush

from cubital.draw.choose_level import Layout
from cubital.draw.choose_part import Caps, Part
from cubital.draw.choose_question import NeedClass, Question, Shelf
from cubital.draw.choose_singles import Singles
from cubital.draw.choose_sum import Piece, Points, sum_up
from cubital.draw.choose_values import Aim


def join(question: Question, aim: Aim, limit: int | None) -> Points | None:
    """The optimum as one point a piece, or None."""
    if question.hopeless:
        return None
    shelf = question.shelf
    pieces: list[Piece] = [Part(part, shelf) for part in question.parts]
    if question.singles:
        pieces.append(Singles(question.singles, shelf))
    if not shelf.limited:
        return sum_up(pieces, [{}] * len(pieces), aim, limit)
    return _share_out(pieces, shelf, aim, limit, ranked=True)


class Servable:
    """
    Whether some of a question's needs can be served; parts that come again are known.

    Args:
        question: all needs.
        limit: blood limit, or None.
    """

    def __init__(self, question: Question, limit: int | None) -> None:
        self._question = question
        self._limit = limit
        self._parts: dict[tuple[tuple[int, ...], ...], Part] = {}

    def __call__(self, served: frozenset[int]) -> bool:
        """Whether these needs can be served together."""
        question = self._question.narrowed(served)
        if question.hopeless:
            return False
        pieces: list[Piece] = [self._part(part) for part in question.parts]
        if question.singles:
            pieces.append(Singles(question.singles, question.shelf))
        aim = Aim.LEAST_BLOOD
        if not question.shelf.limited:
            return sum_up(pieces, [{}] * len(pieces), aim, self._limit) is not None
        return _share_out(pieces, question.shelf, aim, self._limit, ranked=False) is not None

    def _part(self, classes: list[NeedClass]) -> Part:
        key = tuple(sorted(tuple(sorted([i for _, i in one.members])) for one in classes))
        part = self._parts.get(key)
        if part is None:
            part = self._parts[key] = Part(classes, self._question.shelf)
        return part


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


def _share_out(
    pieces: Sequence[Piece], shelf: Shelf, aim: Aim, limit: int | None, *, ranked: bool
) -> Points | None:
    """
    The optimum where containers are short: best-first over caps piece by piece.

    What a node comes to is worked out step by step as it comes to the front: nothing, then tubes
    and blood, then the preference unless it does not count.
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
        if node.points is not None and (node.exact or not ranked):
            layouts = [point.layout if ranked else point.any_layout for point in node.points]
            short = _short(layouts, shelf)
            if short is None:
                return node.points
            children = _branch(short, node, layouts, shelf)
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


def _advance(node: _Node, pieces: Sequence[Piece], aim: Aim, limit: int | None) -> bool:
    """Work out one more of a node's objectives; False when it has no answer."""
    if node.points is None:
        node.points = sum_up(pieces, node.caps, aim, limit)
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


def _branch(container: str, node: _Node, layouts: list[Layout], shelf: Shelf) -> list[_Node]:
    """One of the pieces has to take less of a container that is short."""
    children = []
    for i, layout in enumerate(layouts):
        taken = sum(1 for kind, _ in layout if shelf.container[kind] == container)
        if taken:
            caps = list(node.caps)
            caps[i] = {**caps[i], container: taken - 1}
            children.append(_Node(node.bound, caps))
    return children


def _short(layouts: list[Layout], shelf: Shelf) -> str | None:
    """A container of which more is taken than there is."""
    left = dict(shelf.limited)
    for layout in layouts:
        for kind, _ in layout:
            container = shelf.container[kind]
            if container in left:
                left[container] -= 1
                if left[container] < 0:
                    return container
    return None
