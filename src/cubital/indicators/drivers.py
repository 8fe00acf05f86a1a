"""
What drives haemolysis here: a logistic regression, or an honest no.

The engine counts specimens by pattern of place, gauge, device, needle, tourniquet and transport
time; the model is fitted to the patterns, which gives what it would give on every specimen.  With
fewer events than policy wants for each effect there is no model, and the sentence says so.
"""

from __future__ import annotations

import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, isfinite
from typing import Any

import ibis
import numpy as np
import statsmodels.api as sm
from statsmodels.tools.sm_exceptions import PerfectSeparationWarning

from cubital.catalogue import Catalogue
from cubital.catalogue.table import nearest
from cubital.errors import InputError
from cubital.indicators.ask import Lake, facts_of, with_dimensions
from cubital.indicators.intervals import z_of
from cubital.indicators.measures import haemolysed
from cubital.indicators.say import some
from cubital.indicators.schema import SPECIMENS

GROUPS = ("site", "device", "gauge", "attempt")
AMOUNTS = {"tourniquet": "30 s of tourniquet", "transport": "hour on the way"}
FACTORS = (*GROUPS, *AMOUNTS)
TOURNIQUET_STEP_S, TOURNIQUET_PER_S = 10, 30
TRANSPORT_STEP_S, TRANSPORT_PER_S = 900, 3600
FARTHEST = 20.0
"""A logarithm of odds beyond this means that a pattern is all or none: nothing to estimate."""
CAUTION = (
    "An effect is an association in this laboratory's own specimens, not a proof of cause. Tubes of"
    " one draw share their needle, so the intervals are somewhat too narrow."
)
Pattern = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Effect:
    """
    One effect.

    Args:
        factor: ``site``, ``gauge`` …
        level: against ``reference``; "" for an amount.
        odds: how many times the odds of haemolysis.
        low, high: interval of it.
        sentence: the same in words.
    """

    factor: str
    level: str
    reference: str
    odds: float
    low: float
    high: float
    sentence: str


@dataclass(frozen=True, slots=True)
class Drivers:
    """
    The answer.

    Args:
        events: haemolysed specimens in the model.
        of: all specimens in the model.
        effects: () where there is no model.
        refused: why there is no model, "" where there is one.
        sentences: what was left out and why, and the caution.
    """

    events: int
    of: int
    effects: tuple[Effect, ...]
    refused: str
    sentences: tuple[str, ...]


def drivers(lake: Lake, catalogue: Catalogue, factors: Sequence[str] = FACTORS) -> Drivers:
    """
    Ask what goes with haemolysis.

    Args:
        lake: open on the months that count.
        catalogue: with the policy.
        factors: which to look at together.

    Raises:
        InputError: no such factor.
    """
    for name in factors:
        if name not in FACTORS:
            close = nearest(name, FACTORS) or "one of " + ", ".join(FACTORS)
            raise InputError(f"“{name}” is no factor", "factors", f"Write {close}.")
    patterns = lake.engine.rows(pattern_expression(lake))
    names = {code: lake.site_now(code).name for code in {str(row["site"]) for row in patterns}}
    return fit(patterns, factors, catalogue, names)


def pattern_expression(lake: Lake) -> Any:
    """Clinical chemistry specimens and how many are haemolysed, by pattern."""
    t = with_dimensions(lake, SPECIMENS, ("site",))
    t = t.filter(t.chemistry & t.received_at.notnull())
    possible = (t.transport_s >= 0) & (t.transport_s <= lake.terms.longest_s)
    t = t.mutate(
        tourniquet=t.tourniquet_s // TOURNIQUET_STEP_S,
        transport=possible.ifelse(t.transport_s, None) // TRANSPORT_STEP_S,
        attempt=ibis.cases((t.attempt > 1, "later"), (t.attempt == 1, "first"), else_=None),
    )
    t = facts_of(t, lake.terms, SPECIMENS, ("found", "index_high"), (*GROUPS, *AMOUNTS))
    t = t.mutate(bad=haemolysed(t, lake.terms))
    patterns = t.group_by([*GROUPS, *AMOUNTS]).aggregate(bad=t.count(where=t.bad), of=t.count())
    return patterns.order_by([*GROUPS, *AMOUNTS])


