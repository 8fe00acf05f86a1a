"""Boxes on their way: what is in them, and whether it arrives fit."""

from __future__ import annotations

from cubital.transport.box import compare_box, cooling_of, may_travel
from cubital.transport.cover import covered
from cubital.transport.judge import excursions, judge_journey, mean_kinetic_c
from cubital.transport.logger import ColumnsUnclear, read_log
from cubital.transport.values import (
    Excursion,
    Flight,
    Journey,
    Reading,
    TemperatureLog,
    Travelled,
)

__all__ = [
    "ColumnsUnclear",
    "Excursion",
    "Flight",
    "Journey",
    "Reading",
    "TemperatureLog",
    "Travelled",
    "compare_box",
    "cooling_of",
    "covered",
    "excursions",
    "judge_journey",
    "may_travel",
    "mean_kinetic_c",
    "read_log",
]
