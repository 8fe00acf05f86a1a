"""Layers laid over each other, and the edition."""

from pathlib import Path

import pytest

from cubital.catalogue import check_catalogue, load_catalogue, model
from cubital.errors import CatalogueError
from tests.catalogue.small import SMALL, lay, write


def told(*folders: Path, tables: Path) -> list[str]:
    """Every sentence said of these layers."""
    return [str(problem) for problem in check_catalogue(*folders, tables=tables)]


def test_a_laboratory_replaces_adds_and_withdraws(tmp_path: Path):
    """Same key replaces in place, new key adds at the end, withdrawn takes out."""
    tables = write(tmp_path / "shipped")
    lab = lay(
        tmp_path / "ostrel",
        test_volumes="test,volume_ul,source\npotassium,35,ours\n",
        test_additives=(
            "test,additive,rank,source\nsodium,edta,,withdrawn\npotassium,edta,1,ours\n"
        ),
        sources_toml='[ours]\ntitle = "Our own validation"\nbasis = "common practice"\n',
    )
    catalogue = load_catalogue(lab, tables=tables)
    assert catalogue.layers == ("shipped", "ostrel")
    assert catalogue.volume_ul("potassium") == 35
    assert [row.layer for row in catalogue.rows(model.TestVolume)] == ["ostrel"] + ["shipped"] * 3
    assert [row.additive for row in catalogue.accepted("sodium")] == ["clot"]
    assert [row.additive for row in catalogue.accepted("potassium")] == ["clot", "edta"]
    assert catalogue.sources["ours"].layer == "ostrel"
    row = catalogue.volumes["potassium"]
    assert catalogue.reason(row, "So much.").layer == "ostrel"


def test_a_later_folder_lies_over_an_earlier_one(tmp_path: Path):
    """The last word counts, and a withdrawn row may come back."""
    tables = write(tmp_path / "shipped")
    first = lay(
        tmp_path / "a",
        settings="key,value,source\nshare,0.25,memory\n",
        handling="test,need,source\npotassium,no_fist,withdrawn\n",
    )
    second = lay(
        tmp_path / "b",
        settings="key,value,source\nshare,0.75,memory\n",
        handling="test,need,source\npotassium,no_fist,habit\n",
    )
    assert load_catalogue(first, tables=tables).decimal("share") == 0.25
    assert load_catalogue(first, tables=tables).handling("potassium") == ()
    both = load_catalogue(first, second, tables=tables)
    assert both.decimal("share") == 0.75
    assert [row.layer for row in both.handling("potassium")] == ["b"]


def test_a_laboratory_gives_settings_another_value_only(tmp_path: Path):
    """A key that no rule reads, a word for a number and a withdrawal are slips."""
    tables = write(tmp_path / "shipped")
    lab = lay(
        tmp_path / "ostrel",
        settings=(
            "key,value,source\ntourniquet_max,45,memory\ntourniquet_max_s,short,memory\n"
            "share,,withdrawn\norder_note,other words,memory\n"
        ),
    )
    assert told(lab, tables=tables) == [
        (
            "ostrel/settings.csv, row 4: the setting share cannot be withdrawn: rules need it. "
            "Give it another value."
        ),
        (
            "ostrel/settings.csv, row 2, key: no setting is called “tourniquet_max”. "
            "Write tourniquet_max_s."
        ),
        (
            "ostrel/settings.csv, row 3, value: “short” is no number. "
            "Write a number, as in the shipped row (60)."
        ),
    ]


def test_slips_of_a_laboratory_name_its_folder(tmp_path: Path):
    """So that nobody mends the wrong file."""
    tables = write(tmp_path / "shipped")
    lab = lay(
        tmp_path / "ostrel",
        test_volumes="test,volume_ul,source\nchloride,,withdrawn\n",
        testvolumes="test\n",
    )
    assert told(lab, tables=tables) == [
        "ostrel/testvolumes.csv: no table has this name. Rename it to test_volumes.csv.",
        (
            "ostrel/test_volumes.csv, row 2: the row withdraws one that does not stand in a lower "
            "layer. Write its test as there, or delete the row."
        ),
    ]


def test_folders_that_cannot_be_layers(tmp_path: Path):
    """Missing, empty, or named like another layer."""
    tables = write(tmp_path / "shipped")
    nothing = tmp_path / "nothing"
    empty = lay(tmp_path / "empty")
    twin = lay(tmp_path / "there" / "empty", ratios=SMALL["ratios.csv"])
    [missing] = told(nothing, tables=tables)
    assert "the folder cannot be read (No such file or directory)" in missing
    [no_table] = told(empty, tables=tables)
    assert "the folder holds no table. Put tables such as tests.csv there." in no_table
    assert "empty: two folders have this name. Rename one of them." in told(
        empty, twin, tables=tables
    )


def test_a_huge_table_is_told(tmp_path: Path):
    """A huge file is not read to its end."""
    tables = write(tmp_path / "shipped")
    lab = lay(tmp_path / "ostrel")
    with (lab / "tests.csv").open("wb") as file:
        file.truncate(50_000_000)
    [huge] = told(lab, tables=tables)
    assert huge.startswith(
        "ostrel/tests.csv: the file has more than 4 MB, and no table is so large"
    )


def test_overlapping_bands_of_a_laboratory_are_refused(tmp_path: Path):
    """A band of another length must first take the shipped one out."""
    tables = write(tmp_path / "shipped")
    rows = "0,2192,,,withdrawn\n0,3000,least_blood,yes,memory\n"
    header = "age_from_days,age_to_days,aim,small_containers,source\n"
    lab = lay(tmp_path / "ostrel", aims=header + rows)
    assert "withdraw the other row" in told(lab, tables=tables)[0]
    lay(lab, aims=header + rows + "2192,54786,,,withdrawn\n3000,54786,fewest_tubes,no,memory\n")
    assert told(lab, tables=tables) == []


def test_the_edition_follows_every_byte(tmp_path: Path):
    """The name of the shipped edition, and a hash that changes with any table of any layer."""
    tables = write(tmp_path / "shipped")
    plain = load_catalogue(tables=tables).edition
    assert plain.startswith("test-1+")
    assert load_catalogue(tables=tables).edition == plain
    lab = lay(tmp_path / "ostrel", settings="key,value,source\nshare,0.4,memory\n")
    assert load_catalogue(lab, tables=tables).edition != plain
    write(tables, test_volumes=SMALL["test_volumes.csv"].replace("500", "501"))
    assert load_catalogue(tables=tables).edition != plain


def test_a_missing_shipped_table_is_told(tmp_path: Path):
    """A broken installation says so."""
    tables = write(tmp_path, tests=None, edition_txt=None)
    assert told(tables=tables) == [
        "tests.csv: the table is missing. Install cubital again.",
        "edition.txt: the edition is missing. Install cubital again.",
    ]


def test_two_source_files_may_not_share_a_key(tmp_path: Path):
    """Which of the two would count would hang on the file's name."""
    tables = write(tmp_path)
    (tables / "sources-more.toml").write_text('[memory]\ntitle = "x"\n', encoding="utf-8")
    assert told(tables=tables) == [
        "sources.toml, [memory]: sources-more.toml already holds this key. Keep one of them."
    ]


def test_loading_raises_the_first_problem(tmp_path: Path):
    """One sentence is enough to begin with."""
    tables = write(tmp_path, test_volumes="test,volume_ul,source\n,1,memory\n")
    with pytest.raises(CatalogueError, match=r"^test_volumes.csv, row 2, test: the cell is empty"):
        load_catalogue(tables=tables)
