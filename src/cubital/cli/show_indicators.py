"""
Indicators on a terminal: rows of a table, and the sentences of a report.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from cubital.catalogue import Catalogue
from cubital.errors import InputError
from cubital.indicators.ask import Count, Lake, Quantiles, Sum, counts, quantiles, sums
from cubital.indicators.intervals import (
    Interval,
    attempts_interval,
    ratio_interval,
    wilson,
    z_of,
)
from cubital.indicators.measures import MEASURES, SHARES, SUMS, TIMES
from cubital.indicators.report_values import Report
from cubital.indicators.say import number, percent, percent_range

Row = list[Any]


def rows_of(
    lake: Lake, codes: Sequence[str], by: Sequence[str], catalogue: Catalogue
) -> tuple[list[str], list[Row]]:
    """
    A table of indicators: its header and rows.

    Raises:
        InputError: no such indicator or dimension.
    """
    for code in codes:
        if code not in MEASURES:
            raise InputError(
                f"{code} is no indicator", "CODE", "See them with: cubital indicators list."
            )
    z = z_of(catalogue)
    few = catalogue.number("indicator_few")
    found: list[Count | Sum | Quantiles] = [
        *counts(lake, [code for code in codes if code in SHARES], by),
        *sums(lake, [code for code in codes if code in SUMS], by),
        *quantiles(lake, [code for code in codes if code in TIMES], by),
    ]
    rows = [
        [each.indicator, *_key(lake, each.key, by), *_figure(each, z, few, lake)] for each in found
    ]
    return ["indicator", *by, "counted", "figure", "interval"], rows


def _key(lake: Lake, key: Sequence[Any], by: Sequence[str]) -> Row:
    return [
        lake.site_now(value).name if name == "site" else value
        for name, value in zip(by, key, strict=True)
    ]


def _figure(each: Count | Sum | Quantiles, z: float, few: int, lake: Lake) -> Row:
    if isinstance(each, Count):
        counted = f"{each.bad} of {each.of}"
        if each.of < few:
            return [counted, "too few" if each.of else None, None]
        return [counted, percent(each.bad / each.of), percent_range(wilson(each.bad, each.of, z))]
    if isinstance(each, Sum):
        counted = f"{each.top} / {each.bottom}"
        if not each.bottom:
            return [counted, None, None]
        span = (
            attempts_interval(each.top, each.bottom, z)
            if each.indicator == "desk-attempts"
            else ratio_interval(each.top, each.bottom, each.rows, each.squares, z)
        )
        return [counted, number(each.top / each.bottom), _span(span)]
    unit = lake.units[each.indicator]
    counted = str(each.count)
    if each.backwards or each.too_long:
        counted += f" ({each.backwards} backwards, {each.too_long} too long left out)"
    if each.median is None:
        return [counted, None, None]
    low_high = None if each.low is None else f"{each.low} to {each.high} {unit}"
    return [counted, f"median {each.median}, 90 % within {each.p90} {unit}", low_high]


def _span(interval: Interval | None) -> str | None:
    return None if interval is None else f"{number(interval.low)} to {number(interval.high)}"


def sentences_of(report: Report) -> Iterator[str]:
    """A report line by line."""
    yield report.title
    yield ""
    yield from report.headlines
    if report.findings:
        yield ""
        yield from (f"! {finding.sentence}" for finding in report.findings)
    for line in report.lines:
        yield ""
        yield f"{line.what.name} ({line.what.code})"
        yield from (f"  {sentence}" for sentence in line.sentences)
    if report.drivers is not None:
        yield ""
        yield "What goes with haemolysis here"
        yield from (f"  {effect.sentence}" for effect in report.drivers.effects)
        said = (report.drivers.refused, *report.drivers.sentences)
        yield from (f"  {sentence}" for sentence in said if sentence)
    yield ""
    yield from report.cautions
