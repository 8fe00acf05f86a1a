"""`cubital catalogue`."""

from collections.abc import Callable
from pathlib import Path

from click.testing import Result

from cubital.catalogue import load_catalogue, shipped
from cubital.cli.show_sources import cited, shares, sources_page
from tests.catalogue.small import lay, write

Cubital = Callable[..., Result]


def test_check_says_that_the_tables_are_sound(cubital: Cubital):
    """With how much there is, and the edition."""
    done = cubital("catalogue", "check")
    assert done.exit_code == 0
    assert done.stdout.startswith("sound: ")
    assert shipped().edition in done.stdout


def test_check_tells_every_problem(cubital: Cubital, tmp_path: Path):
    """One line each with file, row, field and mend, and exit code 2."""
    lab = lay(
        tmp_path / "ostrel",
        test_volumes="test,volume_ul,source\npotassium,many,common_practice\nsodium,,memory\n",
    )
    done = cubital("catalogue", "check", "--catalogue", lab)
    assert done.exit_code == 2
    assert done.stderr.splitlines() == [
        (
            "ostrel/test_volumes.csv, row 2, volume_ul: “many” cannot be read. "
            "Write a whole number, for example 12."
        ),
        (
            "ostrel/test_volumes.csv, row 3, volume_ul: the cell is empty. "
            "Write a whole number, for example 12."
        ),
        "cubital: 2 problems. Mend them and check again.",
    ]


def test_show_gives_a_test_with_sources_and_layers(cubital: Cubital, tmp_path: Path):
    """By any of its names; a laboratory's row with its layer."""
    lab = lay(
        tmp_path / "ostrel", test_volumes="test,volume_ul,source\npotassium,47,common_practice\n"
    )
    done = cubital("catalogue", "show", "2823-3", "--catalogue", lab)
    assert done.exit_code == 0
    assert "Potassium  (potassium)" in done.stdout
    volume = next(line for line in done.stdout.splitlines() if "47 µL" in line)
    assert volume.split()[-1] == "ostrel"
    assert "common_practice (common practice)" in volume


def test_show_follows_the_choice(cubital: Cubital):
    """Renin is kept at room temperature, or on ice."""
    assert "ice slurry" not in cubital("catalogue", "show", "renin").stdout
    iced = cubital("catalogue", "show", "renin", "--choose", "renin-cooling=ice")
    assert "ice slurry" in iced.stdout


def test_show_gives_the_tests_of_a_panel(cubital: Cubital):
    """All that it expands to."""
    done = cubital("catalogue", "show", "renal")
    for test, _ in shipped().expand("renal"):
        assert shipped().tests[test].name in done.stdout


def test_show_suggests(cubital: Cubital):
    """When nothing is called so."""
    done = cubital("catalogue", "show", "potasium")
    assert done.exit_code == 2
    assert done.stderr == (
        "cubital: cubital catalogue show: no test or panel is called “potasium”. "
        "Did you mean potassium?\n"
    )


def test_sources_counts_every_row_once(tmp_path: Path):
    """Shares by basis add up, per table and over all; every source is listed."""
    catalogue = load_catalogue(tables=write(tmp_path))
    found = list(shares(catalogue))
    for _, rows, by_basis in found:
        assert rows == sum(by_basis.values())
    assert found[-1][0] == "all tables"
    assert found[-1][1] == sum(map(len, catalogue.tables.values()))
    assert {file: by for file, _, by in found}["mixing.csv"] == {
        "published": 2,
        "common practice": 1,
        "from memory": 0,
    }
    assert {source.key for source, _ in cited(catalogue)} == set(catalogue.sources)
    assert sum(count for _, count in cited(catalogue)) == found[-1][1]


def test_sources_on_the_terminal_and_as_a_page(cubital: Cubital, tmp_path: Path):
    """The page names each source with its title, and can be written to a file."""
    assert "all tables" in cubital("catalogue", "sources").stdout
    page = cubital("catalogue", "sources", "--markdown").stdout
    assert page == sources_page(shipped())
    for source in shipped().sources.values():
        assert f"| {source.key} | " in page
    out = tmp_path / "sources.md"
    assert cubital("catalogue", "sources", "--out", out).exit_code == 0
    assert out.read_text("utf-8") == page
