"""
What no plan can do better than: lower bounds on jobs past due, runs and waiting.

Each holds for every plan that finishes a given state, because it leaves out a rule of the question
(that machines are shared, that a rotor is full, that kinds must balance) and adds none.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass

from cubital.bench.spin_family import Family
from cubital.bench.spin_question import NEVER, Question

MOST_POINTS = 8
"""Runs up to which the waiting of a family is reckoned exactly; beyond, the bound is weaker."""


@dataclass(frozen=True, slots=True)
class Outlook:
    """
    What a family still costs at least, from the moment its first rotor is free.

    Args:
        late: jobs that are past due even if each ran alone at once.
        fewest: runs, by the places of the largest rotor.
        stabs: runs, if no other job may be past due: in any two windows from release to latest
            start that do not meet, different runs start.
        waiting: of jobs that are released before then.
        urgent: latest start of the most urgent job that can be saved.
    """

    late: int
    fewest: int
    stabs: int
    waiting: int
    urgent: int


class Bounds:
    """Bounds of the families of a question, with what has been worked out before."""

    def __init__(self, families: Sequence[Family]) -> None:
        self._families = families
        self._outlooks: list[dict[tuple[int, int], Outlook]] = [{} for _ in families]
        self._waits: list[dict[tuple[int, int, bool], list[int]]] = [{} for _ in families]

    def outlook(self, at: int, jobs: int, first: int) -> Outlook:
        """
        Give the outlook of a family.

        Args:
            at: index of the family.
            jobs: that have not run.
            first: when the first of its rotors is free.
        """
        key = (jobs, first)
        known = self._outlooks[at].get(key)
        if known is None:
            known = self._outlooks[at][key] = _outlook(self._families[at], jobs, first)
        return known

    def waits(self, at: int, jobs: int, first: int, *, strict: bool) -> list[int]:
        """
        Least waiting of a family by number of runs, :data:`NEVER` where so few are impossible.

        Machines are taken as free from ``first`` on, without limit of number or places.  A run
        starts at a release, and each job takes the first run after its release; that is least for
        given starts.  ``strict``: no job that can be saved may be past due.
        """
        key = (jobs, first, strict)
        known = self._waits[at].get(key)
        if known is None:
            known = self._waits[at][key] = _waits(self._families[at], jobs, first, strict=strict)
        return known


def _outlook(family: Family, jobs: int, first: int) -> Outlook:
    early = jobs & family.released(first)
    lost = jobs & family.lost | early & ~family.in_time(first + family.least)
    fewest = -(-jobs.bit_count() // family.most) if jobs else 0
    saved = jobs & ~lost
    stabs, last, urgent = 0, -NEVER, NEVER
    for latest, release, bit in family.windows:
        if saved & bit:
            urgent = min(urgent, latest)
            if max(release, first) > last:
                last = latest
                stabs += 1
    waiting = first * early.bit_count() - family.release_sum(early)
    return Outlook(lost.bit_count(), fewest, max(stabs, fewest), waiting, urgent)


def _waits(family: Family, jobs: int, first: int, *, strict: bool) -> list[int]:
    moments, counts, latest, sunk = _events(family, jobs, first)
    size = len(moments)
    before = [0] + [NEVER] * size
    best = [NEVER]
    for _ in range(min(size, MOST_POINTS)):
        now = [NEVER] * (size + 1)
        for end in range(1, size + 1):
            now[end] = _last_run(end, before, moments, counts, latest if strict else None)
        best.append(min(best[-1], now[size] + sunk))
        before = [min(pair) for pair in zip(now, before, strict=True)]
    if size > MOST_POINTS:
        best.append(sunk)
    return best


def _events(family: Family, jobs: int, first: int) -> tuple[list[int], list[int], list[int], int]:
    """Moments of release from ``first`` on, jobs and latest start at each, and waiting before."""
    early = jobs & family.released(first)
    sunk = first * early.bit_count() - family.release_sum(early)
    groups: dict[int, list[int]] = {}
    rest = jobs
    while rest:
        bit = rest & -rest
        rest ^= bit
        at = bit.bit_length() - 1
        moment = max(first, family.release[at])
        start = family.due[at] - family.least
        group = groups.setdefault(moment, [0, NEVER])
        group[0] += 1
        if moment <= start < group[1]:
            group[1] = start
    moments = sorted(groups)
    return moments, [groups[m][0] for m in moments], [groups[m][1] for m in moments], sunk


def _last_run(
    end: int,
    before: Sequence[int],
    moments: Sequence[int],
    counts: Sequence[int],
    latest: Sequence[int] | None,
) -> int:
    """Least waiting of the first ``end`` moments when a run starts at the last of them."""
    start = moments[end - 1]
    best, waiting = NEVER, 0
    for begin in range(end - 1, -1, -1):
        waiting += counts[begin] * (start - moments[begin])
        if waiting >= best or (latest is not None and latest[begin] < start):
            break
        best = min(best, before[begin] + waiting)
    return best


def late_bound(question: Question, families: Sequence[Family], *, most: int = 48) -> int:
    """
    Give a number of jobs past due that no plan stays below.

    A job is past due for certain if it would be, alone on its fastest rotor at once.  Of the
    others, take a stretch from ``a`` to ``b``: those released at ``a`` or later and due by ``b``
    are in time only in runs that lie within it.  A machine has at most the time from ``a`` (or from
    when it is free) to ``b`` for these runs, so of the jobs in time

    * the sum of (run time of the family at least) is at most the sum over machines of (time ×
      places), since a run on a machine serves at most its places and lasts as long as the family
      needs there;
    * at most the sum over machines of ``floor(time / shortest run)`` runs serve them, each one
      family and at most the places of its largest rotor: the best such choice takes the largest
      portions.

    What a stretch holds beyond the smaller of the two is past due.  Stretches that do not overlap
    hold different jobs, so their numbers add up; the best choice of stretches is taken.  At most
    ``most`` begins and ends are looked at: fewer stretches only weaken the bound.
    """
    certain = 0
    loose: list[tuple[int, int, int]] = []
    for at, family in enumerate(families):
        first = min((question.rotors[rotor].free for rotor in family.rotors), default=0)
        for release, due in zip(family.release, family.due, strict=True):
            if max(release, first) + family.least > due:
                certain += 1
            elif due < NEVER:
                loose.append((max(release, first), due, at))
    begins = _thinned(sorted({begin for begin, _, _ in loose}), most)
    ends = _thinned(sorted({end for _, end, _ in loose}), most)
    best = [0] * (len(ends) + 1)
    for number, end in enumerate(ends, start=1):
        best[number] = best[number - 1]
        for begin in begins:
            if begin >= end:
                break
            lost = _lost(question, families, loose, begin, end)
            if lost > 0:
                earlier = best[_ends_by(ends, begin)]
                best[number] = max(best[number], earlier + lost)
    return certain + best[-1]


def _thinned(values: list[int], most: int) -> list[int]:
    return values if len(values) <= most else values[:: len(values) // most + 1]


def _ends_by(ends: Sequence[int], moment: int) -> int:
    """How many of the ends lie at or before a moment."""
    return bisect_left(ends, moment + 1)


def _lost(
    question: Question,
    families: Sequence[Family],
    loose: Sequence[tuple[int, int, int]],
    begin: int,
    end: int,
) -> int:
    counts = [0] * len(families)
    for release, due, at in loose:
        if release >= begin and due <= end:
            counts[at] += 1
    total = sum(counts)
    there = [at for at, count in enumerate(counts) if count]
    if not there:
        return 0
    shortest = min(families[at].least for at in there)
    volume = runs = 0
    for rotor in question.rotors:
        time = max(0, end - max(begin, rotor.free))
        if any(rotor.minutes[at] for at in there):
            volume += time * rotor.places
            runs += time // shortest
    return total - min(_by_volume(families, counts, volume), _by_runs(families, counts, runs))


def _by_volume(families: Sequence[Family], counts: Sequence[int], volume: int) -> int:
    """The most jobs whose run times add up to a volume: the short ones first."""
    saved = 0
    for at in sorted(range(len(counts)), key=lambda at: families[at].least):
        taken = min(counts[at], volume // families[at].least) if counts[at] else 0
        saved += taken
        volume -= taken * families[at].least if taken else 0
    return saved


def _by_runs(families: Sequence[Family], counts: Sequence[int], runs: int) -> int:
    """The most jobs that so many runs serve: the largest portions first."""
    portions = []
    for at, count in enumerate(counts):
        most = families[at].most
        portions += [most] * (count // most if count else 0)
        if count and count % most:
            portions.append(count % most)
    return sum(sorted(portions, reverse=True)[: max(runs, 0)])
