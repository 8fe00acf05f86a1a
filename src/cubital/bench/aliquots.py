"""
How much serum or plasma to expect, and how to divide it.

A portion is one tube for one station, kept one way.  Portions are chosen so that tests are served
in the order of their level: first what keeps least or must be frozen, then what the requester wants
most, then the rest (``aliquot_ranks.csv``), and within each by the requester's priority.  As many
tests of the first level as possible are served, then of the second, and so on; no number of lower
tests outweighs one above.  That choice is exact: within a portion and a level the smallest volumes
go first, and over the portions the least volume for each combination of numbers is carried
along.

Volumes are whole µL of serum or plasma.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate, product
from typing import TypeAlias

from cubital.bench.programmes import NO_CHOICES
from cubital.catalogue import Catalogue
from cubital.catalogue.model import Station
from cubital.catalogue.model_bench import AliquotRank, StorageKind
from cubital.errors import InputError
from cubital.finding import Finding, Reason, Severity
from cubital.requisition.values import OrderedTest

Level: TypeAlias = tuple[int, int]
"""Rank, then the requester's priority: smaller comes first."""
Numbers: TypeAlias = tuple[int, ...]
"""Tests served, by level."""
HUNDREDTHS = 100  # a haematocrit is reckoned in hundredths of a percent, so that rounding is exact
DEEP = "deep_freezer"


def expected_yield_ul(volume_ul: int, haematocrit_percent: float, catalogue: Catalogue) -> int:
    """
    Give the serum or plasma to expect from blood, rounded down.

    ``volume × (1 - haematocrit) × recovery``, the recovery from settings.csv; a liquid additive is
    counted as nothing.

    Raises:
        InputError: a volume below 0, or a haematocrit that is not between 0 and 100.
    """
    if volume_ul < 0:
        raise InputError(f"A volume of {volume_ul} µL cannot be", mend="Give 0 or more.")
    if not 0 < haematocrit_percent < 100:
        raise InputError(
            f"A haematocrit of {haematocrit_percent:g} % cannot be", mend="Give it in percent."
        )
    plasma = 100 * HUNDREDTHS - round(haematocrit_percent * HUNDREDTHS)
    recovery = catalogue.number("plasma_recovery_percent")
    return volume_ul * plasma * recovery // (100 * 100 * HUNDREDTHS)


