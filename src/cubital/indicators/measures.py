"""
The indicators as Ibis expressions: one set, whatever the engine.

A share is a pair of conditions on a row; a rate or ratio a pair of numbers; a time a number of
seconds.  Codes, words and limits come from the catalogue (:class:`Terms`).  Every result is a whole
number, so engines agree to the last digit.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import reduce
from operator import or_
from typing import Any

import ibis

from cubital.catalogue import Catalogue
from cubital.catalogue.model_quality import IndicatorReason
from cubital.catalogue.model_reception import ReceptionRule
from cubital.indicators.intervals import z_of
from cubital.indicators.schema import DRAWS, SPECIMENS

SECONDS = {"s": 1, "min": 60}


@dataclass(frozen=True, slots=True)
class Terms:
    """
    What the expressions take from the catalogue.

    Args:
        words: indicator -> reasons that count in it.
        haemolysis_mg_l: free haemoglobin above which a sample counts as haemolysed.
        tourniquet_s, tourniquet_coagulation_s: longest times.
        longest_s: a time longer than this is taken for a typing error.
        late_s: from how late on an event is told of.
        z: normal quantile of the confidence of every interval.
    """

    words: Mapping[str, tuple[str, ...]]
    haemolysis_mg_l: int
    tourniquet_s: int
    tourniquet_coagulation_s: int
    longest_s: int
    late_s: int
    z: float


def terms_of(catalogue: Catalogue) -> Terms:
    """Look the terms up."""
    words: dict[str, list[str]] = {}
    for rule in catalogue.rows(ReceptionRule):
        if rule.indicator:
            words.setdefault(rule.indicator, []).append(rule.code)
    for row in catalogue.rows(IndicatorReason):
        words.setdefault(row.indicator, []).append(row.reason)
    return Terms(
        words={code: tuple(dict.fromkeys(each)) for code, each in words.items()},
        haemolysis_mg_l=catalogue.number("indicator_haemolysis_mg_l"),
        tourniquet_s=catalogue.number("tourniquet_max_s"),
        tourniquet_coagulation_s=catalogue.number("tourniquet_coagulation_max_s"),
        longest_s=catalogue.number("indicator_longest_h") * 3600,
        late_s=catalogue.number("indicator_late_h") * 3600,
        z=z_of(catalogue),
    )


Expression = Callable[[Any, Terms], Any]


@dataclass(frozen=True, slots=True)
class Share:
    """
    So many of so many rows: both are conditions on facts.

    Args:
        facts: names in :data:`FACTS` of what the conditions look at.
    """

    table: str
    facts: tuple[str, ...]
    bad: Expression
    of: Expression


@dataclass(frozen=True, slots=True)
class Sums:
    """
    A sum over a sum; ``of`` says which rows count.

    Args:
        spread: whether the sums of squares are wanted, for an interval of the ratio.
    """

    table: str
    top: Expression
    bottom: Expression
    of: Expression
    spread: bool = False


@dataclass(frozen=True, slots=True)
class Time:
    """A number of seconds a row; None where the row has none."""

    table: str
    seconds: Expression


def has(column: Any, words: Iterable[str]) -> Any:
    """Whether a column of words (``;a;b;``) holds one of them."""
    kept = list(words)
    if not kept:
        return ibis.literal(False)
    return reduce(or_, [column.contains(f";{word};") for word in kept])


def _too_long(t: Any, terms: Terms) -> Any:
    limit = t.coagulation.ifelse(terms.tourniquet_coagulation_s, terms.tourniquet_s)
    return t.tourniquet_s > limit


FACTS: dict[str, dict[str, Expression]] = {
    SPECIMENS: {
        "found": lambda t, _: t.found,
        "reasons": lambda t, _: t.reasons,
        "recollected": lambda t, _: t.recollected,
        "request_found": lambda t, _: t.request_found,
        "request_first": lambda t, _: t.request_first,
        "not_received": lambda t, _: t.not_received,
        "received": lambda t, _: t.received_at.notnull(),
        "chemistry": lambda t, _: t.chemistry,
        "anticoagulated": lambda t, _: t.anticoagulated,
        "index_high": lambda t, terms: t.haemolysis_mg_l > terms.haemolysis_mg_l,
    },
    DRAWS: {
        "needle": lambda t, _: t.attempts > 0,
        "needles": lambda t, _: t.attempts > 1,
        "ended": lambda t, _: t.ended,
        "obtained": lambda t, _: t.obtained,
        "too_long": _too_long,
        "pair": lambda t, _: t.tubes > 1,
        "breach": lambda t, _: t.order_breaches > 0,
    },
}
"""
Table -> what the shares look at: each has few values, so rows are first counted by their facts and
the conditions are tried on the few combinations there are.  ``index_high`` and ``too_long`` are
null where nothing was measured.
"""


def haemolysed(f: Any, terms: Terms) -> Any:
    """Whether a sample is haemolysed, by index where it was measured, else by eye."""
    seen = has(f.found, (*terms.words.get("Pre-HemV", ()), *terms.words.get("Pre-HemR", ())))
    return f.index_high.isnull().ifelse(seen, f.index_high)


def _received(f: Any, _: Terms) -> Any:
    return f.received


def _found(code: str) -> Share:
    return Share(
        SPECIMENS,
        ("found", "received"),
        lambda f, terms: has(f.found, terms.words.get(code, ())),
        _received,
    )


def _found_anticoagulated(code: str) -> Share:
    return Share(
        SPECIMENS,
        ("found", "received", "anticoagulated"),
        lambda f, terms: has(f.found, terms.words.get(code, ())),
        lambda f, _: f.anticoagulated & f.received,
    )


SHARES: dict[str, Share] = {
    "Pre-MisR": Share(
        SPECIMENS,
        ("request_found", "request_first"),
        lambda f, terms: has(f.request_found, terms.words.get("Pre-MisR", ())),
        lambda f, _: f.request_first,
    ),
    "Pre-MisS": _found("Pre-MisS"),
    "Pre-WroTy": _found("Pre-WroTy"),
    "Pre-WroCo": _found("Pre-WroCo"),
    "Pre-InsV": _found("Pre-InsV"),
    "Pre-SaAnt": _found_anticoagulated("Pre-SaAnt"),
    "Pre-HemV": Share(
        SPECIMENS,
        ("found", "chemistry", "received", "index_high"),
        haemolysed,
        lambda f, _: f.chemistry & f.received & f.index_high.isnull(),
    ),
    "Pre-HemI": Share(
        SPECIMENS,
        ("chemistry", "received", "index_high"),
        lambda f, _: f.index_high,
        lambda f, _: f.chemistry & f.received & f.index_high.notnull(),
    ),
    "Pre-HemR": Share(
        SPECIMENS,
        ("reasons", "chemistry", "received"),
        lambda f, terms: has(f.reasons, terms.words.get("Pre-HemR", ())),
        lambda f, _: f.chemistry & f.received,
    ),
    "Pre-Clot": _found_anticoagulated("Pre-Clot"),
    "Pre-NotRec": Share(
        SPECIMENS,
        ("not_received", "received"),
        lambda f, _: f.not_received,
        lambda f, _: f.not_received | f.received,
    ),
    "Pre-DamS": _found("Pre-DamS"),
    "Pre-InTem": _found("Pre-InTem"),
    "Pre-ExcTim": _found("Pre-ExcTim"),
    "Pre-NotSt": _found("Pre-NotSt"),
    "Pre-Cont": _found("Pre-Cont"),
    "Pre-RejS": Share(SPECIMENS, ("reasons", "received"), lambda f, _: f.reasons != "", _received),
    "Out-RecLab": Share(
        SPECIMENS,
        ("recollected", "received"),
        lambda f, terms: has(f.recollected, terms.words.get("Out-RecLab", ())),
        _received,
    ),
    "desk-pricks": Share(
        DRAWS, ("needle", "needles"), lambda f, _: f.needles, lambda f, _: f.needle
    ),
    "desk-not-obtained": Share(
        DRAWS, ("ended", "obtained"), lambda f, _: ~f.obtained, lambda f, _: f.ended
    ),
    "desk-tourniquet-long": Share(
        DRAWS, ("too_long",), lambda f, _: f.too_long, lambda f, _: f.too_long.notnull()
    ),
    "desk-order": Share(DRAWS, ("pair", "breach"), lambda f, _: f.breach, lambda f, _: f.pair),
}
"""Indicator -> its numerator and denominator."""

SUMS: dict[str, Sums] = {
    "desk-attempts": Sums(
        DRAWS,
        lambda t, _: t.attempts,
        lambda t, _: t.obtained.ifelse(1, 0),
        lambda t, _: t.attempts > 0,
    ),
    "desk-blood": Sums(
        DRAWS,
        lambda t, _: t.drawn_known_ul,
        lambda t, _: t.needed_ul,
        lambda t, _: t.needed_ul.notnull(),
        spread=True,
    ),
}
"""Indicator -> what is summed over what."""

TIMES: dict[str, Time] = {
    "desk-tourniquet": Time(DRAWS, lambda t, _: t.tourniquet_s),
    "desk-to-reception": Time(SPECIMENS, lambda t, _: t.transport_s),
    "desk-to-spin": Time(SPECIMENS, lambda t, _: t.spin_wait_s),
    "desk-collection-to-spin": Time(SPECIMENS, lambda t, _: t.transport_s + t.spin_wait_s),
}
"""Indicator -> its seconds."""

MEASURES: dict[str, Share | Sums | Time] = {**SHARES, **SUMS, **TIMES}
"""Every indicator that has an expression."""

DIMENSIONS = (
    "month", "week", "site", "ward", "collector", "hour", "device", "gauge", "age_group",
)  # fmt: skip
"""By what an indicator may be counted."""
