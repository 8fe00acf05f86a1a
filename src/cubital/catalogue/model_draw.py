"""A row that the draw room reads beside those of the plan: weights that occur at an age."""

from __future__ import annotations

from dataclasses import dataclass

from cubital.catalogue.row import Row


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightBand(Row):
    """
    Weights that occur at an age; what lies outside was most likely mistyped.

    Wide on purpose: a guard for the blood limit, no judgement of anybody's growth.
    """

    FILE = "weight_bands.csv"
    KEY = ("age_from_days", "age_to_days")
    age_from_days: int
    age_to_days: int
    weight_from_g: int
    weight_to_g: int


DRAW_ROWS: tuple[type[Row], ...] = (WeightBand,)
