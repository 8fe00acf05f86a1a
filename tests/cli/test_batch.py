"""`cubital plan --batch`: many rows, some of them bad."""

import csv
import io
import json
import os
import subprocess
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import Result
from hypothesis import given, settings
from hypothesis import strategies as st

from cubital.catalogue import shipped
from cubital.cli import batch, batch_rows
from cubital.cli.batch_rows import Row, read_rows
from cubital.draw import Place, plan_draw
from cubital.draw.shape import plan_to
from cubital.requisition import read_requisitions
from tests.cli.conftest import NOW

Cubital = Callable[..., Result]
SCHEMA = jsonschema.Draft202012Validator(
    json.loads((Path(batch.__file__).parent / "schema" / "batch-1.json").read_text("utf-8"))
)
HEADER = "number,patient_number,family_name,weight_g,tests\n"
GOOD = [
    "R-1,P-1,Sorrel,61000,potassium;glucose\n",
    'R-2,P-2,"Alder, Jo",,haemoglobin\n',
    'R-3,P-3,"Two\nlines",,pt-inr\n'.replace("\n", " ", 1),
]


@pytest.fixture
def many(tmp_path: Path) -> Callable[[str | bytes], Path]:
    """Write a CSV file."""

    def write(rows: str | bytes) -> Path:
        path = tmp_path / "many.csv"
        path.write_bytes(rows if isinstance(rows, bytes) else rows.encode())
        return path

    return write


def documents(path: Path) -> list[dict[str, Any]]:
    """The lines of the output."""
    return [json.loads(line) for line in path.read_text("utf-8").splitlines()]


def test_each_row_gets_the_plan_it_gets_alone(
    cubital: Cubital, many: Callable[[str], Path], tmp_path: Path
):
    """In the file's order, whole with --json, short without."""
    text = HEADER + "".join(GOOD)
    out = tmp_path / "out.jsonl"
    now = datetime.fromisoformat(NOW)
    place = Place(altitude_m=1900)
    alone = [
        plan_draw(one, shipped(), place, now=now)
        for one in read_requisitions(text, name="x.csv", catalogue=shipped(), now=now)
    ]
    common = ("--batch", many(text), "--now", NOW, "--altitude", "1900", "--jobs", "2")
    whole = cubital("plan", *common, "--json", "--out", out)
    assert whole.exit_code == 0
    assert "3 planned, 0 refused" in whole.stderr
    assert all(SCHEMA.is_valid(one) for one in documents(out))
    assert [one["plan"] for one in documents(out)] == [plan_to(p, shipped()) for p in alone]
    assert [one["row"] for one in documents(out)] == [2, 3, 4]
    short = cubital("plan", *common)
    lines = [json.loads(line) for line in short.stdout.splitlines()]
    assert all(SCHEMA.is_valid(one) for one in lines)
    assert [one["number"] for one in lines] == ["R-1", "R-2", "R-3"]
    assert [
        [tube["container"] for tube in one["containers"]] for one in lines
    ] == [[tube.container for tube in plan.containers] for plan in alone]  # fmt: skip


