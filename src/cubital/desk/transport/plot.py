"""
A temperature log drawn as an SVG: the allowed band, the line, and what lies outside of it.

Only geometry, in the units of the drawing; what is allowed and what is an excursion say the tables
and the core.  No script and no style of its own: classes and attributes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from cubital.transport import Excursion, Reading

WIDTH, HEIGHT = 960, 380
LEFT, RIGHT, TOP, BOTTOM = 58, 18, 18, 46
MOST_POINTS = 900
MINUTES = (1, 2, 5, 10, 15, 30, 60, 120, 180, 360, 720, 1440)
DEGREES = (1, 2, 5, 10, 20, 50)
MOST_TICKS = 8


@dataclass(frozen=True, slots=True)
class Tick:
    """A line of the grid with its word."""

    at: float
    word: str


@dataclass(frozen=True, slots=True)
class Outside:
    """An excursion: its area, and where its number stands."""

    points: str
    number: int
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Plot:
    """Everything the template draws."""

    width: int
    height: int
    left: int
    right: float
    top: int
    bottom: float
    lines: tuple[str, ...]
    gaps: tuple[tuple[float, float, float, float], ...]
    band_y: float
    band_height: float
    band_width: float
    band_word_y: float
    outside: tuple[Outside, ...]
    times: tuple[Tick, ...]
    degrees: tuple[Tick, ...]


class Scale:
    """Moments and degrees as places in the drawing."""

    def __init__(self, readings: Sequence[Reading], low_c: float, high_c: float) -> None:
        self.begin, self.end = readings[0].at, readings[-1].at
        self.span = max((self.end - self.begin) / timedelta(seconds=1), 1.0)
        coldest = min(low_c, *(each.celsius for each in readings))
        warmest = max(high_c, *(each.celsius for each in readings))
        room = max((warmest - coldest) * 0.08, 0.5)
        self.low, self.high = coldest - room, warmest + room

    def x(self, moment: datetime) -> float:
        """Across."""
        share = (moment - self.begin) / timedelta(seconds=1) / self.span
        return round(LEFT + share * (WIDTH - LEFT - RIGHT), 1)

    def y(self, celsius: float) -> float:
        """Down."""
        kept = min(max(celsius, self.low), self.high)
        share = (self.high - kept) / (self.high - self.low)
        return round(TOP + share * (HEIGHT - TOP - BOTTOM), 1)

    def point(self, moment: datetime, celsius: float) -> str:
        """Both, as SVG writes them."""
        return f"{self.x(moment)},{self.y(celsius)}"


def plot(
    readings: Sequence[Reading],
    low_c: float,
    high_c: float,
    excursions: Sequence[Excursion],
    zone: ZoneInfo,
    *,
    gap_factor: float,
) -> Plot:
    """
    Lay out a log.

    Args:
        readings: at least two, in the order of time.
        low_c: lower end of the allowed band.
        high_c: upper end of the allowed band.
        excursions: as the core found them, numbered from 1 in this order.
        zone: in which times are written.
        gap_factor: a pause longer than so many usual steps is drawn as a gap.
    """
    scale = Scale(readings, low_c, high_c)
    parts = whole_parts(readings, gap_factor)
    band_y, band_end = scale.y(high_c), scale.y(low_c)
    return Plot(
        width=WIDTH,
        height=HEIGHT,
        left=LEFT,
        right=WIDTH - RIGHT,
        top=TOP,
        bottom=HEIGHT - BOTTOM,
        lines=tuple(
            " ".join(scale.point(each.at, each.celsius) for each in thinned(part)) for part in parts
        ),
        gaps=tuple(
            (scale.x(a[-1].at), scale.y(a[-1].celsius), scale.x(b[0].at), scale.y(b[0].celsius))
            for a, b in pairwise(parts)
        ),
        band_y=band_y,
        band_height=round(band_end - band_y, 1),
        band_width=WIDTH - LEFT - RIGHT,
        band_word_y=round(min(band_y + 16, band_end - 4), 1),
        outside=tuple(
            outside(each, number, readings, scale, high_c if each.above else low_c)
            for number, each in enumerate(excursions, start=1)
        ),
        times=times(scale, zone),
        degrees=degrees(scale),
    )


def whole_parts(readings: Sequence[Reading], gap_factor: float) -> list[list[Reading]]:
    """Cut a log where nothing was written for much longer than usual."""
    steps = sorted(b.at - a.at for a, b in pairwise(readings))
    longest = steps[len(steps) // 2] * gap_factor
    parts = [[readings[0]]]
    for a, b in pairwise(readings):
        if longest and b.at - a.at > longest:
            parts.append([])
        parts[-1].append(b)
    return parts


def thinned(part: Sequence[Reading]) -> list[Reading]:
    """No more points than a screen shows, with the warmest and the coldest of each few kept."""
    if len(part) <= MOST_POINTS:
        return list(part)
    size = math.ceil(2 * len(part) / MOST_POINTS)
    kept: dict[int, Reading] = {0: part[0], len(part) - 1: part[-1]}
    for at in range(0, len(part), size):
        few = range(at, min(at + size, len(part)))
        for index in (
            min(few, key=lambda i: part[i].celsius),
            max(few, key=lambda i: part[i].celsius),
        ):
            kept[index] = part[index]
    return [kept[index] for index in sorted(kept)]


def outside(
    each: Excursion, number: int, readings: Sequence[Reading], scale: Scale, edge_c: float
) -> Outside:
    """The area between the line and the edge of the band."""
    inside = [r for r in readings if each.begin < r.at < each.end]
    last = next((r for r in readings if r.at == each.end), None)
    first = next((r for r in readings if r.at == each.begin), None)
    points = [
        scale.point(each.begin, first.celsius if first is not None else edge_c),
        *(scale.point(r.at, r.celsius) for r in thinned(inside)),
        scale.point(each.end, last.celsius if last is not None else edge_c),
        scale.point(each.end, edge_c),
        scale.point(each.begin, edge_c),
    ]
    worst = max(
        inside or [r for r in (first, last) if r is not None] or [readings[0]],
        key=lambda r: r.celsius if each.above else -r.celsius,
    )
    y = scale.y(worst.celsius) + (-6 if each.above else 16)
    y = min(max(y, TOP + 12), HEIGHT - BOTTOM - 4)
    middle = each.begin + each.length / 2
    return Outside(" ".join(points), number, scale.x(middle), round(y, 1))


def times(scale: Scale, zone: ZoneInfo) -> tuple[Tick, ...]:
    """Ticks at round local times, with the day where more than one is shown."""
    minutes = scale.span / 60
    step = next((m for m in MINUTES if minutes / m <= MOST_TICKS), MINUTES[-1])
    while minutes / step > MOST_TICKS:
        step *= 2
    begin, end = scale.begin.astimezone(zone), scale.end.astimezone(zone)
    midnight = begin.replace(hour=0, minute=0, second=0, microsecond=0)
    many_days = begin.date() != end.date()
    moment = midnight + timedelta(minutes=step) * math.ceil(
        (begin - midnight) / timedelta(minutes=step)
    )
    ticks = []
    while moment <= end:
        word = f"{moment:%d %b %H:%M}" if many_days else f"{moment:%H:%M}"
        ticks.append(Tick(scale.x(moment), word))
        moment += timedelta(minutes=step)
    return tuple(ticks)


def degrees(scale: Scale) -> tuple[Tick, ...]:
    """Ticks at whole degrees."""
    step = next((d for d in DEGREES if (scale.high - scale.low) / d <= MOST_TICKS), DEGREES[-1])
    first = math.ceil(scale.low / step) * step
    count = math.floor((scale.high - first) / step) + 1
    return tuple(Tick(scale.y(first + n * step), f"{first + n * step:g}") for n in range(count))