def fit(
    patterns: Sequence[Pattern],
    factors: Sequence[str],
    catalogue: Catalogue,
    site_names: Mapping[str, str] | None = None,
) -> Drivers:
    """
    Fit the model to patterns, or say why not.

    Args:
        patterns: each with ``site``, ``device``, ``gauge``, ``attempt``, ``tourniquet`` (steps of
            10 s), ``transport`` (steps of a quarter of an hour), ``bad`` and ``of``.
        factors: which to look at.
        catalogue: with the policy.
        site_names: shown instead of codes.
    """
    least = catalogue.number("indicator_few")
    kept, left_out = _complete(patterns, factors)
    groups, amounts, said = _usable(kept, factors, least)
    kept, more = _without_rare(kept, groups, least)
    groups, amounts, again = _usable(kept, (*groups, *amounts), least)
    sentences = [*left_out, *said, *more, *again]
    bad = sum(row["bad"] for row in kept)
    of = sum(row["of"] for row in kept)
    levels = {name: _levels(kept, name) for name in groups}
    effects = sum(len(each) - 1 for each in levels.values()) + len(amounts)
    refused = _refusal(min(bad, of - bad), of, effects, catalogue.number("events_per_variable"))
    if refused:
        return Drivers(bad, of, (), refused, tuple(sentences))
    columns, names = _design(kept, levels, amounts)
    fitted = _solve(columns, kept)
    if fitted is None:
        refused = "The effects cannot be told apart in these specimens; there is no model."
        return Drivers(bad, of, (), refused, tuple(sentences))
    z = z_of(catalogue)
    shown = site_names or {}
    found = tuple(
        _effect(name, level, levels, float(b), float(se), z, shown)
        for (name, level), b, se in zip(names, *fitted, strict=True)
    )
    return Drivers(bad, of, found, "", (*sentences, CAUTION))


def _complete(
    patterns: Sequence[Pattern], factors: Sequence[str]
) -> tuple[list[Pattern], list[str]]:
    """Patterns with every factor on record."""
    kept = [row for row in patterns if all(row[name] not in (None, "") for name in factors)]
    lost = sum(row["of"] for row in patterns) - sum(row["of"] for row in kept)
    if not lost:
        return kept, []
    return kept, [f"{lost} specimens are left out: something of {', '.join(factors)} is missing."]


def _usable(
    rows: Sequence[Pattern], factors: Sequence[str], least: int
) -> tuple[list[str], list[str], list[str]]:
    """Factors that vary, and a sentence for each that does not."""
    groups: list[str] = []
    amounts: list[str] = []
    said: list[str] = []
    for name in factors:
        values: dict[Any, int] = {}
        for row in rows:
            values[row[name]] = values.get(row[name], 0) + row["of"]
        common = [value for value, of in values.items() if name in AMOUNTS or of >= least]
        if len(common) < 2:
            said.append(f"The {name} hardly differs between specimens, so nothing is said of it.")
        elif name in AMOUNTS:
            amounts.append(name)
        else:
            groups.append(name)
    return groups, amounts, said


def _without_rare(
    rows: Sequence[Pattern], groups: Sequence[str], least: int
) -> tuple[list[Pattern], list[str]]:
    """
    Patterns without levels that are rare, or in which all or none are haemolysed.

    Leaving one level out may make another rare, so it goes on until nothing changes.
    """
    kept = list(rows)
    said: list[str] = []
    while True:
        odd = _odd_level(kept, groups, least)
        if odd is None:
            return kept, said
        name, level, of, why = odd
        kept = [row for row in kept if row[name] != level]
        said.append(f"{name} {level} is left out ({of} specimens): {why}.")


def _odd_level(
    rows: Sequence[Pattern], groups: Sequence[str], least: int
) -> tuple[str, Any, int, str] | None:
    for name in groups:
        for level, (bad, of) in sorted(_tallies(rows, name).items(), key=lambda each: str(each[0])):
            if of < least:
                return name, level, of, f"fewer than {least}"
            if bad in (0, of):
                return name, level, of, "none is haemolysed" if bad == 0 else "all are haemolysed"
    return None


