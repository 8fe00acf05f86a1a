"""
The next two hours at the bench drawn as an SVG: one bar a specimen.

Only geometry, in the units of the drawing; what is clotting, ready, safe or lost says the bench
room.  No script and no style of its own: classes and attributes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from cubital.bench import Bar

WIDTH = 800
LEFT, RIGHT, TOP, BOTTOM = 160, 12, 30, 8
ROW, BAR = 30, 22
AHEAD = timedelta(hours=2)
TICK_MIN = 15
LEAST_FOR_WORD = 52
WORDS = {
    "coming": "on its way",
    "clotting": "clots",
    "ready": "spin",
    "safe": "keeps",
    "lost": "lost",
}
SAID = {
    "coming": "on its way until {}",
    "clotting": "clots until {}",
    "ready": "to be spun by {}",
    "safe": "keeps until {}",
    "lost": "lost",
}


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of a bar."""

    kind: str
    x: float
    width: float
    word: str


@dataclass(frozen=True, slots=True)
class Row:
    """One specimen: its number, its level, and its bar; and the same in words."""

    code: str
    level: str
    y: float
    middle: float
    pieces: tuple[Piece, ...]
    said: str


@dataclass(frozen=True, slots=True)
class Tick:
    """A line of the grid with its time."""

    x: float
    word: str


@dataclass(frozen=True, slots=True)
class Plot:
    """Everything the template draws."""

    width: int
    height: int
    left: int
    top: int
    bottom: float
    bar: int
    rows: tuple[Row, ...]
    ticks: tuple[Tick, ...]


def plot(bars: Sequence[Bar], now: datetime) -> Plot:
    """
    Lay out bars from now on.

    Args:
        bars: as the bench room gives them for the next two hours.
        now: with the zone in which times are written.
    """
    height = TOP + ROW * len(bars) + BOTTOM
    return Plot(
        width=WIDTH,
        height=height,
        left=LEFT,
        top=TOP,
        bottom=height - BOTTOM,
        bar=BAR,
        rows=tuple(row(bar, number, now) for number, bar in enumerate(bars)),
        ticks=ticks(now),
    )


def across(minutes: float) -> float:
    """Minutes from now as a place in the drawing."""
    share = minutes * timedelta(minutes=1) / AHEAD
    return round(LEFT + share * (WIDTH - LEFT - RIGHT), 1)


def row(bar: Bar, number: int, now: datetime) -> Row:
    """One bar."""
    y = TOP + ROW * number + (ROW - BAR) / 2
    pieces = []
    for each in bar.segments:
        x = across(each.from_min)
        width = round(across(each.to_min) - x, 1)
        word = WORDS[each.kind] if width >= LEAST_FOR_WORD else ""
        pieces.append(Piece(each.kind, x, width, word))
    return Row(bar.specimen, bar.level, y, y + BAR / 2 + 5, tuple(pieces), said(bar, now))


def said(bar: Bar, now: datetime) -> str:
    """A bar in words: ``clots until 09:12, to be spun by 10:40, lost after``."""
    parts = []
    end = AHEAD / timedelta(minutes=1)
    for each in bar.segments:
        at = now + timedelta(minutes=each.to_min)
        if each.kind == "lost":
            parts.append("lost already" if each.from_min <= 0 else "then lost")
        elif each.to_min >= end:
            parts.append(SAID[each.kind].format(f"{at:%H:%M} or longer"))
        else:
            parts.append(SAID[each.kind].format(f"{at:%H:%M}"))
    return ", ".join(parts)


def ticks(now: datetime) -> tuple[Tick, ...]:
    """Every quarter of an hour by the clock on the wall."""
    first = now.replace(second=0, microsecond=0)
    first += timedelta(minutes=-first.minute % TICK_MIN)
    found = []
    while first <= now + AHEAD:
        if first >= now:
            minutes = (first - now) / timedelta(minutes=1)
            found.append(Tick(across(minutes), f"{first:%H:%M}"))
        first += timedelta(minutes=TICK_MIN)
    return tuple(found)
