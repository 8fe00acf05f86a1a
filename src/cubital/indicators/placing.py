"""
Where the names of marks stand on a chart, so that none lies on another, a mark or the axis.

Everything in points, from the lower left corner of the axes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

CLEAR = 6.0
"""From the middle of a mark to its name."""
MARK = 4.0
"""Half of a mark."""
FLOOR = 3.0
"""Above the axis."""
STEPS = 8


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle by its left, lower, right and upper side."""

    left: float
    low: float
    right: float
    high: float

    def shared(self, other: Box) -> float:
        """The area that both cover."""
        wide = min(self.right, other.right) - max(self.left, other.left)
        tall = min(self.high, other.high) - max(self.low, other.low)
        return max(0.0, wide) * max(0.0, tall)


def placed(
    marks: Sequence[tuple[float, float]],
    widths: Sequence[float],
    height: float,
    room: tuple[float, float],
) -> tuple[Box, ...]:
    """
    Give each mark's name the nearest place where it covers nothing, else where it covers least.

    Args:
        marks: middle of each.
        widths: of the names, in the same order.
        height: of a name.
        room: width and height of the axes.
    """
    taken = [Box(x - MARK, y - MARK, x + MARK, y + MARK) for x, y in marks]
    found = []
    for (x, y), wide in zip(marks, widths, strict=True):
        inside = [
            box for box in _tries(x, y, wide, height)
            if box.left >= 0 and box.right <= room[0] and box.low >= FLOOR and box.high <= room[1]
        ]  # fmt: skip
        best = min(
            inside or _tries(x, y, wide, height)[:1],
            key=lambda box: sum(box.shared(each) for each in taken),
        )
        taken.append(best)
        found.append(best)
    return tuple(found)


def _tries(x: float, y: float, wide: float, height: float) -> list[Box]:
    """Right and left of the mark, below and above, then higher and higher."""
    lows = [y - CLEAR - height, y + CLEAR / 2]
    lows += [y + CLEAR / 2 + step * (height + 1) for step in range(1, STEPS)]
    lows += [y - CLEAR - height - step * (height + 1) for step in range(1, STEPS)]
    return [
        Box(left, low, left + wide, low + height)
        for low in lows
        for left in (x + CLEAR, x - CLEAR - wide, x - wide / 2)
    ]
