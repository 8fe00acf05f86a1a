"""The page docs/bench.md says what is so."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from cubital.bench import beside
from cubital.catalogue import load_catalogue
from cubital.catalogue.model_bench import Centrifuge
from tests.bench.small import ostrel, rotor

PAGE = (Path(__file__).parents[2] / "docs" / "bench.md").read_text("utf-8")


def test_the_machines_of_the_page_are_read(tmp_path: Path) -> None:
    """The CSV of the page is a laboratory's table."""
    [rows] = re.findall(r"```csv\n(.*?)```", PAGE, re.DOTALL)
    folder = tmp_path / "own"
    folder.mkdir()
    (folder / "centrifuges.csv").write_text(rows, "utf-8")
    (folder / "sources.toml").write_text('[rotor-plate]\ntitle = "Rotor plates"\n', "utf-8")
    catalogue = load_catalogue(folder)
    assert [row.code for row in catalogue.rows(Centrifuge)] == ["valley-24", "pass-12"]


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ("serum, drug levels", "serum"),
        ("serum, drug levels", "drug_plain"),
        ("fluoride", "plasma_fluoride"),
        ("urine sediment", "urine"),
        ("coagulation", "coagulation"),
    ],
)
def test_the_table_of_the_page_is_computed(line: str, code: str) -> None:
    """Speeds, times and forces on both rotors."""
    [cells] = [row.split("|") for row in PAGE.splitlines() if row.startswith(f"| {line} |")]
    for cell, name in ((cells[3], "valley-24"), (cells[4], "pass-12")):
        both = beside(ostrel(), code, rotor(name))
        assert both is not None
        assert cell.strip() == f"{both.rcf_g:.0f} g"
        assert f"{both.practice.speed_rpm} turns, {both.practice.minutes} min" in cells[2]
        assert f"{both.published.rcf_g} g, {both.published.minutes} min" in cells[5]


def test_every_public_name_of_the_page_is_there() -> None:
    """Functions that the page calls exist."""
    import cubital.bench as room

    names = set(re.findall(r"`([a-z_]+)\(", PAGE))
    assert len(names) >= 10
    assert {name for name in names if name not in room.__all__} == set()
