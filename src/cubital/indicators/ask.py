"""
Counting: indicators of a lake by month, place, ward, collector, hour, device, gauge or age group.

One query a table, however many indicators.  What comes back is plain values, in a fixed order.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

import ibis

from cubital.catalogue import Catalogue
from cubital.catalogue.model_quality import Indicator
from cubital.catalogue.table import nearest
from cubital.errors import InputError
from cubital.indicators.engine import Engine
from cubital.indicators.lake import Files, read_files
from cubital.indicators.measures import (
    DIMENSIONS,
    FACTS,
    MEASURES,
    SECONDS,
    SHARES,
    SUMS,
    TIMES,
    Share,
    Sums,
    Terms,
    Time,
    terms_of,
)
from cubital.indicators.schema import DRAWS, SCHEMAS, SPECIMENS
from cubital.indicators.values import LakeSite

Key = tuple[Any, ...]
"""A value of each dimension, in the order asked."""
BACKWARDS, TOO_LONG = -1, -2
"""Bins of times that cannot be true; they come before every other."""


@dataclass(frozen=True, slots=True)
class Lake:
    """
    A lake, open.

    Args:
        tables: ``specimens`` and ``draws`` as Ibis tables.
        sites: by code.
        months: that have specimens or draws, in order.
        unfinished: files that an export left half-written; they are not read.
    """

    engine: Engine
    terms: Terms
    units: Mapping[str, str]
    tables: Mapping[str, Any]
    sites: Mapping[str, LakeSite]
    months: tuple[int, ...]
    unfinished: tuple[str, ...] = ()

    def site_now(self, code: str) -> LakeSite:
        """The place as it is called now."""
        site = self.sites.get(code) or LakeSite(code, code)
        return self.sites[site.now] if site.now else site


@dataclass(frozen=True, slots=True)
class Count:
    """So many of so many: ``bad`` of ``of``."""

    indicator: str
    key: Key
    bad: int
    of: int


@dataclass(frozen=True, slots=True)
class Sum:
    """
    A sum over a sum, with what its interval needs.

    Args:
        rows: how many draws or specimens.
        squares: sums of top², bottom² and top · bottom; 0 where they are not wanted.
    """

    indicator: str
    key: Key
    top: int
    bottom: int
    rows: int
    squares: tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class Quantiles:
    """
    A time in whole units (seconds or minutes, rounded down), by nearest rank: observed values.

    Args:
        count: rows with a time that can be true.
        median, p90: None when there is none.
        low, high: between which the median lies with 95 percent confidence; None when too few.
        backwards: rows whose later step is earlier, so a clock was wrong.
        too_long: rows with a time that is taken for a typing error.
    """

    indicator: str
    key: Key
    count: int
    median: int | None
    low: int | None
    high: int | None
    p90: int | None
    backwards: int
    too_long: int


def open_lake(
    folder: Path, catalogue: Catalogue, engine: Engine, *, months: tuple[int, int] | None = None
) -> Lake:
    """
    Open a lake.

    Args:
        folder: of the lake.
        catalogue: what the indicators count and how long is too long.
        engine: that runs the expressions.
        months: first and last to read, ``202603``; None for all.

    Raises:
        InputError: the folder is no lake, or one of its files cannot be used.
    """
    return lake_of(read_files(folder), catalogue, engine, months)


def lake_of(
    files: Files, catalogue: Catalogue, engine: Engine, months: tuple[int, int] | None
) -> Lake:
    """Open files that were looked at."""
    return Lake(
        engine=engine,
        terms=terms_of(catalogue),
        units={row.indicator: row.unit for row in catalogue.rows(Indicator)},
        tables={name: engine.table(files.paths(name, months)) for name in SCHEMAS},
        sites=files.sites,
        months=tuple(sorted({part.month for part, rows in files.parts.items() if rows})),
        unfinished=files.unfinished,
    )


def counts(
    lake: Lake, indicators: Sequence[str] = tuple(SHARES), by: Sequence[str] = ("month", "site")
) -> tuple[Count, ...]:
    """
    Count shares.

    Raises:
        InputError: no such indicator or dimension.
    """
    found = []
    for table, codes in _by_table(indicators, SHARES, by).items():
        for row in lake.engine.rows(count_expression(lake, table, codes, by)):
            key = tuple(row[name] for name in by)
            found += [
                Count(code, key, row[f"bad_{n}"], row[f"of_{n}"]) for n, code in enumerate(codes)
            ]
    return tuple(sorted(found, key=_in_order))


def count_expression(lake: Lake, table: str, codes: Sequence[str], by: Sequence[str]) -> Any:
    """
    The query behind :func:`counts`, of indicators of one table.

    Rows are counted by the facts that the indicators look at, and the indicators are then counted
    on the few combinations of facts that there are.
    """
    t = with_dimensions(lake, table, by)
    shares: list[Share] = [SHARES[code] for code in codes]
    names = dict.fromkeys(name for share in shares for name in share.facts)
    facts = facts_of(t, lake.terms, table, names, by)
    facts = facts.group_by([*by, *names]).aggregate(rows=facts.count())
    columns = {}
    for n, share in enumerate(shares):
        of = share.of(facts, lake.terms)
        columns[f"bad_{n}"] = facts.rows.sum(where=of & share.bad(facts, lake.terms)).fill_null(0)
        columns[f"of_{n}"] = facts.rows.sum(where=of).fill_null(0)
    return grouped(facts, by, columns)


def facts_of(t: Any, terms: Terms, table: str, names: Iterable[str], kept: Sequence[str]) -> Any:
    """A table of facts, with the columns that are kept besides."""
    made = {name: FACTS[table][name](t, terms) for name in names}
    return t.select(**{name: t[name] for name in kept}, **made)


def sums(
    lake: Lake, indicators: Sequence[str] = tuple(SUMS), by: Sequence[str] = ("month", "site")
) -> tuple[Sum, ...]:
    """
    Sum rates and ratios.

    Raises:
        InputError: no such indicator or dimension.
    """
    found = []
    for table, codes in _by_table(indicators, SUMS, by).items():
        t = with_dimensions(lake, table, by)
        columns: dict[str, Any] = {}
        for n, code in enumerate(codes):
            columns |= _sum_columns(t, SUMS[code], lake.terms, n)
        for row in lake.engine.rows(grouped(t, by, columns)):
            key = tuple(row[name] for name in by)
            found += [_sum(code, key, row, n) for n, code in enumerate(codes)]
    return tuple(sorted(found, key=_in_order))


def _sum_columns(t: Any, each: Sums, terms: Terms, n: int) -> dict[str, Any]:
    of = each.of(t, terms)
    top = each.top(t, terms).cast("int64")
    bottom = each.bottom(t, terms).cast("int64")
    return {
        f"rows_{n}": t.count(where=of),
        f"top_{n}": top.sum(where=of),
        f"bottom_{n}": bottom.sum(where=of),
        **(
            {
                f"tt_{n}": (top * top).sum(where=of),
                f"bb_{n}": (bottom * bottom).sum(where=of),
                f"tb_{n}": (top * bottom).sum(where=of),
            }
            if each.spread
            else {}
        ),
    }


def _sum(code: str, key: Key, row: Mapping[str, Any], n: int) -> Sum:
    top, bottom, tt, bb, tb = (
        int(row.get(f"{name}_{n}") or 0) for name in ("top", "bottom", "tt", "bb", "tb")
    )
    return Sum(code, key, top, bottom, row[f"rows_{n}"], (tt, bb, tb))


def quantiles(
    lake: Lake, indicators: Sequence[str] = tuple(TIMES), by: Sequence[str] = ("month", "site")
) -> tuple[Quantiles, ...]:
    """
    Medians and 90th percentiles of times.

    Raises:
        InputError: no such indicator or dimension.
    """
    found = []
    for codes in _by_table(indicators, TIMES, by).values():
        for code in codes:
            for row in lake.engine.rows(quantile_expression(lake, code, by)):
                key = tuple(row.pop(name) for name in by)
                found.append(Quantiles(code, key, **row))
    return tuple(sorted(found, key=_in_order))


def quantile_expression(lake: Lake, code: str, by: Sequence[str]) -> Any:
    """
    The query behind :func:`quantiles`: a histogram first, then ranks in it.

    A histogram of whole units is small however many rows there are, and ranks in it are whole
    numbers, so the answer is an observed value and the same on every engine.  The ranks of the
    median's interval are ``(n -+ z·√n) / 2`` (Campbell and Gardner 1988, from memory).
    """
    time: Time = TIMES[code]
    t = with_dimensions(lake, time.table, by)
    t = t.mutate(seconds=time.seconds(t, lake.terms))
    t = t.filter(t.seconds.notnull())
    unit = SECONDS[lake.units[code]]
    bins = t.select(
        *by,
        bin=ibis.cases(
            (t.seconds < 0, BACKWARDS),
            (t.seconds > lake.terms.longest_s, TOO_LONG),
            else_=t.seconds // unit,
        ).cast("int32"),
    )
    bins = bins.group_by([*by, "bin"]).aggregate(rows=bins.count())
    bins = bins.mutate(good=(bins.bin >= 0).ifelse(bins.rows, 0))
    upto = ibis.window(group_by=list(by), order_by="bin", preceding=None, following=0)
    bins = bins.mutate(
        n=bins.good.sum().over(ibis.window(group_by=list(by))), upto=bins.good.sum().over(upto)
    )
    valid = bins.bin >= 0
    reach = bins.n.cast("float64").sqrt() * lake.terms.z
    low, high = (bins.n - reach) / 2, (bins.n + reach) / 2 + 1
    columns = {
        "count": bins.good.sum().fill_null(0),
        "median": bins.bin.min(where=valid & (bins.upto * 2 >= bins.n)),
        "low": bins.bin.min(where=valid & (low >= 1) & (bins.upto >= low)),
        "high": bins.bin.min(where=valid & (high <= bins.n) & (bins.upto >= high)),
        "p90": bins.bin.min(where=valid & (bins.upto * 10 >= bins.n * 9)),
        "backwards": bins.rows.sum(where=bins.bin == BACKWARDS).fill_null(0),
        "too_long": bins.rows.sum(where=bins.bin == TOO_LONG).fill_null(0),
    }
    return grouped(bins, by, columns)


@dataclass(frozen=True, slots=True)
class Tally:
    """
    How much there is.

    Args:
        late: specimens with an event that reached the record late.
    """

    specimens: int = 0
    received: int = 0
    late: int = 0
    draws: int = 0


def tallies(lake: Lake, by: Sequence[str] = ("site",)) -> dict[Key, Tally]:
    """
    How many specimens and draws there are.

    Raises:
        InputError: no such dimension.
    """
    _by_table((), {}, by)
    t, d = (with_dimensions(lake, name, by) for name in (SPECIMENS, DRAWS))
    columns = {
        "specimens": t.count(),
        "received": t.count(where=t.received_at.notnull()),
        "late": t.count(where=t.late_s > lake.terms.late_s),
    }
    found: dict[Key, Tally] = {}
    for row in lake.engine.rows(grouped(t, by, columns)):
        key = tuple(row.pop(name) for name in by)
        found[key] = Tally(**row)
    for row in lake.engine.rows(grouped(d, by, {"draws": d.count()})):
        key = tuple(row[name] for name in by)
        found[key] = replace(found.get(key, Tally()), draws=row["draws"])
    return found


Figure = TypeVar("Figure", bound=Count | Sum | Quantiles)


def only_own(found: Sequence[Figure], by: Sequence[str], person: str) -> tuple[Figure, ...]:
    """
    What a collector may see of figures by collector: their own.

    Everybody else but the quality officer sees none of them.  Figures that are not counted by
    collector are for everybody.
    """
    if "collector" not in by:
        return tuple(found)
    at = list(by).index("collector")
    return tuple(each for each in found if person and each.key[at] == person)


# ------------------------------------------------------------------ what they share


def with_dimensions(lake: Lake, table: str, by: Sequence[str]) -> Any:
    """A table whose ``site`` is the code under which each place goes on now."""
    t = lake.tables[table]
    moved = {site.code: site.now for site in lake.sites.values() if site.now}
    if "site" in by and moved:
        t = t.mutate(site=t.site.substitute(moved))
    return t


def grouped(t: Any, by: Sequence[str], columns: Mapping[str, Any]) -> Any:
    """Aggregate by dimensions, or the whole table when there are none."""
    return t.group_by(list(by)).aggregate(**columns) if by else t.aggregate(**columns)


def _by_table(
    indicators: Sequence[str], known: Mapping[str, Any], by: Sequence[str]
) -> dict[str, list[str]]:
    for name in by:
        if name not in DIMENSIONS:
            close = nearest(name, DIMENSIONS) or "one of " + ", ".join(DIMENSIONS)
            raise InputError(f"nothing is counted by “{name}”", "by", f"Write {close}.")
    tables: dict[str, list[str]] = {}
    for code in dict.fromkeys(indicators):
        if code not in known:
            close = nearest(code, known) or "one of " + ", ".join(known)
            kind = "is of another kind" if code in MEASURES else "is no indicator"
            raise InputError(f"{code} {kind}", "indicator", f"Write {close}.")
        tables.setdefault(known[code].table, []).append(code)
    return tables


def _in_order(each: Count | Sum | Quantiles) -> tuple[Any, ...]:
    """By indicator, then by key; what has no value comes first."""
    place = list(MEASURES).index(each.indicator)
    return (place, *((value is not None, value if value is not None else 0) for value in each.key))
