"""
A container with what goes into it, before it has its place in the order of draw.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from cubital.draw.needs import Asked
from cubital.draw.offers import Offer
from cubital.finding import Finding, Reason

SPECIMEN = "specimen"
DISCARD = "discard"
AEROBIC = "culture_aerobic"
ANAEROBIC = "culture_anaerobic"
PAEDIATRIC = "culture_paediatric"
CULTURES = (AEROBIC, ANAEROBIC, PAEDIATRIC)


@dataclass(frozen=True, slots=True)
class Content:
    """A test in a container, with the blood it takes of it."""

    asked: Asked
    volume_ul: int


@dataclass(frozen=True, slots=True)
class Pour:
    """
    One container to be filled.

    Args:
        fill_ul: what it takes from the vein.
        dead_ul: what the station leaves of it, as blood.
        nth: which container of a set, 0 where it is none.
        filled_whole: a test wants it full.
        cautions, reasons: beside those every container gets.
    """

    offer: Offer
    purpose: str
    contents: tuple[Content, ...]
    fill_ul: int
    dead_ul: int = 0
    nth: int = 0
    filled_whole: bool = False
    cautions: tuple[str, ...] = ()
    reasons: tuple[Reason, ...] = ()

    @property
    def needed_ul(self) -> int:
        """What the analysers need of it: the tests and the dead volume."""
        return self.dead_ul + sum(content.volume_ul for content in self.contents)


@dataclass(frozen=True, slots=True)
class Variant:
    """
    One way to draw a test that takes a whole set of containers.

    Args:
        shortfall: 0 when the test gets all it wants, more the less it gets.
        rank: preference, as the solver counts it.
        finding: what is short, or unknown.
    """

    asked: Asked
    pours: tuple[Pour, ...]
    rank: int
    shortfall: int = 0
    finding: Finding | None = None

    @property
    def blood_ul(self) -> int:
        """The blood of the set."""
        return sum(pour.fill_ul for pour in self.pours)

    @property
    def taken(self) -> Counter[str]:
        """Containers it takes, by code."""
        return counted(self.pours)


def counted(pours: Iterable[Pour]) -> Counter[str]:
    """Containers by code."""
    return Counter(pour.offer.container.code for pour in pours)
