"""
The indicators once more, in plain Python over the rows: what the expressions are held against.

Written from the words of ``indicators.csv``, without a look at the expressions.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Sequence
from math import ceil, sqrt
from typing import Any

from cubital.catalogue import shipped
from cubital.catalogue.model_quality import IndicatorReason
from cubital.catalogue.model_reception import ReceptionRule
from cubital.indicators.values import DrawRow, LakeRows, SpecimenRow

HAEMOLYSIS_MG_L = 500
TOURNIQUET_S, COAGULATION_S = 60, 45
LONGEST_S = 720 * 3600


def words_of(indicator: str) -> set[str]:
    """Reasons that count in an indicator."""
    catalogue = shipped()
    rules = {r.code for r in catalogue.rows(ReceptionRule) if r.indicator == indicator}
    return rules | {r.reason for r in catalogue.rows(IndicatorReason) if r.indicator == indicator}


WORDS = {
    code: words_of(code)
    for code in ("Pre-MisR", "Pre-MisS", "Pre-WroTy", "Pre-WroCo", "Pre-InsV", "Pre-SaAnt",
                 "Pre-HemV", "Pre-HemR", "Pre-Clot", "Pre-DamS", "Pre-InTem", "Pre-ExcTim",
                 "Pre-NotSt", "Pre-Cont", "Out-RecLab")
}  # fmt: skip


def any_of(text: str, indicator: str) -> bool:
    """Whether a list of words has one that counts."""
    return bool({w for w in text.split(";") if w} & WORDS[indicator])


def specimen_share(code: str, row: SpecimenRow) -> bool | None:
    """Whether a specimen is bad in an indicator, None when it does not count in it."""
    received = row.received_at is not None
    chemistry = received and row.chemistry
    index = row.haemolysis_mg_l
    if code == "Pre-MisR":
        return any_of(row.request_found, code) if row.request_first else None
    if code == "Pre-NotRec":
        return row.not_received if received or row.not_received else None
    if code == "Pre-HemV":
        if not chemistry or index is not None:
            return None
        return any_of(row.found, "Pre-HemV") or any_of(row.found, "Pre-HemR")
    if code == "Pre-HemI":
        return index > HAEMOLYSIS_MG_L if chemistry and index is not None else None
    if code == "Pre-HemR":
        return any_of(row.reasons, code) if chemistry else None
    if code in ("Pre-SaAnt", "Pre-Clot"):
        return any_of(row.found, code) if received and row.anticoagulated else None
    if not received:
        return None
    if code == "Pre-RejS":
        return row.reasons != ""
    return any_of(row.recollected if code == "Out-RecLab" else row.found, code)


def draw_share(code: str, row: DrawRow) -> bool | None:
    """The same of a draw."""
    if code == "desk-pricks":
        return row.attempts > 1 if row.attempts else None
    if code == "desk-not-obtained":
        return not row.obtained if row.ended else None
    if code == "desk-order":
        return row.order_breaches > 0 if row.tubes > 1 else None
    if row.tourniquet_s is None:
        return None
    return row.tourniquet_s > (COAGULATION_S if row.coagulation else TOURNIQUET_S)


def share(code: str, rows: LakeRows, by: Sequence[str]) -> dict[tuple[Any, ...], tuple[int, int]]:
    """Bad and of, by key; a key without anything that counts has 0 of 0."""
    table: Iterable[Any] = rows.draws if code.startswith("desk-") else rows.specimens
    how: Callable[[str, Any], bool | None] = (
        draw_share if code.startswith("desk-") else specimen_share
    )
    found: dict[tuple[Any, ...], list[int]] = defaultdict(lambda: [0, 0])
    for row in table:
        tally = found[tuple(getattr(row, name) for name in by)]
        bad = how(code, row)
        if bad is not None:
            tally[0] += bad
            tally[1] += 1
    return {key: (bad, of) for key, (bad, of) in found.items()}


def time_s(code: str, row: Any) -> int | None:
    """Seconds of a time."""
    if code == "desk-tourniquet":
        return row.tourniquet_s
    if code == "desk-to-reception":
        return row.transport_s
    if code == "desk-to-spin":
        return row.spin_wait_s
    if row.transport_s is None or row.spin_wait_s is None:
        return None
    return row.transport_s + row.spin_wait_s


def quantiles(code: str, rows: LakeRows, by: Sequence[str]) -> dict[tuple[Any, ...], Any]:
    """(count, median, low, high, p90, backwards, too long) by key, by nearest rank."""
    table: Iterable[Any] = rows.draws if code == "desk-tourniquet" else rows.specimens
    unit = 1 if code == "desk-tourniquet" else 60
    groups: dict[tuple[Any, ...], list[int]] = defaultdict(list)
    for row in table:
        seconds = time_s(code, row)
        if seconds is not None:
            groups[tuple(getattr(row, name) for name in by)].append(seconds)
    return {key: _ranks(values, unit) for key, values in groups.items()}


def _ranks(values: list[int], unit: int) -> tuple[Any, ...]:
    kinds = Counter("back" if v < 0 else "long" if v > LONGEST_S else "good" for v in values)
    good = sorted(v // unit for v in values if 0 <= v <= LONGEST_S)
    n = len(good)

    def rank(at: float) -> int | None:
        return good[ceil(at) - 1] if n and 1 <= at <= n else None

    reach = sqrt(n) * 1.959963984540054
    return (
        n, rank(max(1, n / 2)), rank((n - reach) / 2), rank((n + reach) / 2 + 1),
        rank(max(1, n * 9 / 10)), kinds["back"], kinds["long"],
    )  # fmt: skip
