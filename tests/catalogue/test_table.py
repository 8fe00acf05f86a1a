"""One file as typed rows."""

import pytest

from cubital.catalogue import model
from cubital.catalogue.table import LARGEST_BYTES, Table, read_table

HEADER = b"test,volume_ul,source\n"


def read(data: bytes) -> Table[model.TestVolume]:
    """Read as test_volumes.csv."""
    return read_table(model.TestVolume, data)


def test_annotations_say_how_cells_are_read():
    """Words, whole numbers, decimals, yes and no, and empty cells with a default."""
    table = read_table(
        model.LabelSize,
        b"source,code,name,width_mm,height_mm,page_width_mm,page_height_mm,columns\n"
        b' memory ,a,"two, words",50.5,25,50.5,25,\n',
    )
    [row] = table.rows
    assert table.problems == []
    assert (row.code, row.name, row.width_mm, row.height_mm) == ("a", "two, words", 50.5, 25.0)
    assert (row.columns, row.gap_x_mm, row.line, row.layer) == (1, 0.0, 2, "shipped")
    [yes] = read_table(
        model.AimRule,
        b"age_from_days,age_to_days,aim,small_containers,source\n0,9,least_blood,yes,m\n",
    ).rows
    assert yes.small_containers is True


def test_byte_order_mark_and_windows_line_ends_are_harmless():
    """What a spreadsheet adds to a UTF-8 file is read past."""
    table = read(b"\xef\xbb\xbf" + HEADER.replace(b"\n", b"\r\n") + b"k,20,memory\r\n\r\n")
    assert [(row.test, row.volume_ul) for row in table.rows] == [("k", 20)]
    assert table.problems == []


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "test_volumes.csv: the file is empty. Write a header row, or delete the file."),
        (b" \n", "test_volumes.csv: the file is empty. Write a header row, or delete the file."),
        (
            HEADER + b"k,20,caf\xe9\n",
            (
                "test_volumes.csv: line 2 holds a byte (0xe9) that is not UTF-8. "
                "Save the file as CSV in UTF-8."
            ),
        ),
        (
            HEADER.decode().encode("utf-16"),
            "test_volumes.csv: the file is in UTF-16. Save it as CSV in UTF-8.",
        ),
        (
            HEADER + b"x" * LARGEST_BYTES,
            (
                "test_volumes.csv: the file has more than 4 MB, and no table is so large. "
                "Give the table alone, one row a fact."
            ),
        ),
        (
            b"test;volume_ul;source\nk;20;memory\n",
            "test_volumes.csv, row 1: the cells are separated by semicolons. Write commas.",
        ),
        (
            b"test,volume_ml,source\n",
            (
                "test_volumes.csv, row 1: no column is called “volume_ml”. "
                "Write volume_ul; columns are test, volume_ul, source."
            ),
        ),
        (
            b"test,volume_ul,source,qqq\n",
            (
                "test_volumes.csv, row 1: no column is called “qqq”. "
                "Take the column out; columns are test, volume_ul, source."
            ),
        ),
        (
            b"test,source\n",
            "test_volumes.csv, row 1: the column volume_ul is missing. Add it.",
        ),
        (
            b"test,test,volume_ul,source\n",
            "test_volumes.csv, row 1: the column test stands twice. Take one out.",
        ),
        (
            HEADER + b"k,20\n",
            (
                "test_volumes.csv, row 2: the row has 2 cells and the header 3. "
                "Put a cell that holds a comma in quotes, and leave no column out."
            ),
        ),
        (
            HEADER + b"k,,memory\n",
            (
                "test_volumes.csv, row 2, volume_ul: the cell is empty. "
                "Write a whole number, for example 12."
            ),
        ),
        (
            HEADER + b"k,0.5,memory\n",
            (
                "test_volumes.csv, row 2, volume_ul: “0.5” cannot be read. "
                "Write a whole number, for example 12."
            ),
        ),
        (
            HEADER + "k,٣,memory\n".encode(),
            (
                "test_volumes.csv, row 2, volume_ul: “٣” cannot be read. "
                "Write a whole number, for example 12."
            ),
        ),
        (
            HEADER + b"k,20,memory\nna,20,memory\nk,30,memory\n",
            "test_volumes.csv, row 4: row 2 already holds test “k”. Keep one of them.",
        ),
        (
            HEADER + b'k,20,"memory\n',
            (
                "test_volumes.csv, row 2: the row is not CSV (unexpected end of data). "
                "Close quotes and drop NUL bytes."
            ),
        ),
        (
            HEADER + b"k,20,withdrawn\n",
            "test_volumes.csv, row 2: a shipped row cannot be withdrawn. Delete the row.",
        ),
    ],
)
def test_a_spoilt_file_gives_one_sentence(data: bytes, sentence: str):
    """What is wrong, where, and what to write instead."""
    assert [str(problem) for problem in read(data).problems] == [sentence]


@pytest.mark.parametrize(
    ("cell", "mend"),
    [("nan", "a number with a point"), ("1e999", "a number"), ("1_0", "a number"), ("2,5", "")],
)
def test_decimals_are_plain(cell: str, mend: str):
    """No infinities, no underscores, no decimal commas."""
    [problem] = read_table(
        model.NeedleBore, f'gauge,wall,inner_mm,source\n21,thin,"{cell}",m\n'.encode()
    ).problems
    assert f"“{cell}” cannot be read. Write {mend}" in str(problem)


def test_each_bad_row_is_reported_and_the_rest_read():
    """A person mends all slips of a file in one go."""
    table = read(HEADER + b"k,x,memory\nna,20,memory\ncl,y,memory\n")
    assert [row.test for row in table.rows] == ["na"]
    assert [problem.where for problem in table.problems] == [
        "test_volumes.csv, row 2, volume_ul",
        "test_volumes.csv, row 4, volume_ul",
    ]


def test_a_withdrawal_needs_the_key_alone():
    """The other cells of a row that takes one out are not read."""
    table = read_table(model.TestVolume, HEADER + b"k,,withdrawn\n", "lab")
    assert table.withdrawn == {("k",): 2}
    assert table.rows == []
