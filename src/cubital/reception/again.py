"""What is asked for again without a draw: until it has arrived, or nobody wants it any more."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime


@dataclass(frozen=True, slots=True)
class AskedAgain:
    """
    A specimen that was refused and is wanted once more.

    Args:
        specimen: number of the one that was refused.
        patient: whose.
        material: code of materials.csv.
        tests: that are still wanted from it.
        asked_at: when it was asked for.
    """

    specimen: str
    patient: str
    material: str
    tests: tuple[str, ...]
    asked_at: datetime


@dataclass(frozen=True, slots=True)
class Arrived:
    """A specimen that was registered at a reception: whose, what, for which tests, and when."""

    specimen: str
    patient: str
    material: str
    tests: tuple[str, ...]
    at: datetime


def still_to_ask(
    asked: Iterable[AskedAgain],
    arrived: Collection[Arrived],
    cancelled: Mapping[str, Collection[str]],
) -> tuple[AskedAgain, ...]:
    """
    Give what still has to be asked for, the longest waiting first.

    A test is no longer wanted once a later specimen of the same patient and material was
    registered for it, or once it was cancelled.

    Args:
        asked: everything that was asked for again.
        arrived: what was registered since.
        cancelled: number of a refused specimen -> tests that nobody wants any more.
    """
    found = []
    for one in asked:
        came = {
            test
            for each in arrived
            if (each.patient, each.material) == (one.patient, one.material)
            and each.at > one.asked_at
            and each.specimen != one.specimen
            for test in each.tests
        }
        gone = came | set(cancelled.get(one.specimen, ()))
        left = tuple(test for test in one.tests if test not in gone)
        if left:
            found.append(replace(one, tests=left))
    return tuple(sorted(found, key=lambda one: (one.asked_at, one.specimen)))