def test_bad_rows_are_told_and_do_not_stop_the_rest(
    cubital: Cubital, many: Callable[[bytes], Path], tmp_path: Path
):
    """In the output, at the end, and in the exit code."""
    rows = [
        GOOD[0].encode(),
        b"R-4,P-4,S\xf8rensen,,potassium\n",
        b"R-5,P-5,Sorrel,-3,potassium\n",
        b'R-6,P-6,"open,,potassium\n',
        b"R-1,P-7,Sorrel,,potassium\n",
        b"R-8,P-8,Sorrel,,potasium\n",
        b"R-9,P-9,potassium\n",
        b",,,,\n",
        GOOD[1].encode(),
    ]
    out = tmp_path / "out.jsonl"
    path = many(HEADER.encode() + b"".join(rows))
    done = cubital("plan", "--batch", path, "--out", out, "--now", NOW, "--jobs", "1")
    assert done.exit_code == 2
    found = documents(out)
    assert all(SCHEMA.is_valid(one) for one in found)
    assert [one["row"] for one in found if "error" not in one] == [2, 10]
    assert [one["error"] for one in found if "error" in one] == [
        "many.csv, row 3: the row holds a byte that is not UTF-8. Save the file in UTF-8.",
        (
            "many.csv, row 4, weight_g: -3 g cannot be. "
            "Write whole grams, for example 61000 for 61 kg."
        ),
        "many.csv, row 5: a quote stays open. Close it.",
        "many.csv, row 6: row 2 already has the number R-1. Give each its own.",
        ("many.csv, row 7, tests: no test or panel is called “potasium”. Did you mean potassium?"),
        (
            "many.csv, row 8: the row has 3 cells and the header 5. "
            "Put a cell that holds a comma in quotes, and leave no column out."
        ),
    ]
    assert "2 planned, 6 refused" in done.stderr
    assert all(one["error"] in done.stderr for one in found if "error" in one)


def test_the_schema_of_a_line_is_sound_and_refuses_a_mixture():
    """A line has a plan or an error, never both."""
    jsonschema.Draft202012Validator.check_schema(SCHEMA.schema)
    refused = {"schema": batch_rows.SHAPE, "row": 2, "error": "x"}
    assert SCHEMA.is_valid(refused)
    assert not SCHEMA.is_valid({**refused, "number": "R-1"})
    assert not SCHEMA.is_valid({"schema": batch_rows.SHAPE, "row": 2})


def test_a_fault_of_the_program_stays_in_its_row(monkeypatch: pytest.MonkeyPatch):
    """It is told like a refused row, and the next one is planned."""
    batch_ = batch_rows.Batch((), Place(), datetime.fromisoformat(NOW))
    batch_rows.start(batch_, ("number", "patient_number", "family_name", "tests"), "many.csv")
    real = batch_rows.plan_draw

    def faulty(requisition: Any, *rest: Any, **named: Any) -> Any:
        if requisition.number == "R-1":
            raise ZeroDivisionError("by chance")
        return real(requisition, *rest, **named)

    monkeypatch.setattr(batch_rows, "plan_draw", faulty)
    rows = [Row(at, (f"R-{at - 1}", "P", "Sorrel", "potassium"), 9) for at in (2, 3)]
    done = batch_rows.plan_rows(rows)
    assert done.refused == (
        "many.csv, row 2: the draw cannot be planned (ZeroDivisionError: by chance).",
    )
    assert json.loads(done.lines[1])["number"] == "R-2"


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "many.csv: the file is empty. Give requisitions in CSV."),
        (b"\n", "many.csv: the file is empty. Give requisitions in CSV."),
        (b"number,tests\n", "many.csv, row 1: the column patient_number is missing. Add it."),
        (HEADER.encode("utf-16"), "many.csv, row 1: the row holds a byte that is not UTF-8."),
    ],
)
def test_a_bad_header_stops_before_anything_is_written(
    cubital: Cubital, many: Callable[[bytes], Path], tmp_path: Path, content: bytes, sentence: str
):
    """One sentence, exit code 2, no output file."""
    out = tmp_path / "out.jsonl"
    done = cubital("plan", "--batch", many(content), "--out", out)
    assert done.exit_code == 2
    assert done.stderr.startswith(f"cubital: {sentence}")
    assert not out.exists()


