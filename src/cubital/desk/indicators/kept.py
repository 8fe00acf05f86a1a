"""
Reports and their charts, made once and kept until the lake is made anew.

One at a time: the drawing library keeps its settings for the whole process.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import RLock
from typing import Any, TypeVar

Thing = TypeVar("Thing")
MOST = 120
"""Reports, charts and papers that are kept."""


class Kept:
    """The last things that were made, by what they were made from."""

    def __init__(self, most: int = MOST) -> None:
        self.most = most
        self.things: OrderedDict[Hashable, Any] = OrderedDict()
        self.lock = RLock()

    def get(self, key: Hashable, make: Callable[[], Thing]) -> Thing:
        """What was made under this key, or make it now."""
        with self.lock:
            if key in self.things:
                self.things.move_to_end(key)
                kept: Thing = self.things[key]
                return kept
            thing = make()
            self.things[key] = thing
            while len(self.things) > self.most:
                self.things.popitem(last=False)
            return thing


KEPT = Kept()
"""Of this process."""
