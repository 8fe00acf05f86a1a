"""
Which containers, exactly: the fewest tubes, the least blood, the most preferred, in that order.

The question, in whole microlitres of blood:

- A **need** is one test: ``volume_ul`` of blood for it (yield counted), the kinds of container it
  may go into with the rank of each (0 best), and whether it wants a tube of its own.
- A **kind** is one way to fill one container: the container, the sharing group (station, cooling,
  spun or not), what a filled one takes (``fill_min_ul`` to ``fill_max_ul``: equal where the vacuum
  or the mark decides), the dead volume in blood, and how many tests may share it.
- An opened tube of kind k that serves the needs S draws
  ``max(fill_min_k, dead_k + sum(volume of S))`` and this may not exceed ``fill_max_k``;
  ``len(S) <= max_tests_k``; a need with ``own_tube`` is alone in its tube.
- Every need goes into exactly one tube.  No more tubes of one container than ``stock`` has
  (a container missing from ``stock`` is without limit).  The blood of all tubes together is at
  most ``blood_limit_ul``.
- Objectives, lexicographic: ``fewest_tubes`` = (tubes, blood, preference);
  ``least_blood`` = (blood, tubes, preference); preference is the sum of the ranks, smaller is
  better.  Among equals the answer is fixed (same input, same answer).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum


class Aim(StrEnum):
    """What comes first."""

    FEWEST_TUBES = "fewest_tubes"
    LEAST_BLOOD = "least_blood"


@dataclass(frozen=True, slots=True)
class Kind:
    """One way to fill one container; see the module's text."""

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


def choose_containers(
    needs: Sequence[Need],
    kinds: Sequence[Kind],
    *,
    aim: Aim = Aim.FEWEST_TUBES,
    stock: Mapping[str, int] | None = None,
    blood_limit_ul: int | None = None,
) -> Choice | None:
    """
    Give the exact optimum, or None when no choice serves every need within stock and limit.

    Raises:
        ValueError: a need names a kind that is not there, or a volume is not positive.
    """
    raise NotImplementedError


def choose_what_fits(
    needs: Sequence[Need],
    priorities: Sequence[int],
    kinds: Sequence[Kind],
    *,
    aim: Aim = Aim.FEWEST_TUBES,
    stock: Mapping[str, int] | None = None,
    blood_limit_ul: int | None = None,
) -> tuple[Choice, tuple[int, ...]]:
    """
    Serve as much as fits, best by priority (1 first), exactly.

    The served set maximises, lexicographically: the number of tests of priority 1, then of
    priority 2, and so on; among equals the set whose tests stand earliest in ``needs``
    (lexicographically smallest tuple of served indices).  Gives the optimum choice for that set
    and the indices of the needs that are left out, in order.
    """
    raise NotImplementedError
