"""docs/indicators.md names what there is: every column, indicator, setting, rule and command."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

import pytest

from cubital.catalogue import shipped
from cubital.catalogue.model_quality import RunRule
from cubital.cli.indicators import indicators
from cubital.indicators.measures import DIMENSIONS, MEASURES
from cubital.indicators.values import DrawRow, SpecimenRow

PAGE = (Path(__file__).parents[2] / "docs" / "indicators.md").read_text("utf-8")


@pytest.mark.parametrize("row", [SpecimenRow, DrawRow])
def test_every_column_is_described(row: type):
    """By its name."""
    assert [f.name for f in fields(row) if f"`{f.name}`" not in PAGE] == []


def test_every_indicator_dimension_and_command_is_named():
    """In the table, the list, the examples."""
    assert [code for code in MEASURES if code not in PAGE] == []
    assert [name for name in DIMENSIONS if f"`{name}`" not in PAGE] == []
    assert [name for name in indicators.commands if f"cubital indicators {name}" not in PAGE] == []


def test_what_it_says_of_limits_is_what_holds():
    """Numbers on the page are those of the settings."""
    catalogue = shipped()
    assert catalogue.number("indicator_not_received_h") == 48
    assert "more than 48 hours" in PAGE
    assert catalogue.number("indicator_longest_h") == 30 * 24
    assert "times over 30 days" in PAGE
    assert catalogue.number("indicator_points_least") == 8
    assert "fewer than eight\nmonths" in PAGE
    assert catalogue.number("indicator_few") == 30
    assert "Fewer than 30 and a share" in PAGE
    assert catalogue.number("indicator_few_expected") == 5
    assert "fewer than five expected" in PAGE
    assert catalogue.number("funnel_dispersion_sites") == 10
    assert catalogue.number("events_per_variable") == 10
    assert catalogue.option("run-rules").option == "western_electric"


def test_every_rule_has_a_source_with_a_year():
    """Run rules are named and sourced."""
    for rule in shipped().rows(RunRule):
        source = shipped().sources[rule.source]
        assert source.year in (1956, 1984)
        assert str(source.year) in PAGE
