"""
Containers on hand: lots counted, the first to expire proposed, the expired and recalled refused.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from cubital.catalogue.model import Setting
from cubital.draw.values import Lot
from cubital.finding import Finding, Severity


@dataclass(frozen=True, slots=True)
class Stock:
    """
    What is on hand.

    Args:
        counts: containers that may be used, by code; None when no stock list is kept.
        usable: their lots, the first to expire first.
        refused: lots that are expired or recalled.
        rule: the setting that decides on expiry.
    """

    counts: Mapping[str, int] | None
    usable: Mapping[str, tuple[Lot, ...]]
    refused: tuple[Lot, ...]
    rule: Setting

    def has(self, container: str, in_use: bool) -> bool:
        """Whether a container may be offered at all."""
        if self.counts is None:
            return in_use
        return self.counts.get(container, 0) > 0

    def without(self, taken: Mapping[str, int]) -> Mapping[str, int] | None:
        """The counts that are left when some containers are taken; None without a stock list."""
        if self.counts is None:
            return None
        return {code: count - taken.get(code, 0) for code, count in self.counts.items()}

    def holds(self, taken: Mapping[str, int]) -> bool:
        """Whether so many containers are there."""
        if self.counts is None:
            return True
        return all(self.counts.get(code, 0) >= count for code, count in taken.items())


def stock_on(lots: Sequence[Lot] | None, day: date, rule: Setting) -> Stock:
    """
    What may be used on a day.

    ``lots`` are those on hand, None when no stock list is kept; ``rule`` is the setting
    ``container_expiry_grace_days``: how many days after its date a lot may still be used.
    """
    if lots is None:
        return Stock(None, {}, (), rule)
    last = day - timedelta(days=int(rule.value))
    good: dict[str, list[Lot]] = {}
    refused: list[Lot] = []
    for lot in lots:
        if lot.recalled or lot.expires_on < last:
            refused.append(lot)
        elif lot.count > 0:
            good.setdefault(lot.container, []).append(lot)
    usable = {
        code: tuple(sorted(some, key=lambda lot: (lot.expires_on, lot.number)))
        for code, some in good.items()
    }
    counts = {code: sum(lot.count for lot in some) for code, some in usable.items()}
    return Stock(counts, usable, tuple(refused), rule)


def propose_lots(containers: Iterable[str], stock: Stock) -> tuple[str, ...]:
    """A lot number for each container, the first to expire first; "" without a stock list."""
    used: Counter[str] = Counter()
    numbers: list[str] = []
    for code in containers:
        numbers.append(_lot_at(stock.usable.get(code, ()), used[code]))
        used[code] += 1
    return tuple(numbers)


def _lot_at(lots: Sequence[Lot], nth: int) -> str:
    for lot in lots:
        if nth < lot.count:
            return lot.number
        nth -= lot.count
    return ""


def stock_findings(
    stock: Stock, relevant: Iterable[str], names: Mapping[str, str]
) -> tuple[Finding, ...]:
    """
    A note for each expired or recalled lot of the ``relevant`` container codes.

    ``names`` are container names by code.
    """
    wanted = set(relevant)
    findings = []
    for lot in stock.refused:
        if lot.container not in wanted:
            continue
        name = names.get(lot.container, lot.container)
        if lot.recalled:
            code, why = "lot-recalled", "is recalled"
        else:
            code, why = "lot-expired", f"expired on {lot.expires_on.isoformat()}"
        findings.append(
            Finding(
                code,
                Severity.NOTE,
                f"Lot {lot.number} of {name} {why} and is not offered: take it off the shelf.",
                stock.rule.source,
                lot.container,
                stock.rule.layer,
            )
        )
    return tuple(findings)
