"""
What a temperature log says: time outside the band, degree-hours, mean kinetic temperature.

Between two readings the temperature is taken to run straight, so that the crossings of the band,
the time outside and the area outside are exact for that line.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Sequence
from datetime import timedelta

from cubital.catalogue import Catalogue
from cubital.catalogue.model_way import TemperatureBand
from cubital.errors import InputError
from cubital.finding import Finding, Severity
from cubital.transport.flight import flights
from cubital.transport.values import Excursion, Journey, Reading, TemperatureLog, Travelled

KELVIN = 273.15
"""0 °C in kelvin, by definition."""


def band_of(catalogue: Catalogue, condition: str) -> TemperatureBand:
    """
    Give the band of a storage condition.

    Raises:
        InputError: no such condition.
    """
    for row in catalogue.rows(TemperatureBand):
        if row.condition == condition:
            return row
    raise InputError(f"There is no temperature band {condition!r}", "temperature_bands.csv")


def mean_kinetic_c(celsius: Iterable[float], catalogue: Catalogue) -> float:
    """
    Give the mean kinetic temperature of readings at equal intervals (pharmacopoeia's formula).

    It was made for medicines in store: it says how fast they age, not whether a specimen is fit.
    """
    energy = catalogue.decimal("mkt_delta_h_kj_per_mol")
    per_kelvin = energy / catalogue.decimal("mkt_r_kj_per_mol_k")
    rates = [math.exp(-per_kelvin / (each + KELVIN)) for each in celsius]
    return per_kelvin / -math.log(math.fsum(rates) / len(rates)) - KELVIN


def evenly(readings: Sequence[Reading]) -> list[float]:
    """Give temperatures at equal intervals along the line, at least as dense as the readings."""
    span = (readings[-1].at - readings[0].at) / timedelta(seconds=1)
    if span <= 0:
        return [reading.celsius for reading in readings]
    gaps = [(b.at - a.at) / timedelta(seconds=1) for a, b in itertools.pairwise(readings)]
    if max(gaps) - min(gaps) < 1.0:
        return [reading.celsius for reading in readings]
    count = min(
        max(math.ceil(span / max(min(g for g in gaps if g > 0), 1.0)), len(readings)), 100_000
    )
    values, at = [], 0
    for step in range(count + 1):
        moment = readings[0].at + timedelta(seconds=span * step / count)
        while at < len(readings) - 2 and readings[at + 1].at <= moment:
            at += 1
        a, b = readings[at], readings[at + 1]
        length = (b.at - a.at) / timedelta(seconds=1)
        share = (moment - a.at) / timedelta(seconds=1) / length if length else 0.0
        values.append(a.celsius + share * (b.celsius - a.celsius))
    return values


def _pieces(log: TemperatureLog, edge_c: float) -> Iterator[tuple[Reading, Reading]]:
    """Cut the line where it crosses an edge."""
    for a, b in zip(log.readings, log.readings[1:], strict=False):
        low, high = sorted((a.celsius, b.celsius))
        if low < edge_c < high:
            share = (edge_c - a.celsius) / (b.celsius - a.celsius)
            middle = Reading(a.at + share * (b.at - a.at), edge_c)
            yield a, middle
            yield middle, b
        else:
            yield a, b


def _beyond(log: TemperatureLog, edge_c: float, *, above: bool) -> Iterator[Excursion]:
    sign = 1 if above else -1
    run: list[tuple[Reading, Reading]] = []
    for a, b in [*_pieces(log, edge_c)]:
        out = sign * (a.celsius - edge_c) > 0 or sign * (b.celsius - edge_c) > 0
        if out:
            run.append((a, b))
        elif run:
            yield _excursion(run, edge_c, above=above)
            run = []
    if run:
        yield _excursion(run, edge_c, above=above)


def _excursion(run: list[tuple[Reading, Reading]], edge_c: float, *, above: bool) -> Excursion:
    sign = 1 if above else -1
    area = math.fsum(
        (b.at - a.at) / timedelta(hours=1)
        * (sign * (a.celsius - edge_c) + sign * (b.celsius - edge_c)) / 2
        for a, b in run
    )  # fmt: skip
    ends = [each.celsius for pair in run for each in pair]
    worst = max(ends) if above else min(ends)
    return Excursion(run[0][0].at, run[-1][1].at, worst, above, area)


def excursions(log: TemperatureLog, low_c: float, high_c: float) -> tuple[Excursion, ...]:
    """Give every stretch outside the band, in the order of time."""
    found = [
        *_beyond(log, high_c, above=True),
        *_beyond(log, low_c, above=False),
    ]
    return tuple(sorted(found, key=lambda each: each.begin))


def _sentences(found: Sequence[Excursion], band: TemperatureBand) -> tuple[Finding, ...]:
    return tuple(
        Finding(
            "too-warm" if each.above else "too-cold",
            Severity.ASK,
            f"{'Above' if each.above else 'Below'}"
            f" {band.high_c if each.above else band.low_c:g} °C for"
            f" {each.length / timedelta(minutes=1):.0f} min from {each.begin:%H:%M},"
            f" {'up' if each.above else 'down'} to {each.worst_c:.1f} °C.",
            band.source,
            band.condition,
            band.layer,
        )
        for each in found
    )


def judge_journey(
    log: TemperatureLog,
    condition: str,
    specimens: Sequence[Travelled],
    catalogue: Catalogue,
    choices: dict[str, str] | None = None,
) -> Journey:
    """
    Judge a log against the band of its box, and say what it means for each specimen and test.

    Raises:
        InputError: no such condition.
    """
    band = band_of(catalogue, condition)
    found = excursions(log, band.low_c, band.high_c)
    flown = flights(log, specimens, catalogue, choices or {})
    return Journey(
        log=log,
        condition=condition,
        low_c=band.low_c,
        high_c=band.high_c,
        excursions=found,
        outside=sum((each.length for each in found), timedelta(0)),
        degree_hours=math.fsum(each.degree_hours for each in found),
        mean_kinetic_c=mean_kinetic_c(evenly(log.readings), catalogue),
        flights=flown,
        findings=(
            *log.findings,
            *_sentences(found, band),
            *(finding for flight in flown for finding in flight.findings),
        ),
    )