def test_the_output_is_whole_or_not_there(
    cubital: Cubital,
    many: Callable[[str], Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
):
    """What breaks off leaves no half file behind."""

    def broken(*_: Any) -> Any:
        raise KeyboardInterrupt

    monkeypatch.setattr(batch, "_stream", broken)
    out = tmp_path / "out.jsonl"
    done = cubital("plan", "--batch", many(HEADER + GOOD[0]), "--out", out, "--jobs", "1")
    assert done.exit_code != 0
    assert list(tmp_path.glob("out*")) == []
    nowhere = cubital("plan", "--batch", many(HEADER + GOOD[0]), "--out", tmp_path / "no" / "x")
    assert "the file cannot be written (No such file or directory)" in nowhere.stderr
    missing = cubital("plan", "--batch", tmp_path / "no.csv")
    assert "the file cannot be read (No such file or directory)" in missing.stderr


cells = st.text(
    st.characters(codec="utf-8", exclude_characters="\r\x0b\x0c\x1c\x1d\x1e\x85\u2028\u2029\x00"),
    max_size=8,
)  # fmt: skip


@settings(max_examples=60)
@given(st.lists(st.lists(cells, min_size=1, max_size=4), max_size=6))
def test_rows_are_read_as_the_csv_module_reads_them(rows: list[list[str]]):
    """Quotes, commas and line ends inside cells included; blank rows are left out."""
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator="\n").writerows(rows)
    data = out.getvalue().encode()
    found = [list(row.cells) for row in read_rows(iter(io.BytesIO(data)), "x.csv")]
    expected = [
        row
        for row in csv.reader(io.StringIO(out.getvalue(), newline=""))
        if any(map(str.strip, row))
    ]
    if not data.startswith(b"\xef\xbb\xbf"):
        assert found == expected


def test_the_plans_never_take_the_place_of_the_requisitions(
    cubital: Cubital, many: Callable[[str], Path], tmp_path: Path
):
    """Not by the same name, not through a link; a folder is refused too."""
    path = many(HEADER + GOOD[0])
    link = tmp_path / "link.csv"
    link.symlink_to(path)
    for out in (path, link):
        done = cubital("plan", "--batch", path, "--out", out, "--now", NOW)
        assert done.exit_code == 2
        assert "would take the place of the requisitions. Name another file." in done.stderr
        assert path.read_text("utf-8") == HEADER + GOOD[0]
    done = cubital("plan", "--batch", path, "--out", tmp_path, "--now", NOW)
    assert done.exit_code == 2
    assert "cannot be written (Is a directory)" in done.stderr
    assert sorted(one.name for one in tmp_path.iterdir()) == ["link.csv", "many.csv"]


def test_a_pipe_is_written_to_and_stays(
    cubital: Cubital, many: Callable[[str], Path], tmp_path: Path
):
    """What is no plain file is not replaced by one."""
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with subprocess.Popen(["cat", str(pipe)], stdout=subprocess.PIPE, text=True) as reader:
        done = cubital("plan", "--batch", many(HEADER + GOOD[0]), "--out", pipe, "--now", NOW)
        assert reader.communicate(timeout=60)[0].startswith('{"schema":"cubital.batch/1","row":2')
    assert done.exit_code == 0
    assert pipe.is_fifo()


@pytest.mark.parametrize("ends", ["", "\n\n"])
def test_a_header_alone_is_refused(
    cubital: Cubital, many: Callable[[str], Path], ends: str, tmp_path: Path
):
    """As without --batch, and no empty file is left."""
    out = tmp_path / "out.jsonl"
    done = cubital("plan", "--batch", many(HEADER + ends), "--out", out, "--now", NOW)
    assert done.exit_code == 2
    assert "many.csv: no requisition is in the file. Give at least one." in done.stderr
    assert not out.exists()


def test_rows_that_end_in_a_carriage_return_alone_are_not_dropped(
    cubital: Cubital, many: Callable[[str], Path]
):
    """The whole file is one line then: refused, for nothing but its header would be read."""
    done = cubital("plan", "--batch", many((HEADER + GOOD[0]).replace("\n", "\r")), "--now", NOW)
    assert done.exit_code == 2
    assert "row 1: its lines end in a carriage return alone." in done.stderr


def test_a_line_separator_inside_a_cell_does_not_end_the_row():
    """Only ends of lines that CSV knows do."""
    [row] = read_rows(iter(["R-1,a\u2028b\x0bc\n".encode()]), "x.csv")
    assert row.cells == ("R-1", "a\u2028b\x0bc")
