"""
Ways to draw several sets together, without those that another beats whatever stands beside them.

A combination is beaten when another is no worse in merit, takes no more blood, and no more of any
container that is scarce.  Merits add up part by part and are compared from the first part down,
so what is beaten here stays beaten with the solver's tubes beside it.  Volumes in µL of blood.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from cubital.draw.choose import Aim
from cubital.draw.pour import Variant
from cubital.draw.stock import Stock

Merit = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Combo:
    """Some sets, each drawn one way; the empty one draws none."""

    variants: tuple[Variant, ...] = ()
    tubes: int = 0
    blood_ul: int = 0
    rank: int = 0
    shortfall: int = 0
    taken: Counter[str] = field(default_factory=Counter)

    def plus(self, variant: Variant) -> Combo:
        """One set more."""
        return Combo(
            variants=(*self.variants, variant),
            tubes=self.tubes + len(variant.pours),
            blood_ul=self.blood_ul + variant.blood_ul,
            rank=self.rank + variant.rank,
            shortfall=self.shortfall + variant.shortfall,
            taken=self.taken + variant.taken,
        )

    def objective(self, aim: Aim) -> tuple[int, int, int]:
        """Tubes, blood and preference in the order of the aim."""
        if aim == Aim.FEWEST_TUBES:
            return self.tubes, self.blood_ul, self.rank
        return self.blood_ul, self.tubes, self.rank


def combos(
    sets: Iterable[Sequence[Variant]],
    merit: Callable[[Combo], Merit],
    stock: Stock,
    scarce: frozenset[str],
    *,
    limit_ul: int | None,
    optional: bool,
) -> list[Combo]:
    """
    The combinations that no other beats, the best merit first.

    Args:
        sets: the ways to draw each set.
        merit: smaller is better; it must add up over the sets.
        stock: what is on hand.
        scarce: containers of which the stock may run out.
        limit_ul: of blood, None for none.
        optional: a set may be left out.
    """
    kept = [Combo()]
    for ways in sets:
        grown = [combo.plus(variant) for combo in kept for variant in ways]
        if optional:
            grown += kept
        grown = [
            combo
            for combo in grown
            if (limit_ul is None or combo.blood_ul <= limit_ul) and stock.holds(combo.taken)
        ]
        kept = _unbeaten(grown, merit, scarce)
    return kept


def _unbeaten(
    grown: Iterable[Combo], merit: Callable[[Combo], Merit], scarce: frozenset[str]
) -> list[Combo]:
    kept: list[Combo] = []
    for combo in sorted(grown, key=lambda one: (merit(one), one.blood_ul)):
        # Sorted: whatever is kept already is no worse in merit.
        if not any(
            better.blood_ul <= combo.blood_ul
            and all(better.taken[code] <= combo.taken[code] for code in scarce)
            for better in kept
        ):
            kept.append(combo)
    return kept


def scarce_of(stock: Stock, sets: Iterable[Sequence[Variant]], needs: int) -> frozenset[str]:
    """
    Containers of which the stock may run out.

    Args:
        stock: what is on hand.
        sets: the ways to draw each set.
        needs: how many tests the solver places: each takes one container at most.
    """
    if stock.counts is None:
        return frozenset()
    most: Counter[str] = Counter()
    for ways in sets:
        wanted: Counter[str] = Counter()
        for way in ways:
            wanted |= way.taken
        most += wanted
    return frozenset(code for code, count in stock.counts.items() if count < most[code] + needs)
