"""
The words of the container choice: what goes in and what comes out (see ``choose``).

Volumes are whole µL of blood.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Aim(StrEnum):
    """What comes first."""

    FEWEST_TUBES = "fewest_tubes"
    LEAST_BLOOD = "least_blood"


@dataclass(frozen=True, slots=True)
class Kind:
    """One way to fill one container; see the text of ``choose``."""

    container: str
    group: str
    fill_min_ul: int
    fill_max_ul: int
    dead_ul: int
    max_tests: int


@dataclass(frozen=True, slots=True)
class Need:
    """One test; ``kinds`` holds (index into the kinds, rank) pairs."""

    test: str
    volume_ul: int
    kinds: tuple[tuple[int, int], ...]
    own_tube: bool = False


@dataclass(frozen=True, slots=True)
class Tube:
    """An opened tube: its kind's index, the indices of the needs in it, the blood it draws."""

    kind: int
    needs: tuple[int, ...]
    blood_ul: int


@dataclass(frozen=True, slots=True)
class Choice:
    """The optimum."""

    tubes: tuple[Tube, ...]
    blood_ul: int
    preference: int
