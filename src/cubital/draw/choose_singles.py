"""
Needs that are alone in their tube: each takes its best kind, or they share out a short stock.

The number of tubes is given, so only the blood and then the preference are to be chosen.  Under
caps on containers that is a transport problem.
"""

from __future__ import annotations

from cubital.draw.choose_part import Caps, Point
from cubital.draw.choose_question import Shelf, Single
from cubital.draw.choose_share import share_out

RANK_BITS = 40
"""A price is the blood, shifted by so many bits, and the rank: the blood counts first."""


class Singles:
    """
    The single needs of a question.

    Args:
        singles: (index, volume, kind -> rank).
        shelf: the kinds.
    """

    __slots__ = ("_kept", "shelf", "singles")

    def __init__(self, singles: list[Single], shelf: Shelf) -> None:
        self.singles = singles
        self.shelf = shelf
        self._kept: dict[tuple[tuple[str, int], ...], SinglePoint] = {}

    def may_use(self, container: str) -> int:
        """How many tubes of a container they could take."""
        names = self.shelf.container
        return sum([container in {names[k] for k in ranks} for _, _, ranks in self.singles])

    def frontier(self, caps: Caps) -> SinglePoint:
        """The one point that there is."""
        key = tuple(sorted(caps.items())) if caps else ()
        kept = self._kept.get(key)
        if kept is None:
            kept = self._kept[key] = SinglePoint(self, caps)
        return kept


class SinglePoint:
    """A frontier of one point, or none."""

    __slots__ = ("_point",)

    def __init__(self, singles: Singles, caps: Caps) -> None:
        self._point = _within(singles, caps) if caps else _freely(singles)

    def first(self) -> Point | None:
        """The point."""
        return self._point

    def least(self, ceiling: int) -> Point | None:
        """The same point, up to the ceiling."""
        point = self._point
        return point if point is not None and point.blood <= ceiling else None

    def points(self, ceiling: int) -> list[Point]:
        """The one point, if any."""
        point = self.least(ceiling)
        return [] if point is None else [point]

    def floor(self) -> int:
        """The least blood."""
        return self._point.blood if self._point is not None else 0


def _freely(singles: Singles) -> Point:
    base, free = singles.shelf.base, singles.shelf.free
    blood = preference = 0
    layout: list[tuple[int, list[int]]] = []
    for index, volume, ranks in singles.singles:
        least = best = kind = -1
        for k, rank in ranks.items():
            over = volume - free[k]
            draw = base[k] + over if over > 0 else base[k]
            if kind < 0 or draw < least or (draw == least and (rank, k) < (best, kind)):
                least, best, kind = draw, rank, k
        blood += least
        preference += best
        layout.append((kind, [index]))
    return Point(len(layout), blood, (preference, layout))


def _within(singles: Singles, caps: Caps) -> Point | None:
    """Containers are shared out at the least price: the blood first, then the rank."""
    shelf = singles.shelf
    offers = [_offers(single, shelf, caps) for single in singles.singles]
    containers = sorted({container for offer in offers for container in offer})
    place = {container: p for p, container in enumerate(containers)}
    lots = [
        (1, {place[c]: (blood << RANK_BITS) + rank for c, (blood, rank, _) in offer.items()})
        for offer in offers
    ]
    shares = share_out(lots, [caps.get(c, len(offers)) for c in containers])
    if shares is None:
        return None
    layout: list[tuple[int, list[int]]] = []
    blood = preference = 0
    for (index, _, _), offer, share in zip(singles.singles, offers, shares, strict=True):
        draw, rank, kind = offer[containers[next(iter(share))]]
        blood += draw
        preference += rank
        layout.append((kind, [index]))
    return Point(len(layout), blood, (preference, layout))


def _offers(single: Single, shelf: Shelf, caps: Caps) -> dict[str, tuple[int, int, int]]:
    """Container -> best (blood, rank, kind) for a need."""
    _, volume, ranks = single
    best: dict[str, tuple[int, int, int]] = {}
    for k, rank in ranks.items():
        container = shelf.container[k]
        if caps.get(container, 1) > 0:
            offer = (shelf.draws(k, volume), rank, k)
            if container not in best or offer < best[container]:
                best[container] = offer
    return best