@dataclass(frozen=True, slots=True)
class Portion:
    """
    One tube of serum or plasma.

    Args:
        station: where it is measured.
        storage: code of storage_kinds.csv.
        condition: room, fridge or frozen.
        tests: that it serves.
        volume_ul: to be put in, dead volume counted.
        dead_ul: of that, what the sampler leaves.
        primary: it stays in the first tube.
        keeps_h: how long the first of its tests keeps so; None when no figure is known.
        label: short test names for its label.
    """

    station: str
    storage: str
    condition: str
    tests: tuple[str, ...]
    volume_ul: int
    dead_ul: int
    primary: bool
    keeps_h: float | None
    label: str


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A test that there is not enough for, and why: never a silent drop."""

    test: str
    reason: Reason


@dataclass(frozen=True, slots=True)
class Division:
    """
    How serum or plasma is divided.

    Args:
        available_ul: that was divided.
        portions: in the order in which they are made.
        left_out: tests without a portion.
        spare_ul: what remains.
        findings: in words.
    """

    available_ul: int
    portions: tuple[Portion, ...]
    left_out: tuple[LeftOut, ...]
    spare_ul: int
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class _Wish:
    """A test with what its portion depends on."""

    test: str
    level: Level
    rank: AliquotRank
    volume_ul: int
    station: Station
    condition: str
    keeps_h: float | None
    own: bool


def divide(
    tests: Iterable[OrderedTest],
    available_ul: int,
    catalogue: Catalogue,
    choices: Mapping[str, str] = NO_CHOICES,
    *,
    primary: str = "",
    primary_form: str = "evacuated",
    citrate: bool = False,
) -> Division:
    """
    Divide serum or plasma for tests.

    Args:
        tests: with the requester's priorities.
        available_ul: serum or plasma there is.
        catalogue: whose volumes, dead volumes and ranks count.
        choices: topic -> option.
        primary: a station whose sampler takes from the first tube, or "".
        primary_form: form of that tube, for the dead volume above its cells or gel.
        citrate: it is citrate plasma, whose lowest part stays above the cells.

    Raises:
        InputError: a test that the catalogue does not hold, or a volume below 0.
    """
    if available_ul < 0:
        raise InputError(f"A volume of {available_ul} µL cannot be", mend="Give 0 or more.")
    wishes = [_wish(one, catalogue, choices) for one in tests]
    usable = available_ul
    if citrate:
        usable = available_ul * catalogue.number("ppp_top_percent") // 100
    groups: dict[tuple[str, str, str], list[_Wish]] = {}
    for wish in wishes:
        own = wish.test if wish.own else ""
        groups.setdefault((wish.station.code, wish.condition, own), []).append(wish)
    pots = [
        _pot(group, catalogue, primary=primary, primary_form=primary_form)
        for group in groups.values()
    ]
    levels = sorted({wish.level for wish in wishes})
    chosen = _choose(pots, levels, usable)
    portions = [
        portion
        for pot, numbers in zip(pots, chosen, strict=True)
        for portion in _portions(pot, pot.served(levels, numbers), catalogue)
    ]
    ranks = {wish.test: wish.level for wish in wishes}
    portions.sort(key=lambda one: (one.primary, min(ranks[test] for test in one.tests)))
    spare = available_ul - sum(portion.volume_ul for portion in portions)
    served = {test for portion in portions for test in portion.tests}
    left_out = tuple(
        LeftOut(wish.test, _why(wish, catalogue, usable))
        for wish in wishes
        if wish.test not in served
    )
    findings = _findings(portions, left_out, catalogue, citrate=citrate)
    return Division(available_ul, tuple(portions), left_out, spare, findings)


# ------------------------------------------------------------------ what a test wants


def _wish(one: OrderedTest, catalogue: Catalogue, choices: Mapping[str, str]) -> _Wish:
    test = catalogue.tests.get(one.code)
    if test is None:
        raise InputError(f"There is no test {one.code!r}", mend="Write the code of a test.")
    keeps = {
        row.condition: row.keeps_h
        for row in catalogue.stability(one.code, choices)
        if row.matrix == "serum_plasma"
    }
    labile_h = catalogue.number("aliquot_labile_h")
    unfrozen = {here: keeps[here] for here in ("fridge", "room") if here in keeps}
    best = max(unfrozen.values(), default=None)
    labile = best is not None and best <= labile_h
    if labile and keeps.get("frozen", 0.0) > 0:
        condition = "frozen"
    else:
        condition = next((here for here, hours in unfrozen.items() if hours == best), "room")
    must = one.priority <= catalogue.number("aliquot_must_priority")
    code = "labile" if labile else "must" if must else "rest"
    rank = next(row for row in catalogue.rows(AliquotRank) if row.code == code)
    station = catalogue.stations[catalogue.benches[test.bench].station]
    return _Wish(
        test=one.code,
        level=(rank.rank, one.priority),
        rank=rank,
        volume_ul=catalogue.volume_ul(one.code),
        station=station,
        condition=condition,
        keeps_h=keeps.get(condition),
        own=test.own_tube,
    )


# ------------------------------------------------------------------ the exact choice


@dataclass(frozen=True, slots=True)
class _Pot:
    """Tests that may share a portion, by level, the smallest volume first."""

    wishes: tuple[_Wish, ...]
    dead_ul: int
    most: int
    primary: bool

    def of_level(self, level: Level) -> list[_Wish]:
        found = [wish for wish in self.wishes if wish.level == level]
        return sorted(found, key=lambda wish: (wish.volume_ul, wish.test))

    def served(self, levels: Sequence[Level], numbers: Sequence[int]) -> list[_Wish]:
        return [
            wish
            for level, number in zip(levels, numbers, strict=True)
            for wish in self.of_level(level)[:number]
        ]

    def cost_ul(self, sums: Sequence[Sequence[int]], numbers: Sequence[int]) -> int:
        """Volume for so many tests of each level, with the dead volume of each tube."""
        tubes = -(-sum(numbers) // self.most)
        taken = sum(total[number] for total, number in zip(sums, numbers, strict=True))
        return taken + tubes * self.dead_ul


def _pot(group: Sequence[_Wish], catalogue: Catalogue, *, primary: str, primary_form: str) -> _Pot:
    first = group[0]
    stays = first.station.code == primary and first.condition != "frozen" and not first.own
    form = primary_form if stays else catalogue.word("aliquot_form")
    dead = catalogue.dead_volume(first.station.code, form).dead_ul
    return _Pot(tuple(group), dead, first.station.max_tests_per_tube, stays)


def _choose(pots: Sequence[_Pot], levels: Sequence[Level], available_ul: int) -> list[Numbers]:
    """
    Choose how many tests of each level each portion serves.

    Level by level: the levels above keep the numbers that they reached, the levels below wait, and
    the greatest number that the volume allows is found over all ways to share it.
    """
    sums = [
        [[0, *accumulate(wish.volume_ul for wish in pot.of_level(level))] for level in levels]
        for pot in pots
    ]
    reached: list[int] = []
    chosen: list[Numbers] = [(0,) * len(levels)] * len(pots)
    for at in range(len(levels)):
        whole = sum(len(mine[at]) - 1 for mine in sums)
        for number in range(whole, -1, -1):
            found = _share(pots, sums, (*reached, number), available_ul)
            if found is not None:
                reached.append(number)
                chosen = found
                break
    return chosen


def _share(
    pots: Sequence[_Pot],
    sums: Sequence[Sequence[Sequence[int]]],
    wanted: Numbers,
    available_ul: int,
) -> list[Numbers] | None:
    """
    Share these numbers of the first levels among the portions with the least volume.

    Carries, portion by portion, the least volume for each vector of numbers so far; None when no
    way stays within the volume.
    """
    best: dict[Numbers, tuple[int, tuple[Numbers, ...]]] = {(0,) * len(wanted): (0, ())}
    whole = [sum(len(mine[k]) - 1 for mine in sums) for k in range(len(wanted))]
    later = list(whole)
    for pot, mine in zip(pots, sums, strict=True):
        here = [len(mine[k]) - 1 for k in range(len(wanted))]
        later = [rest - there for rest, there in zip(later, here, strict=True)]
        none = (0,) * (len(mine) - len(wanted))
        ranges = [
            range(max(0, want + there - total), min(there, want) + 1)
            for want, there, total in zip(wanted, here, whole, strict=True)
        ]
        options = [
            ((*numbers, *none), pot.cost_ul(mine, (*numbers, *none)))
            for numbers in product(*ranges)
        ]
        grown: dict[Numbers, tuple[int, tuple[Numbers, ...]]] = {}
        for so_far, (volume, chosen) in best.items():
            for numbers, cost in options:
                key = tuple(a + b for a, b in zip(so_far, numbers, strict=False))
                can = all(n <= w <= n + r for n, w, r in zip(key, wanted, later, strict=True))
                total = volume + cost
                if can and total <= available_ul and total < grown.get(key, (total + 1,))[0]:
                    grown[key] = (total, (*chosen, numbers))
        best = grown
    return list(best[wanted][1]) if wanted in best else None


def _portions(pot: _Pot, served: Sequence[_Wish], catalogue: Catalogue) -> list[Portion]:
    """Put the tests of a pot into as many tubes as its station wants."""
    found = []
    for begin in range(0, len(served), pot.most):
        mine = served[begin : begin + pot.most]
        known = [wish.keeps_h for wish in mine if wish.keeps_h is not None]
        first = mine[0]
        found.append(
            Portion(
                station=first.station.code,
                storage=_storage(first.condition, catalogue),
                condition=first.condition,
                tests=tuple(wish.test for wish in mine),
                volume_ul=sum(wish.volume_ul for wish in mine) + pot.dead_ul,
                dead_ul=pot.dead_ul,
                primary=pot.primary,
                keeps_h=min(known) if len(known) == len(mine) else None,
                label=" ".join(catalogue.tests[wish.test].short for wish in mine),
            )
        )
    return found


def _storage(condition: str, catalogue: Catalogue) -> str:
    kinds = [row.code for row in catalogue.rows(StorageKind) if row.condition == condition]
    return next((code for code in kinds if code != DEEP), kinds[0] if kinds else "")


# ------------------------------------------------------------------ in words


def _why(wish: _Wish, catalogue: Catalogue, usable: int) -> Reason:
    name = catalogue.tests[wish.test].name
    sentence = (
        f"{name} takes {wish.volume_ul} µL and what comes before it leaves too little of the"
        f" {usable} µL. {wish.rank.sentence}"
    )
    return catalogue.reason(wish.rank, sentence)


def _findings(
    portions: Sequence[Portion],
    left_out: Sequence[LeftOut],
    catalogue: Catalogue,
    *,
    citrate: bool,
) -> tuple[Finding, ...]:
    found = [
        Finding(
            "aliquot-short",
            Severity.ASK,
            f"{one.reason.sentence} Ask for another specimen, or for another order.",
            one.reason.source,
            one.test,
            one.reason.layer,
        )
        for one in left_out
    ]
    if citrate:
        sentence = "Take citrate plasma off with a plastic pipette from the top; never pour it."
        found.append(Finding("never-pour", Severity.NOTE, sentence, "ppp-lecture-2008"))
        most = catalogue.setting("ppp_platelets_giga_per_l")
        sentence = f"Platelet-poor means fewer than {most.value} {most.unit} platelets in it."
        found.append(Finding("platelet-poor", Severity.NOTE, sentence, most.source, "", most.layer))
        if any(portion.condition == "frozen" for portion in portions):
            sentence = "Spin this plasma a second time before it is frozen: its platelets burst."
            found.append(Finding("spin-second", Severity.ASK, sentence, "bench-memory"))
    return tuple(found)
