"""The rows that transport reads: temperature bands and kinds of cooling."""

from __future__ import annotations

from dataclasses import dataclass

from cubital.catalogue.row import Row


@dataclass(frozen=True, slots=True, kw_only=True)
class TemperatureBand(Row):
    """A storage condition of ``stability.csv`` in degrees Celsius, both ends allowed."""

    FILE = "temperature_bands.csv"
    KEY = ("condition",)
    condition: str  # room, fridge, frozen, warm
    name: str
    low_c: float
    high_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Cooling(Row):
    """How a transport box is kept, and which handling demands it can meet."""

    FILE = "coolings.csv"
    KEY = ("code",)
    code: str  # ambient, cool_packs, ice_slurry, dry_ice, flask_37
    name: str
    condition: str  # of temperature_bands.csv
    meets: str = ""  # handling needs, separated by ;


WAY_ROWS: tuple[type[Row], ...] = (TemperatureBand, Cooling)
