"""The lake's files: written whole, read only when they are what they say they are."""

from __future__ import annotations

import ast
from dataclasses import replace
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

import cubital.indicators
from cubital.errors import InputError
from cubital.indicators.lake import SITES, UNFINISHED, read_files, write_lake
from cubital.indicators.schema import DRAWS, SCHEMAS, SPECIMENS, arrow
from cubital.indicators.values import LakeRows, LakeSite
from tests.indicators import valley
from tests.test_core_is_pure import impurities

MARCH = "specimens/year=2026/month=03/site=valley/part-0.parquet"
ROWS = valley.years(months=2, sizes=(("valley", 5), ("pass", 2)))


@pytest.fixture
def lake(tmp_path: Path) -> Path:
    """Two months at two places."""
    folder = tmp_path / "lake"
    write_lake(folder, ROWS, sites=valley.SITES, edition="test")
    return folder


def refused(folder: Path) -> str:
    """The sentence with which a lake is refused."""
    with pytest.raises(InputError) as caught:
        read_files(folder)
    return str(caught.value)


def test_a_lake_is_read_as_it_was_written(lake: Path):
    """Every part with its rows, the places by code."""
    files = read_files(lake)
    assert sum(n for part, n in files.parts.items() if part.table == SPECIMENS) == 14
    assert {part.month for part in files.parts} == {202602, 202603}
    assert files.sites["pass"].name == "Ostrel pass post"
    assert files.unfinished == ()
    table = pq.read_table(lake / MARCH, partitioning=None)
    mine = [r for r in ROWS.specimens if (r.month, r.site) == (202603, "valley")]
    assert table.equals(arrow(SPECIMENS, mine))


def test_times_are_microseconds_of_utc_without_a_zone():
    """What every engine reads alike."""
    assert SCHEMAS[SPECIMENS].field("collected_at").type == pa.timestamp("us")
    assert SCHEMAS[DRAWS].field("begun_at").type == pa.timestamp("us")


def test_writing_again_leaves_no_part_behind(lake: Path):
    """What the record no longer says is gone, and nothing else is."""
    rows = LakeRows(tuple(r for r in ROWS.specimens if r.site == "valley"), ROWS.draws)
    write_lake(lake, rows, sites=valley.SITES, edition="test")
    places = {part.site for part in read_files(lake).parts if part.table == SPECIMENS}
    assert places == {"valley"}


def test_a_broken_export_is_seen_and_not_read(lake: Path):
    """A file that was never finished keeps its other name, and the next export clears it away."""
    (lake / (MARCH + UNFINISHED)).write_bytes(b"PAR1 half")
    assert read_files(lake).unfinished == (MARCH + UNFINISHED,)
    write_lake(lake, ROWS, sites=valley.SITES, edition="test")
    assert read_files(lake).unfinished == ()


@pytest.mark.parametrize("keep", [0, 4, 100, -1])
def test_a_half_written_file_is_refused(lake: Path, keep: int):
    """Cut anywhere, it is named."""
    path = lake / MARCH
    path.write_bytes(path.read_bytes()[:keep])
    assert refused(lake) == (
        f"{MARCH}: the file is half-written or no Parquet file. Export the events again: cubital"
        " events export."
    )


def test_a_copied_file_is_refused(lake: Path):
    """It would count everything twice."""
    copy = lake / MARCH.replace("month=03", "month=04")
    copy.parent.mkdir(parents=True)
    copy.write_bytes((lake / MARCH).read_bytes())
    assert f"the file is a copy of {MARCH}" in refused(lake)


@pytest.mark.parametrize(
    "name",
    [
        "specimens/notes.txt",
        "specimens/year=2026/month=03/site=valley/part-1.parquet",
        "specimens/year=2026/month=13/site=valley/part-0.parquet",
        "draws/year=26/month=03/site=valley/part-0.parquet",
    ],
)
def test_a_strange_file_is_refused(lake: Path, name: str):
    """It does not belong, whatever is in it."""
    path = lake / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes((lake / MARCH).read_bytes())
    assert refused(lake) == f"{name}: this file does not belong to the lake. Take it out."


