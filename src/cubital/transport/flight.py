"""
What a journey does to each test of each specimen.

Every minute at a temperature uses up a share of how long the test keeps at that condition
(``stability.csv``); the shares add up, and at 100 % it is too old.  Between two bands the harder of
the two counts.  Where no figure is known, that is said, and nothing is made up.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from cubital.catalogue import Catalogue
from cubital.catalogue.model import Stability
from cubital.catalogue.model_way import TemperatureBand
from cubital.finding import Finding, Severity
from cubital.transport.values import Flight, TemperatureLog, Travelled

WHOLE, USED_UP = 100.0, 100.0
FREEZES_C = 0.0
"""Water freezes: unseparated blood haemolyses (physics)."""
MEMORY = "way-memory"


@dataclass(frozen=True, slots=True)
class Keeping:
    """How long one test keeps, by condition; and the bands' edges."""

    rows: Mapping[str, Stability]
    bands: Mapping[str, TemperatureBand]

    @property
    def edges(self) -> tuple[float, ...]:
        """Temperatures at which another row begins to count."""
        ends = {end for band in self.bands.values() for end in (band.low_c, band.high_c)}
        return tuple(sorted(ends | {FREEZES_C}))

    def at(self, celsius: float) -> tuple[Stability | None, bool]:
        """
        The row that counts at a temperature, and whether the temperature lies in its band.

        None where no figure is known.
        """
        inside = [c for c, b in self.bands.items() if b.low_c <= celsius <= b.high_c]
        if inside:
            return self.rows.get(inside[0]), True
        if celsius > self.bands["room"].high_c:
            return self.rows.get("room"), False
        if celsius > self.bands["fridge"].high_c:
            known = [self.rows[c] for c in ("fridge", "room") if c in self.rows]
            return (min(known, key=lambda row: row.keeps_h) if known else None), True
        if celsius >= FREEZES_C:
            return self.rows.get("fridge"), True
        return self.rows.get("frozen"), False


def _keeping(catalogue: Catalogue, test: str, *, spun: bool, choices: Mapping[str, str]) -> Keeping:
    matrix = "serum_plasma" if spun else "whole_blood"
    rows = {r.condition: r for r in catalogue.stability(test, choices) if r.matrix == matrix}
    return Keeping(rows, {band.condition: band for band in catalogue.rows(TemperatureBand)})


@dataclass(frozen=True, slots=True)
class Stretch:
    """A part of the log's line between two edges: from when to when, and its middle temperature."""

    begin: datetime
    end: datetime
    celsius: float


def _stretches(log: TemperatureLog, edges: Sequence[float]) -> list[Stretch]:
    """Cut the log's line at every edge."""
    pieces = []
    for a, b in pairwise(log.readings):
        rise = b.celsius - a.celsius
        shares = {0.0, 1.0}
        if rise:
            shares |= {(e - a.celsius) / rise for e in edges if 0 < (e - a.celsius) / rise < 1}
        cuts = sorted(shares)
        moments = [a.at + share * (b.at - a.at) for share in cuts]
        for n, (begin, end) in enumerate(pairwise(cuts)):
            celsius = a.celsius + rise * (begin + end) / 2
            pieces.append(Stretch(moments[n], moments[n + 1], celsius))
    return pieces


def _spent(
    pieces: Sequence[Stretch], since: datetime, edges: Sequence[float]
) -> list[tuple[timedelta, float]]:
    """
    Time spent between each two edges after ``since``, with the first temperature met there.

    Between two edges the same row counts, so a long log comes down to a few lengths.
    """
    spent: dict[tuple[int, int], tuple[timedelta, float]] = {}
    for piece in pieces:
        left = max(piece.begin, since)
        if piece.end <= left:
            continue
        where = (bisect_left(edges, piece.celsius), bisect_right(edges, piece.celsius))
        so_far, first = spent.get(where, (timedelta(0), piece.celsius))
        spent[where] = (so_far + (piece.end - left), first)
    return list(spent.values())


class _Use:
    """Adds up shares of how long a test keeps, and what was met on the way."""

    def __init__(self, keeping: Keeping, specimen: str, test: str, name: str) -> None:
        self.keeping = keeping
        self.shares = 0.0
        self.spoilt = False
        self.specimen, self.test, self.name = specimen, test, name
        self.found: dict[str, Finding] = {}

    @property
    def percent(self) -> float:
        """What is used up; all of it at least, where it was kept as it must not be."""
        return max(self.shares, USED_UP) if self.spoilt else self.shares

    def note(self, code: str, severity: Severity, sentence: str, source: str) -> None:
        subject = f"{self.specimen} {self.test}"
        self.found.setdefault(code, Finding(code, severity, sentence, source, subject))

    def add(self, length: timedelta, celsius: float) -> None:
        row, known = self.keeping.at(celsius)
        if celsius < FREEZES_C and (row is None or row.matrix == "whole_blood"):
            self.note("frozen", Severity.STOP, f"{self.name}: unseparated blood froze.", MEMORY)
        if row is None:
            self.note(
                "no-figure",
                Severity.NOTE,
                f"{self.name}: no figure is known for {celsius:.0f} °C.",
                MEMORY,
            )
            return
        if not known:
            self.note(
                "outside-figures",
                Severity.ASK,
                f"{self.name}: {celsius:.0f} °C lies outside every published figure; counted as"
                f" {row.condition}.",
                row.source,
            )
        if row.keeps_h <= 0:
            self.note(
                "must-not-be-kept-so",
                Severity.STOP,
                f"{self.name} must not be kept at {celsius:.0f} °C.",
                row.source,
            )
            self.spoilt = True
            return
        self.shares += WHOLE * (length / timedelta(hours=1)) / row.keeps_h


def _flight(
    log: TemperatureLog,
    spent: Sequence[tuple[timedelta, float]],
    item: Travelled,
    test: str,
    catalogue: Catalogue,
    choices: Mapping[str, str],
) -> Flight:
    keeping = _keeping(catalogue, test, spun=item.spun, choices=choices)
    use = _Use(keeping, item.specimen, test, catalogue.tests[test].name)
    before = log.begin - item.collected_at
    if before > timedelta(0):
        room = keeping.bands["room"]
        use.add(before, (room.low_c + room.high_c) / 2)
        use.note(
            "before-the-log",
            Severity.NOTE,
            f"{before / timedelta(minutes=1):.0f} min before the log are counted at room"
            " temperature.",
            MEMORY,
        )
    for length, celsius in spent:
        use.add(length, celsius)
    row, _ = keeping.at(log.readings[-1].celsius)
    spoils = None
    if row is not None:
        left = max(0.0, WHOLE - use.percent) / WHOLE
        spoils = log.end + timedelta(hours=left * row.keeps_h)
        if use.percent >= USED_UP and "must-not-be-kept-so" not in use.found:
            use.note(
                "too-old",
                Severity.STOP,
                f"{use.name} is too old: {use.percent:.0f} % of what it keeps is used up.",
                row.source,
            )
    return Flight(item.specimen, test, use.percent, spoils, tuple(use.found.values()))


def flights(
    log: TemperatureLog,
    specimens: Sequence[Travelled],
    catalogue: Catalogue,
    choices: Mapping[str, str],
) -> tuple[Flight, ...]:
    """What the log means for each test of each specimen in the box."""
    edges = Keeping({}, {row.condition: row for row in catalogue.rows(TemperatureBand)}).edges
    pieces = _stretches(log, edges)
    return tuple(
        _flight(log, spent, item, test, catalogue, choices)
        for item in specimens
        for spent in [_spent(pieces, item.collected_at, edges)]
        for test in item.tests
    )
