"""
What a run may take: of everything that waits for it, the sets worth trying.

Only sets that nothing more can be added to are worth trying, since a job that goes along now waits
less, needs no other run, and can always leave a later one: a balance tube takes its place there.
Within a kind the jobs that the run still saves go first, by due time; if two of them change runs so
that the earlier due goes first, no more are past due.  Then come jobs that nothing saves.  Last
come jobs that are past due in this run and might be saved by a faster rotor: with each number of
these left behind, the least urgent ones, since the more urgent one is the harder to save.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product
from math import prod
from typing import NamedTuple

from cubital.bench.balance import fits
from cubital.bench.spin_family import Family, lowest
from cubital.bench.spin_question import Question


class Load(NamedTuple):
    """
    A set of jobs for one run.

    Args:
        jobs: as bits of the family.
        number: of them.
        releases: sum of their releases.
        late: how many are past due in this run.
    """

    jobs: int
    number: int
    releases: int
    late: int


MOST_SETS = 240
"""Sets tried for one run in a search that wants all; where there are more it is not exhaustive."""


class Loads:
    """The sets worth trying, with what has been worked out before."""

    def __init__(self, question: Question) -> None:
        self._places = tuple(rotor.places for rotor in question.rotors)
        self._fits: dict[tuple[tuple[int, ...], int], bool] = {}
        self._splits: dict[tuple[tuple[int, ...], int], list[tuple[int, ...]]] = {}
        self._known: dict[tuple[int, int, int, int, int, bool], tuple[Load, ...]] = {}
        self.complete = True
        """Whether no set worth trying has been left out so far."""

    def fits(self, counts: tuple[int, ...], places: int) -> bool:
        """Whether so many of each kind balance in a rotor."""
        if len(counts) == 1:
            return counts[0] <= places
        key = (counts, places)
        known = self._fits.get(key)
        if known is None:
            known = self._fits[key] = fits(counts, places)
        return known

    def sets(
        self, family: Family, waiting: int, rotor: int, start: int, *, few: bool
    ) -> tuple[Load, ...]:
        """
        Sets of jobs worth trying in a run.

        Args:
            family: of the run.
            waiting: jobs that are released and have not run.
            rotor: by index.
            start: of the run.
            few: only the likely ones.
        """
        saved = waiting & family.in_time(start + family.minutes[rotor])
        doubtful = 0
        if family.uneven:
            doubtful = waiting & ~saved & family.in_time(start + family.least)
        key = (family.index, waiting, saved, doubtful, self._places[rotor], few)
        known = self._known.get(key)
        if known is None:
            known = self._known[key] = tuple(
                Load(jobs, jobs.bit_count(), family.release_sum(jobs), (jobs & ~saved).bit_count())
                for jobs in self._sets(
                    family, waiting, saved, doubtful, self._places[rotor], few=few
                )
            )
        return known

    def _sets(
        self, family: Family, waiting: int, saved: int, doubtful: int, places: int, *, few: bool
    ) -> list[int]:
        counts = tuple((waiting & kind).bit_count() for kind in family.kinds)
        if self.fits(counts, places):
            whole = [waiting]
        elif few:
            whole = [
                self._most_urgent(family, waiting, saved, places),
                self._by_kind(family, counts, waiting, saved, doubtful, places),
            ]
        else:
            whole = [
                _pick(family, split, waiting, saved, doubtful)
                for split in self._full(counts, places)
            ]
        return self._without_doubtful(family, whole, doubtful, few=few) if doubtful else whole

    def _full(self, counts: tuple[int, ...], places: int) -> list[tuple[int, ...]]:
        """How many of each kind fill the rotor so that none can be added."""
        key = (counts, places)
        known = self._splits.get(key)
        if known is None:
            known = [split for split in self._split(counts, places) if self._is_full(split, key)]
            if len(known) > MOST_SETS:
                self.complete = False
                known = known[:: len(known) // MOST_SETS + 1]
            self._splits[key] = known
        return known

    def _split(
        self, counts: tuple[int, ...], places: int, begun: tuple[int, ...] = ()
    ) -> Iterator[tuple[int, ...]]:
        """Splits whose last kind cannot grow."""
        most = counts[len(begun)]
        rest = (0,) * (len(counts) - len(begun) - 1)
        while most and not self.fits((*begun, most, *rest), places):
            most -= 1
        if not rest:
            yield (*begun, most)
            return
        for number in range(most, -1, -1):
            yield from self._split(counts, places, (*begun, number))

    def _is_full(self, split: tuple[int, ...], key: tuple[tuple[int, ...], int]) -> bool:
        counts, places = key
        return not any(
            number < counts[at] and self.fits((*split[:at], number + 1, *split[at + 1 :]), places)
            for at, number in enumerate(split)
        )

    def _most_urgent(self, family: Family, waiting: int, saved: int, places: int) -> int:
        """Fill the rotor by due time, whatever the kind."""
        counts = [0] * len(family.kinds)
        open_ = waiting
        chosen = 0
        for jobs in (saved, waiting & ~saved):
            for _, _, bit in family.windows:
                if not bit & jobs & open_:
                    continue
                at = next(at for at, kind in enumerate(family.kinds) if bit & kind)
                counts[at] += 1
                if self.fits(tuple(counts), places):
                    chosen |= bit
                else:
                    counts[at] -= 1
                    open_ &= ~family.kinds[at]
        return chosen

    def _by_kind(
        self,
        family: Family,
        counts: Sequence[int],
        waiting: int,
        saved: int,
        doubtful: int,
        places: int,
    ) -> int:
        """Fill the rotor kind by kind, the kind with the most jobs first."""
        split = [0] * len(counts)
        for at in sorted(range(len(counts)), key=lambda at: -counts[at]):
            split[at] = counts[at]
            while not self.fits(tuple(split), places):
                split[at] -= 1
        return _pick(family, split, waiting, saved, doubtful)

    def _without_doubtful(
        self, family: Family, whole: list[int], doubtful: int, *, few: bool
    ) -> list[int]:
        """The sets, and the same with doubtful jobs left behind."""
        found = dict.fromkeys(whole)
        for jobs in whole:
            there = [jobs & doubtful & kind for kind in family.kinds if jobs & doubtful & kind]
            sure = jobs & ~doubtful
            if few or prod(kind.bit_count() + 1 for kind in there) > MOST_SETS:
                self.complete = self.complete and (few or not there)
                found[sure] = None
                continue
            for numbers in product(*(range(kind.bit_count() + 1) for kind in there)):
                taken = sure
                for kind, number in zip(there, numbers, strict=True):
                    taken |= lowest(kind, number)
                found[taken] = None
        return [jobs for jobs in found if jobs]


def _pick(family: Family, split: Sequence[int], waiting: int, saved: int, doubtful: int) -> int:
    """Take so many of each kind: saved ones by due time, then lost ones, then doubtful ones."""
    chosen = 0
    for kind, number in zip(family.kinds, split, strict=True):
        for jobs in (saved, waiting & ~saved & ~doubtful, doubtful):
            taken = lowest(jobs & kind, number)
            chosen |= taken
            number -= taken.bit_count()
    return chosen
