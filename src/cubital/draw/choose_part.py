"""
The exact frontier of one part: for each number of tubes the least blood, then the best preference.

Only points that draw less blood than every point of fewer tubes count.  A part is solved level by
level (``level`` = number of tubes): the multisets of kinds that could hold the part are found from
lower bounds, and tried in the order of their bounds until none can beat what was packed.
"""

from __future__ import annotations

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


class Part:
    """
    One part and what is known of its frontier.

    Args:
        classes: its needs.
        shelf: the kinds.
    """

    __slots__ = ("_frontiers", "classes", "count", "mask", "shelf", "volume")

    def __init__(self, classes: list[NeedClass], shelf: Shelf) -> None:
        self.classes = classes
        self.shelf = shelf
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
        names = self.shelf.container
        return sum(
            len(one.members)
            for one in self.classes
            if any(names[kind] == container for kind in one.ranks)
        )

    def frontier(self, caps: Caps) -> Frontier:
        """The frontier within caps, kept for the next time."""
        key = tuple(sorted(caps.items())) if caps else ()
        known = self._frontiers.get(key)
        if known is None:
            known = self._frontiers[key] = Frontier(self, caps)
        return known


class Frontier:
    """The points of a part within caps, found one by one, fewest tubes first."""

    __slots__ = ("_least", "_least_known", "_level", "_model", "caps", "complete", "part", "points")

    def __init__(self, part: Part, caps: Caps) -> None:
        self.part = part
        self.caps = caps
        self.points: list[Point] = []
        self.complete = False
        self._level = 1
        self._model: Model | None = None
        self._least: Point | None = None
        self._least_known = False
        self._one_tube()

    def _one_tube(self) -> None:
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
            self.points.append(Point(1, best[0], (best[1], [(best[2], everything)])))
        self._level = 2

    def first(self) -> Point | None:
        """The point of fewest tubes; None when the part cannot be served within the caps."""
        while not self.points and not self.complete:
            self._deepen()
        return self.points[0] if self.points else None

    def least(self) -> Point | None:
        """The point of least blood; None when the part cannot be served within the caps."""
        if not self._least_known:
            self._least = self._find_least()
            self._least_known = True
        return self._least

    def all_points(self) -> list[Point]:
        """Every point, the fewest tubes first."""
        while not self.complete:
            self._deepen()
        return self.points

    def _find_least(self) -> Point | None:
        """
        The point of least blood, without working out the points before it where they are hard.

        Levels that need patience are put off: a later level may draw less anyway.
        """
        best = self.points[-1] if self.points else None
        blood = best.blood if best is not None else NEVER
        put_off: list[Level] = []
        tubes = self._level
        while not self.complete:
            if self._floor(tubes) >= blood:
                break
            model = self._model_of()
            if tubes > model.most_tubes or model.floor(tubes) >= blood:
                break
            if best is None and blood == NEVER:
                some = some_blood(model)
                if some is not None:
                    blood = some + 1
            level = Level(model, tubes, None if blood == NEVER else blood)
            level.settle(blood, PATIENCE)
            if level.blood < blood:
                blood = level.blood
                best = Point(tubes, blood, None, level)
            if not level.settled:
                put_off.append(level)
            tubes += 1
        for level in sorted(put_off, key=lambda level: (level.floor, level.tubes)):
            earlier = best is not None and level.tubes < best.tubes
            level.settle(blood + 1 if earlier else blood)
            if level.blood < blood or (level.blood == blood and earlier):
                blood = level.blood
                best = Point(level.tubes, blood, None, level)
        return best

    def _model_of(self) -> Model:
        if self._model is None:
            self._model = build_model(self.part.classes, self.part.shelf, self.caps)
        return self._model

    def _deepen(self) -> None:
        """Look at the next number of tubes."""
        known = self.points[-1].blood if self.points else None
        tubes = self._level
        if known is not None and self._floor(tubes) >= known:
            self.complete = True
            return
        model = self._model_of()
        if tubes > model.most_tubes or (known is not None and model.floor(tubes) >= known):
            self.complete = True
            return
        for below in [known] if known is not None else self._ceilings():
            level = Level(model, tubes, below)
            level.settle(NEVER if below is None else below)
            if level.blood < NEVER:
                self.points.append(Point(tubes, level.blood, None, level))
                break
        self._level += 1

    def _ceilings(self) -> list[int | None]:
        """Ceilings on the blood to try one after the other: low ones leave little to look at."""
        some = some_blood(self._model_of())
        return [None] if some is None else [some + 1, 3 * some, None]

    def floor(self) -> int:
        """A quick bound on the least blood."""
        return self.points[-1].blood if self.complete and self.points else self._floor(1)

    def _floor(self, tubes: int) -> int:
        """A quick bound: the least that so many tubes can draw."""
        shelf, mask = self.part.shelf, self.part.mask
        kinds = [k for k in range(mask.bit_length()) if mask >> k & 1]
        base = min(shelf.base[k] for k in kinds)
        dead = min(shelf.base[k] - shelf.free[k] for k in kinds)
        return max(tubes * base, self.part.volume + tubes * dead)