def _tallies(rows: Sequence[Pattern], name: str) -> dict[Any, tuple[int, int]]:
    found: dict[Any, tuple[int, int]] = {}
    for row in rows:
        bad, of = found.get(row[name], (0, 0))
        found[row[name]] = (bad + row["bad"], of + row["of"])
    return found


def _levels(rows: Sequence[Pattern], name: str) -> list[Any]:
    """Levels, the most common first: the reference."""
    tallies = _tallies(rows, name)
    return sorted(tallies, key=lambda level: (-tallies[level][1], str(level)))


def _refusal(events: int, of: int, effects: int, per_effect: int) -> str:
    if effects == 0:
        return "No factor differs between specimens; there is nothing to compare."
    needed = effects * per_effect
    if events >= needed:
        return ""
    return (
        f"{events:,} of {some(of, 'specimen')} tell of haemolysis; to estimate"
        f" {some(effects, 'effect')} takes at least {needed} ({per_effect} each). There is no"
        " model: wait for more, or ask about fewer factors."
    )


def _design(
    rows: Sequence[Pattern], levels: Mapping[str, list[Any]], amounts: Sequence[str]
) -> tuple[np.ndarray, list[tuple[str, str]]]:
    """The columns of the model, the intercept first, and what each of the others stands for."""
    columns = [np.ones(len(rows))]
    names = []
    for name, each in levels.items():
        for level in each[1:]:
            columns.append(np.array([float(row[name] == level) for row in rows]))
            names.append((name, str(level)))
    steps = {
        "tourniquet": TOURNIQUET_STEP_S / TOURNIQUET_PER_S,
        "transport": TRANSPORT_STEP_S / TRANSPORT_PER_S,
    }
    for name in amounts:
        columns.append(np.array([row[name] * steps[name] for row in rows], dtype=float))
        names.append((name, ""))
    return np.column_stack(columns), names


def _solve(columns: np.ndarray, rows: Sequence[Pattern]) -> tuple[np.ndarray, np.ndarray] | None:
    """Coefficients without the intercept, and their standard errors; None when there are none."""
    counts = np.array([[row["bad"], row["of"] - row["bad"]] for row in rows], dtype=float)
    if np.linalg.matrix_rank(columns) < columns.shape[1]:
        return None
    with warnings.catch_warnings():
        # as many effects as patterns fit perfectly without being separated; what is separated
        # shows in coefficients that run away
        warnings.simplefilter("ignore", PerfectSeparationWarning)
        warnings.simplefilter("ignore", RuntimeWarning)
        try:
            result = sm.GLM(counts, columns, family=sm.families.Binomial()).fit()
        except np.linalg.LinAlgError:
            return None
    coefficients, errors = np.asarray(result.params)[1:], np.asarray(result.bse)[1:]
    sound = result.converged and all(isfinite(each) for each in (*coefficients, *errors))
    if sound and max(abs(coefficients) + abs(errors)) > FARTHEST:
        return None
    return (coefficients, errors) if sound else None


def _effect(
    name: str,
    level: str,
    levels: Mapping[str, list[Any]],
    coefficient: float,
    error: float,
    z: float,
    site_names: Mapping[str, str],
) -> Effect:
    odds, low, high = (exp(coefficient + k * z * error) for k in (0, -1, 1))
    sure = f"{odds:.2f} times the odds (interval {low:.2f} to {high:.2f})"
    unsure = "" if low > 1 or high < 1 else "; no difference is possible as well"
    if name in AMOUNTS:
        text = f"Each {AMOUNTS[name]}: {sure}{unsure}."
        return Effect(name, "", "", odds, low, high, text)
    reference = str(levels[name][0])
    this, that = (site_names.get(code, code) for code in (level, reference))
    unit = " G" if name == "gauge" else ""
    label = "needle" if name == "attempt" else name
    text = f"{label.capitalize()} {this}{unit} against {that}{unit}: {sure}{unsure}."
    return Effect(name, level, reference, odds, low, high, text)
