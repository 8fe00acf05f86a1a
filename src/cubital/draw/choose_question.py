"""
Read a container question into parts that share no kind of container.

Needs whose kinds and volumes leave them the same choice are one *class*; classes that share a kind
stand in one *part*.  A need that is alone in its tube whatever happens (``own_tube``, no kind that
holds two, nobody to share with) is a *single*: all singles together are one part of their own.
Parts touch only through the stock of a container and the blood limit.

Volumes are whole µL of blood.  What a tube of a kind draws for the volume ``s`` in it is
``base + max(0, s - free)`` with ``base = max(fill_min, dead)`` and ``free = max(0, fill_min -
dead)``; it holds ``room = fill_max - dead``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from cubital.draw.choose_values import Kind, Need

NEVER = -1
"""Room of a kind that cannot be used at all."""

Member = tuple[int, int]
"""(volume, index of the need)."""


class Shelf:
    """
    The kinds, a column a list.

    Args:
        kinds: as asked.
        stock: containers on hand; one that is missing is without limit.
        needs: how many needs there are: a stock that serves them all is no limit.
    """

    __slots__ = ("base", "container", "free", "limited", "room", "slots")

    def __init__(self, kinds: Sequence[Kind], stock: Mapping[str, int] | None, needs: int) -> None:
        low = [kind.fill_min_ul for kind in kinds]
        high = [kind.fill_max_ul for kind in kinds]
        dead = [kind.dead_ul for kind in kinds]
        self.container = [kind.container for kind in kinds]
        self.slots = [kind.max_tests for kind in kinds]
        self.base = list(map(max, low, dead))
        self.free = [a - d if a > d else 0 for a, d in zip(low, dead, strict=True)]
        self.room = [
            b - d if b >= a and n > 0 else NEVER
            for a, b, d, n in zip(low, high, dead, self.slots, strict=True)
        ]
        self.limited: dict[str, int] = {}
        if stock is not None:
            self._limit(stock, needs)

    def _limit(self, stock: Mapping[str, int], needs: int) -> None:
        """Remember the stocks that may bind, and shut the kinds whose container is out."""
        for k, container in enumerate(self.container):
            count = stock.get(container, needs)
            if count < needs:
                self.limited[container] = count
                if count <= 0:
                    self.room[k] = NEVER

    def draws(self, kind: int, volume: int) -> int:
        """Blood that a tube of a kind draws for so much volume."""
        over = volume - self.free[kind]
        return self.base[kind] + over if over > 0 else self.base[kind]


class NeedClass:
    """
    Needs with the same choice of kinds.

    Args:
        mask: bit k is set when kind k will do.
        ranks: kind -> rank.
        members: (volume, index), the largest first.
    """

    __slots__ = ("mask", "members", "ranks")

    def __init__(self, mask: int, ranks: dict[int, int], members: list[Member]) -> None:
        self.mask = mask
        self.ranks = ranks
        self.members = members


Single = tuple[int, int, dict[int, int]]
"""(index of the need, volume, kind -> rank)."""


class Question:
    """
    A question taken apart.

    Args:
        shelf: the kinds.
        singles: needs that are alone in their tube.
        parts: classes that may share tubes, part by part.
        hopeless: needs that no kind can serve.
    """

    __slots__ = ("hopeless", "parts", "shelf", "singles")

    def __init__(self, shelf: Shelf) -> None:
        self.shelf = shelf
        self.singles: list[Single] = []
        self.parts: list[list[NeedClass]] = []
        self.hopeless: list[int] = []

    def narrowed(self, served: frozenset[int]) -> Question:
        """The question of some of the needs, with the same shelf."""
        some = Question(self.shelf)
        some.hopeless = [i for i in self.hopeless if i in served]
        some.singles = [single for single in self.singles if single[0] in served]
        classes: list[NeedClass] = []
        for part in self.parts:
            for one in part:
                members = [member for member in one.members if member[1] in served]
                if members:
                    classes.append(NeedClass(one.mask, one.ranks, members))
        for part in _split(classes):
            _add_part(some, part)
        return some


def read_question(
    needs: Sequence[Need], kinds: Sequence[Kind], stock: Mapping[str, int] | None
) -> Question:
    """
    Take a question apart.

    Raises:
        ValueError: a need names a kind that is not there, or a volume is not positive.
    """
    shelf = Shelf(kinds, stock, len(needs))
    question = Question(shelf)
    alike: dict[tuple[tuple[int, int], ...], list[Member]] = {}
    for i, need in enumerate(needs):
        volume = need.volume_ul
        if volume <= 0:
            raise ValueError(f"need {i} ({need.test}): a volume of {volume} µL is not positive")
        if need.own_tube:
            _add_single(question, i, volume, _ranks(need.kinds, i, shelf))
        else:
            members = alike.get(need.kinds)
            if members is None:
                alike[need.kinds] = [(volume, i)]
            else:
                members.append((volume, i))
    classes: list[NeedClass] = []
    for pairs, members in alike.items():
        members.sort(reverse=True)
        _add_classes(classes, _ranks(pairs, members[0][1], shelf), members, question)
    for part in _split(classes):
        _add_part(question, part)
    return question


def _ranks(pairs: tuple[tuple[int, int], ...], index: int, shelf: Shelf) -> dict[int, int]:
    """
    Kind -> rank, of the kinds that can be used; the better rank where a kind is named twice.

    Raises:
        ValueError: a kind is not there, or a rank is negative.
    """
    room = shelf.room
    ranks: dict[int, int] = {}
    for kind, rank in pairs:
        if not 0 <= kind < len(room):
            raise ValueError(f"need {index}: there is no kind {kind}")
        if rank < 0:
            raise ValueError(f"need {index}: a rank of {rank} is below 0, which is best")
        if room[kind] > 0 and (kind not in ranks or rank < ranks[kind]):
            ranks[kind] = rank
    return ranks


def _add_single(question: Question, index: int, volume: int, ranks: dict[int, int]) -> None:
    room = question.shelf.room
    fits = {kind: rank for kind, rank in ranks.items() if room[kind] >= volume}
    if fits:
        question.singles.append((index, volume, fits))
    else:
        question.hopeless.append(index)


def _add_classes(
    classes: list[NeedClass], ranks: dict[int, int], members: list[Member], question: Question
) -> None:
    """Add the needs that named the same kinds: several classes when some are large for a kind."""
    room = question.shelf.room
    largest = members[0][0]
    small = [kind for kind in ranks if room[kind] < largest]
    groups: dict[int, tuple[dict[int, int], list[Member]]] = {}
    if not small and ranks:
        groups[_mask(ranks)] = (ranks, members)
    else:
        for member in members:
            fits = {kind: rank for kind, rank in ranks.items() if room[kind] >= member[0]}
            if fits:
                groups.setdefault(_mask(fits), (fits, []))[1].append(member)
            else:
                question.hopeless.append(member[1])
    for mask, (fits, some) in groups.items():
        classes.append(NeedClass(mask, fits, some))


def _mask(kinds: dict[int, int]) -> int:
    mask = 0
    for kind in kinds:
        mask |= 1 << kind
    return mask


def _split(classes: list[NeedClass]) -> list[list[NeedClass]]:
    """The classes, apart where they share no kind."""
    parts: list[tuple[int, list[NeedClass]]] = []
    for one in classes:
        mask, together = one.mask, [one]
        apart = []
        for part in parts:
            if part[0] & one.mask:
                mask |= part[0]
                together = part[1] + together
            else:
                apart.append(part)
        apart.append((mask, together))
        parts = apart
    return [part[1] for part in parts]


def _add_part(question: Question, part: list[NeedClass]) -> None:
    """Add a part, or its needs as singles where no tube can be shared."""
    slots = question.shelf.slots
    if len(part) == 1 and len(part[0].members) == 1:
        volume, index = part[0].members[0]
        question.singles.append((index, volume, part[0].ranks))
    elif any(slots[kind] > 1 for one in part for kind in one.ranks):
        question.parts.append(part)
    else:
        for one in part:
            question.singles += [(index, volume, one.ranks) for volume, index in one.members]
