"""
The exact frontier of one part: for each number of tubes the least blood, then the best preference.

Only points that draw less blood than every point of fewer tubes count.  A part is solved level by
level (``level`` = number of tubes): the multisets of kinds that could hold the part are found from
lower bounds, and tried in the order of their bounds until none can beat what was packed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from cubital.draw.choose_greedy import some_blood
from cubital.draw.choose_level import NEVER, Layout, Level
from cubital.draw.choose_model import Model, build_model
from cubital.draw.choose_question import NeedClass, Shelf

PATIENCE = 100
"""States of a search that are looked at before a level is put off."""

Caps = Mapping[str, int]
"""Most tubes of a container that a part may open; one that is missing is without limit."""


class Point:
    """
    A number of tubes and the least blood that they draw; the preference is found when asked for.

    Args:
        tubes, blood: of the point.
        level: where the preference can be found; None when it is given.
    """

    __slots__ = ("_found", "_level", "blood", "tubes")

    def __init__(
        self, tubes: int, blood: int, found: tuple[int, Layout] | None, level: Level | None = None
    ) -> None:
        self.tubes = tubes
        self.blood = blood
        self._found = found
        self._level = level

    def _find(self) -> tuple[int, Layout]:
        if self._found is None:
            assert self._level is not None
            self._found = self._level.best()
        return self._found

    @property
    def preference(self) -> int:
        """The best sum of ranks at that blood."""
        return self._find()[0]

    @property
    def layout(self) -> Layout:
        """Tubes that reach it."""
        return self._find()[1]

    @property
    def any_layout(self) -> Layout:
        """Tubes that draw that blood, whatever the preference."""
        if self._found is None and self._level is not None:
            return self._level.layout
        return self._find()[1]


class Part:
    """
    One part and what is known of its frontier.

    Args:
        classes: its needs.
        shelf: the kinds.
    """

    __slots__ = ("_frontiers", "_users", "classes", "count", "mask", "shelf", "volume")

    def __init__(self, classes: list[NeedClass], shelf: Shelf) -> None:
        self.classes = classes
        self.shelf = shelf
        self._users: Counter[str] | None = None
        self.volume = 0
        self.count = 0
        self.mask = 0
        for one in classes:
            self.count += len(one.members)
            self.mask |= one.mask
            for member in one.members:
                self.volume += member[0]
        self._frontiers: dict[tuple[tuple[str, int], ...], Frontier] = {}

    def may_use(self, container: str) -> int:
        """How many tubes of a container it could take."""
        if self._users is None:
            self._users = Counter()
            for one in self.classes:
                for name in {self.shelf.container[kind] for kind in one.ranks}:
                    self._users[name] += len(one.members)
        return self._users[container]

    def frontier(self, caps: Caps) -> Frontier:
        """The frontier within caps, kept for the next time."""
        key = tuple(sorted(caps.items())) if caps else ()
        known = self._frontiers.get(key)
        if known is None:
            known = self._frontiers[key] = Frontier(self, caps)
        return known


class Frontier:
    """
    The points of a part within caps, found when asked for.

    A ceiling is blood above which a point is of no use.
    """

    __slots__ = ("_first", "_floors", "_least", "_model", "_one", "_points", "caps", "part")

    def __init__(self, part: Part, caps: Caps) -> None:
        self.part = part
        self.caps = caps
        self._model: Model | None = None
        self._one = self._one_tube()
        self._first: tuple[Point | None] | None = None
        self._least: tuple[int, Point | None] | None = None
        self._points: tuple[int, list[Point]] | None = None
        self._floors: tuple[int, int] | None = None

    def _one_tube(self) -> Point | None:
        """One tube for all: the usual case, without any search."""
        part, shelf = self.part, self.part.shelf
        volume, count = part.volume, part.count
        room, slots, free, base = shelf.room, shelf.slots, shelf.free, shelf.base
        common = part.classes[0].mask
        for one in part.classes:
            common &= one.mask
        best: tuple[int, int, int] | None = None
        for kind in part.classes[0].ranks:
            if not common >> kind & 1 or room[kind] < volume or slots[kind] < count:
                continue
            over = volume - free[kind]
            blood = base[kind] + over if over > 0 else base[kind]
            if best is not None and blood > best[0]:
                continue
            if self.caps and self.caps.get(shelf.container[kind], 1) < 1:
                continue
            rank = sum(one.ranks[kind] * len(one.members) for one in part.classes)
            if best is None or (blood, rank, kind) < best:
                best = (blood, rank, kind)
        if best is not None:
            everything = [i for one in part.classes for _, i in one.members]
            return Point(1, best[0], (best[1], [(best[2], everything)]))
        return None

    def first(self) -> Point | None:
        """The point of fewest tubes; None when the part cannot be served within the caps."""
        if self._one is not None:
            return self._one
        if self._first is None:
            self._first = (self._find_first(),)
        return self._first[0]

    def least(self, ceiling: int) -> Point | None:
        """The point of least blood; None when there is none up to the ceiling."""
        known = self._least
        if known is None or (known[1] is None and known[0] < ceiling):
            known = self._least = (ceiling, self._find_least(ceiling))
        point = known[1]
        return point if point is not None and point.blood <= ceiling else None

    def points(self, ceiling: int) -> list[Point]:
        """Every point up to the ceiling, the fewest tubes first."""
        if self._points is None or self._points[0] < ceiling:
            self._points = (ceiling, self._find_points(ceiling))
        return [point for point in self._points[1] if point.blood <= ceiling]

    def floor(self) -> int:
        """A quick bound on the least blood."""
        return self._floor(1)

    def _floor(self, tubes: int) -> int:
        """A quick bound: the least that so many tubes can draw."""
        if self._floors is None:
            shelf, mask = self.part.shelf, self.part.mask
            kinds = [k for k in range(mask.bit_length()) if mask >> k & 1]
            base = min([shelf.base[k] for k in kinds])
            self._floors = base, min([shelf.base[k] - shelf.free[k] for k in kinds])
        base, dead = self._floors
        return max(tubes * base, self.part.volume + tubes * dead)

    def _model_of(self) -> Model:
        if self._model is None:
            self._model = build_model(self.part.classes, self.part.shelf, self.caps)
        return self._model

    def _over(self, tubes: int, below: int) -> bool:
        """Whether no more than so many tubes are of use, or all draw ``below`` at least."""
        if self._floor(tubes) >= below:
            return True
        model = self._model_of()
        return tubes > model.most_tubes or model.floor(tubes) >= below

    def _find_first(self) -> Point | None:
        tubes = 2
        while not self._over(tubes, NEVER):
            model = self._model_of()
            some = some_blood(model)
            # low ceilings leave little to look at
            for below in (None,) if some is None else (some + 1, 3 * some, None):
                level = Level(model, tubes, below)
                level.settle(NEVER if below is None else below)
                if level.blood < NEVER:
                    return Point(tubes, level.blood, None, level)
            tubes += 1
        return None

    def _find_points(self, ceiling: int) -> list[Point]:
        points: list[Point] = []
        below = ceiling + 1
        if self._one is not None and self._one.blood < below:
            points.append(self._one)
            below = self._one.blood
        tubes = 2
        while not self._over(tubes, below):
            level = Level(self._model_of(), tubes, below)
            level.settle(below)
            if level.blood < below:
                points.append(Point(tubes, level.blood, None, level))
                below = level.blood
            tubes += 1
        return points

    def _find_least(self, ceiling: int) -> Point | None:
        """
        The point of least blood, without working out the points before it where they are hard.

        Levels that need patience are put off: a later level may draw less anyway.
        """
        best: Point | None = None
        below = ceiling + 1
        if self._one is not None and self._one.blood < below:
            best = self._one
            below = best.blood
        put_off: list[Level] = []
        tubes = 2
        while not self._over(tubes, below):
            model = self._model_of()
            if best is None and tubes == 2:
                some = some_blood(model)
                if some is not None:
                    below = min(below, some + 1)
            level = Level(model, tubes, below)
            level.settle(below, PATIENCE)
            if level.blood < below:
                below = level.blood
                best = Point(tubes, below, None, level)
            if not level.settled:
                put_off.append(level)
            tubes += 1
        for patience in (20 * PATIENCE, None):
            put_off.sort(key=lambda level: (level.floor, level.tubes))
            for level in put_off:
                # as little blood in fewer tubes is better too
                earlier = best is not None and level.tubes < best.tubes
                level.settle(below + 1 if earlier else below, patience)
                if level.blood < below or (level.blood == below and earlier):
                    below = level.blood
                    best = Point(level.tubes, below, None, level)
            put_off = [level for level in put_off if not level.settled]
        return best
