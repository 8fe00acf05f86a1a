"""Too old for a test: time since collection against how long it keeps."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from cubital.catalogue.model import Stability
from cubital.catalogue.model_way import TemperatureBand
from cubital.reception.found import Bench, Found

WHOLE_PERCENT = 100.0


def _rows(bench: Bench, test: str) -> dict[str, Stability]:
    matrix = "serum_plasma" if bench.expected.spun else "whole_blood"
    rows = bench.catalogue.stability(test, bench.scene.choices)
    return {row.condition: row for row in rows if row.matrix == matrix}


def used_percent(bench: Bench, test: str) -> tuple[float, str] | None:
    """
    Share of a test's stability used up, with the source of the limit; None when nothing is known.

    A temperature log that was read on the way says it best; without one the whole time counts at
    room temperature.
    """
    logged = dict(bench.expected.used_percent).get(test)
    room = _rows(bench, test).get("room")
    if logged is not None:
        return logged, room.source if room else ""
    collected = bench.expected.collected_at
    if collected is None or room is None:
        return None
    age = max(bench.arrival.received_at - collected, timedelta(0))
    if room.keeps_h <= 0:
        return WHOLE_PERCENT if age > timedelta(0) else 0.0, room.source
    return WHOLE_PERCENT * (age / timedelta(hours=1)) / room.keeps_h, room.source


def _other(bench: Bench, test: str) -> tuple[float, str] | None:
    row = bench.examinations.get(test)
    collected = bench.expected.collected_at
    if row is None or collected is None:
        return None
    fridge = next(b for b in bench.catalogue.rows(TemperatureBand) if b.condition == "fridge")
    celsius = bench.arrival.temperature_c
    keeps = row.fridge_h if celsius is not None and celsius <= fridge.high_c else row.room_h
    age = max(bench.arrival.received_at - collected, timedelta(0)) / timedelta(hours=1)
    if keeps <= 0:
        return (WHOLE_PERCENT if age > 0 else 0.0), row.source
    return WHOLE_PERCENT * age / keeps, row.source


def age_rules(bench: Bench) -> Iterator[Found]:
    """Test by test: too old, soon too old, or no figure known."""
    for test in bench.tests:
        blood = bench.is_blood_test(test)
        used = used_percent(bench, test) if blood else _other(bench, test)
        if used is None:
            if bench.expected.collected_at is not None:
                yield Found(
                    "no-figure", f"{bench.name(test)}: how long it keeps is not known.", (test,)
                )
            continue
        percent, source = used
        if percent >= WHOLE_PERCENT:
            yield Found(
                "too-old",
                f"{bench.name(test)} is too old: {percent:.0f} % of what it keeps is used up.",
                (test,),
                source,
            )
        elif percent >= bench.catalogue.number("stability_soon_percent"):
            yield Found(
                "soon-too-old",
                f"{bench.name(test)}: {percent:.0f} % of what it keeps is used up. Hurry.",
                (test,),
                source,
            )
