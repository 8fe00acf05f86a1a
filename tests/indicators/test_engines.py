"""DuckDB and Spark read the same files with the same expressions and agree to the last digit."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from cubital.catalogue import shipped
from cubital.indicators.ask import Lake, counts, open_lake, quantiles, sums, tallies
from cubital.indicators.drivers import pattern_expression
from cubital.indicators.engine import duckdb_engine, spark_engine
from cubital.indicators.lake import write_lake
from cubital.indicators.values import LakeRows, LakeSite
from tests.indicators import valley


def rows() -> LakeRows:
    """A hard year: missing values, clocks set back, typing errors, late events, an index."""
    made = valley.years(months=3, sizes=(("valley", 120), ("pass", 60), ("old", 40)))
    odd = itertools.cycle(
        [
            {}, {"haemolysis_mg_l": 700}, {"transport_s": -3600}, {"received_at": None},
            {"gauge": None, "hour": None}, {"transport_s": 900 * 3600}, {"not_received": True},
            {"spin_wait_s": None, "late_s": 10**6}, {"attempt": None}, {"tourniquet_s": None},
            {"found": ";label-two;clotted;", "anticoagulated": True}, {"request_first": False},
        ]
    )  # fmt: skip
    specimens = [replace(row, **more) for row, more in zip(made.specimens, odd, strict=False)]
    draws = [
        replace(row, tourniquet_s=None if n % 7 == 0 else row.tourniquet_s,
                needed_ul=None if n % 5 == 0 else 500 + n, obtained=n % 11 > 0,
                begun_at=row.begun_at + timedelta(microseconds=n))
        for n, row in enumerate(made.draws)
    ]  # fmt: skip
    return LakeRows(tuple(specimens), tuple(draws))


def answers(lake: Lake) -> dict[str, Any]:
    """Every indicator by month, place and more, and what the regression starts from."""
    return {
        "shares": counts(lake, by=("month", "week", "site", "gauge", "hour")),
        "sums": sums(lake, by=("month", "site")),
        "times": quantiles(lake, ["desk-tourniquet", "desk-to-reception"], ("month", "site")),
        "all": tallies(lake),
        "patterns": lake.engine.rows(pattern_expression(lake)),
    }


@pytest.mark.filterwarnings("ignore")  # Spark's own Java and pandas chatter
def test_both_engines_agree_to_the_last_digit(tmp_path: Path):
    """One lake, two engines, equal answers."""
    sites = [*valley.SITES, LakeSite("old", "Old post", now="pass")]
    write_lake(tmp_path / "lake", rows(), sites=sites, edition="x")
    catalogue = shipped()
    with duckdb_engine(threads=2) as duck:
        lake = open_lake(tmp_path / "lake", catalogue, duck)
        expected = answers(lake)
    with spark_engine(tmp_path / "spark") as spark:
        lake = open_lake(tmp_path / "lake", catalogue, spark)
        assert answers(lake) == expected
    assert sum(one.of for one in expected["shares"]) > 1000
    assert any(one.backwards for one in expected["times"])