def test_somebody_elses_parquet_is_refused(lake: Path):
    """Another program's file, another version, other columns."""
    path = lake / MARCH
    said = pq.read_schema(path).metadata
    pq.write_table(pa.table({"a": [1]}), path)
    assert "was not written by cubital" in refused(lake)
    other = pa.table({"a": [1]}).replace_schema_metadata(said | {b"cubital.lake": b"7"})
    pq.write_table(other, path)
    assert "is of version 7 of the lake" in refused(lake)
    pq.write_table(pa.table({"a": [1]}).replace_schema_metadata(said), path)
    assert "has other columns than the lake" in refused(lake)


def test_a_folder_that_is_no_lake(lake: Path, tmp_path: Path):
    """Neither read nor written over."""
    assert "the folder is no lake" in refused(tmp_path / "nothing")
    other = tmp_path / "letters"
    other.mkdir()
    (other / "letter.txt").write_text("Dear")
    with pytest.raises(InputError, match="holds something else than a lake"):
        write_lake(other, ROWS, sites=valley.SITES, edition="test")
    assert [p.name for p in other.iterdir()] == ["letter.txt"]
    (lake / SPECIMENS / "shape.parquet").unlink()
    assert "shape.parquet: the file is half-written" in refused(lake)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "the header is not as it should be"),
        ("code,name\nvalley,V\n", "the header is not as it should be"),
        ("code,name,time_zone,now\nvalley,V\n", "row 2: the row has 2 cells"),
        ("code,name,time_zone,now\nvalley,V,UTC,moon\n", "valley goes on as moon"),
        ("code,name,time_zone,now\na,A,UTC,b\nb,B,UTC,a\n", "a goes on as b"),
        ("code,name,time_zone,now\n\xff", "the file cannot be read"),
    ],
)
def test_a_list_of_places_that_cannot_be_used(lake: Path, text: str, said: str):
    """One sentence, with the row."""
    (lake / SITES).write_bytes(text.encode("latin-1"))
    assert said in refused(lake)


def test_a_place_under_a_new_code_keeps_both(lake: Path):
    """The old code is on record, and points to the new one."""
    sites = [*valley.SITES, LakeSite("post", "Old post", now="pass")]
    write_lake(lake, ROWS, sites=sites, edition="test")
    assert read_files(lake).sites["post"].now == "pass"


def test_odd_but_possible_values_survive(tmp_path: Path):
    """Nulls, old times, a name with a comma and a quote."""
    row = replace(ROWS.specimens[0], collected_at=None, hour=None, gauge=None, volume_ul=None)
    site = LakeSite("valley", 'Valley, the "old" one')
    write_lake(tmp_path / "l", LakeRows((row,), ()), sites=[site], edition="test")
    files = read_files(tmp_path / "l")
    assert files.sites["valley"].name == site.name
    (part,) = files.parts
    assert pq.read_table(tmp_path / "l" / part.name).to_pylist()[0]["hour"] is None


def test_only_one_module_touches_files():
    """The room is pure but for the lake itself."""
    room = Path(cubital.indicators.__file__).parent
    found = {
        path.name
        for path in room.glob("*.py")
        if list(impurities(path.read_text("utf-8"), may_open=False))
    }
    assert found == {"lake.py"}


def test_ibis_stands_only_here():
    """No other room imports it, nor DuckDB or Spark."""
    src = Path(cubital.__file__).parent
    for path in src.rglob("*.py"):
        if path.parent.name == "indicators" and "desk" not in path.parts:
            continue
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Import | ast.ImportFrom):
                names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
                names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
                assert not {n.partition(".")[0] for n in names} & {"ibis", "duckdb", "pyspark"}
