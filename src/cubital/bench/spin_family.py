"""
The jobs of one family as bits of an integer, so that sets of them are counted and cut quickly.

Bit ``i`` is the ``i``-th job in the order of kind, due time and release: the lowest bits of a kind
are the most urgent.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from itertools import accumulate
from operator import or_

from cubital.bench.spin_question import Question


class Family:
    """
    The jobs of one family.

    Attributes:
        jobs: index in the question of each bit.
        minutes: of a run by rotor, 0 where it cannot.
        rotors: that can run it.
        least: shortest run.
        uneven: runs take longer on some rotors than on others.
        most: places of the largest rotor that can run it.
        kinds: mask of each kind.
        windows: (latest start, release, bit) of each job, by latest start.
        lost: jobs that are past due whatever is done, machines free or not.
    """

    def __init__(self, question: Question, index: int) -> None:
        found = [at for at, job in enumerate(question.jobs) if job.family == index]
        found.sort(key=lambda at: _order(question, at))
        jobs = [question.jobs[at] for at in found]
        self.index = index
        self.jobs = tuple(found)
        self.all = (1 << len(found)) - 1
        self.minutes = tuple(rotor.minutes[index] for rotor in question.rotors)
        self.rotors = tuple(at for at, minutes in enumerate(self.minutes) if minutes)
        self.least = min((self.minutes[at] for at in self.rotors), default=0)
        self.uneven = len({self.minutes[at] for at in self.rotors}) > 1
        self.most = max((question.rotors[at].places for at in self.rotors), default=0)
        self.release = tuple(job.release for job in jobs)
        self.due = tuple(job.due for job in jobs)
        kinds = sorted({job.kind for job in jobs})
        self.kinds = tuple(_mask(job.kind == kind for job in jobs) for kind in kinds)
        self.windows = tuple(
            sorted((job.due - self.least, job.release, 1 << bit) for bit, job in enumerate(jobs))
        )
        self.lost = _mask(job.due - self.least < job.release for job in jobs)
        self.releases = sorted(set(self.release))
        self._released = self._growing(self.releases, self.release)
        self._dues = sorted(set(self.due))
        self._overdue = self._growing(self._dues, self.due)
        self._first = self.releases[0] if jobs else 0
        self._planes = tuple(
            _mask(bool((job.release - self._first) >> plane & 1) for job in jobs)
            for plane in range((max(self.release) - self._first).bit_length() if jobs else 0)
        )

    @staticmethod
    def _growing(steps: list[int], values: tuple[int, ...]) -> list[int]:
        """For each step the jobs whose value is at most it, after a 0 for none."""
        exact = (_mask(value == step for value in values) for step in steps)
        return [0, *accumulate(exact, or_)]

    def released(self, moment: int) -> int:
        """Jobs that are released by a moment."""
        return self._released[bisect_right(self.releases, moment)]

    def in_time(self, end: int) -> int:
        """Jobs that are not past due when their run ends at a moment."""
        return self.all & ~self._overdue[bisect_left(self._dues, end)]

    def release_sum(self, jobs: int) -> int:
        """The sum of the releases of a set of jobs."""
        total = self._first * jobs.bit_count()
        for plane, mask in enumerate(self._planes):
            total += (jobs & mask).bit_count() << plane
        return total

    def members(self, jobs: int) -> tuple[int, ...]:
        """Indexes in the question of a set of jobs."""
        return tuple(at for bit, at in enumerate(self.jobs) if jobs >> bit & 1)


def _order(question: Question, at: int) -> tuple[int, int, int, int]:
    job = question.jobs[at]
    return job.kind, job.due, job.release, at


def _mask(bits: Iterable[bool]) -> int:
    return sum(1 << at for at, bit in enumerate(bits) if bit)


def lowest(jobs: int, number: int) -> int:
    """The ``number`` lowest bits of a set, or all of them."""
    if jobs.bit_count() <= number:
        return jobs
    chosen = 0
    for _ in range(number):
        bit = jobs & -jobs
        chosen |= bit
        jobs ^= bit
    return chosen
