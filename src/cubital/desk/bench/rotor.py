"""
A loaded rotor drawn as an SVG: places around a circle, the first on top, clockwise.

Only geometry, in the units of the drawing.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from cubital.bench import Seat
from cubital.desk.reception.shown import TubeShown

SIZE = 460
MIDDLE = SIZE / 2
RING = 172
HOLE = 22.0
SHORT = 5


@dataclass(frozen=True, slots=True)
class Hole:
    """
    A place of the rotor.

    Args:
        place: from 1.
        kind: ``tube``, ``balance`` or ``empty``.
        x, y: its middle.
        word_x, word_y: where its number stands.
        rgb, ink: of the closure, "" where there is none.
        short: last characters of the specimen's number.
        code: the whole number.
        what: container and fill, what a balance tube must match.
        opposite: the place across the axis, 0 in a rotor of an odd number.
    """

    place: int
    kind: str
    x: float
    y: float
    word_x: float
    word_y: float
    radius: float
    rgb: str
    ink: str
    short: str
    code: str
    what: str
    opposite: int


@dataclass(frozen=True, slots=True)
class Drawn:
    """A rotor with its places."""

    size: int
    middle: float
    ring: int
    holes: tuple[Hole, ...]
    font: float

    @property
    def taken(self) -> tuple[Hole, ...]:
        """Places with something in them."""
        return tuple(hole for hole in self.holes if hole.kind != "empty")

    @property
    def balance(self) -> tuple[Hole, ...]:
        """Places with a balance tube."""
        return tuple(hole for hole in self.holes if hole.kind == "balance")


def drawn(seats: Sequence[Seat], places: int, tubes: Mapping[str, TubeShown]) -> Drawn:
    """
    Lay out a rotor.

    Args:
        seats: that are taken.
        places: of the rotor, at least as many as the highest seat.
        tubes: specimen -> how its container looks.
    """
    count = max(places, *(seat.place for seat in seats), 1) if seats else max(places, 1)
    by_place = {seat.place: seat for seat in seats}
    radius = min(HOLE, math.pi * RING / count * 0.86)
    return Drawn(
        size=SIZE,
        middle=MIDDLE,
        ring=RING,
        holes=tuple(
            hole(place, count, by_place.get(place), tubes, radius) for place in range(1, count + 1)
        ),
        font=round(max(8.0, radius * 0.58), 1),
    )


def hole(
    place: int, count: int, seat: Seat | None, tubes: Mapping[str, TubeShown], radius: float
) -> Hole:
    """One place."""
    angle = 2 * math.pi * (place - 1) / count - math.pi / 2
    beyond = RING + radius + 15
    tube = tubes.get(seat.specimen) if seat is not None else None
    code = seat.specimen if seat is not None else ""
    kind = "empty" if seat is None else "tube" if code else "balance"
    return Hole(
        place=place,
        kind=kind,
        x=round(MIDDLE + RING * math.cos(angle), 1),
        y=round(MIDDLE + RING * math.sin(angle), 1),
        word_x=round(MIDDLE + beyond * math.cos(angle), 1),
        word_y=round(MIDDLE + beyond * math.sin(angle) + 5, 1),
        radius=round(radius, 1),
        rgb=tube.rgb if tube is not None else "",
        ink=tube.ink if tube is not None else "",
        short=code[-SHORT:],
        code=code,
        what=seat.kind if seat is not None else "",
        opposite=(place - 1 + count // 2) % count + 1 if count % 2 == 0 else 0,
    )
