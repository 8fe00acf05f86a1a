"""Reading a logger's file: understood, asked about, or refused in one sentence."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import pytest

from cubital.catalogue import shipped
from cubital.errors import InputError
from cubital.transport import ColumnsUnclear, TemperatureLog, read_log

POST = timezone(timedelta(hours=5, minutes=30))


def read(text: str | bytes, **columns: str) -> TemperatureLog:
    """Read with the shipped settings, in the valley's time."""
    data = text.encode() if isinstance(text, str) else text
    return read_log(data, name="box.csv", catalogue=shipped(), zone=POST, columns=columns or None)


def test_a_plain_log() -> None:
    """ISO times without a zone are the place's own."""
    log = read("Time,Temperature (°C)\n2026-11-25 07:00,4.5\n2026-11-25 07:10,5.0\n")
    assert [r.celsius for r in log.readings] == [4.5, 5.0]
    assert log.begin == datetime(2026, 11, 25, 1, 30, tzinfo=UTC)
    assert log.findings == ()


def test_comma_as_decimal_sign_and_semicolons() -> None:
    """What a logger in many countries writes; day and month are clear from the 25th."""
    log = read("Timestamp;Temp [C]\n25.11.2026 07:00:00;4,5\n25.11.2026 07:10:00;-0,5\n")
    assert [r.celsius for r in log.readings] == [4.5, -0.5]
    assert log.begin.day == 25


def test_fahrenheit_is_converted() -> None:
    """41 °F is 5 °C, 32 °F is 0 °C."""
    log = read("time,temp_F\n2026-11-25T07:00:00Z,41\n2026-11-25T07:10:00Z,32\n")
    assert [round(r.celsius, 6) for r in log.readings] == [5.0, 0.0]


def test_a_gap_is_told_and_empty_cells_are_counted() -> None:
    """Half an hour missing among ten-minute readings, and two lines without a temperature."""
    minutes = [0, 10, 20, 30, 70, 80, 90]
    rows = "".join(
        f"{datetime(2026, 11, 25, 7, tzinfo=UTC) + timedelta(minutes=m)},4.0\n" for m in minutes
    )
    log = read("time,temperature °C\n" + rows + "2026-11-25 09:00:00+00:00,\n" * 2)
    assert [f.code for f in log.findings] == ["logger-gap", "logger-empty"]
    assert "07:30 and 08:10" in log.findings[0].sentence
    assert "2 lines" in log.findings[1].sentence


@pytest.mark.parametrize(
    "text",
    [
        "when,value\n2026-11-25 07:00,4\n2026-11-25 07:10,5\n",  # strange headings
        "time,temperature\n2026-11-25 07:00,4\n2026-11-25 07:10,5\n",  # no unit
        "time,temp C,temp F\n2026-11-25 07:00,4,39\n2026-11-25 07:10,5,41\n",  # two of them
        "time temperature\n2026-11-25 07:00\n2026-11-25 07:10\n",  # one column
    ],
)
def test_unclear_columns_are_asked_for_not_guessed(text: str) -> None:
    """The error lists the headings, so that a person can say which is which."""
    with pytest.raises(ColumnsUnclear) as asked:
        read(text)
    assert asked.value.columns


def test_an_answer_makes_it_clear() -> None:
    """Once a person says which column is which, the file is read."""
    text = "when,value\n2026-11-25 07:00,41\n2026-11-25 07:10,41\n"
    log = read(text, time="when", temperature="value", unit="F")
    assert round(log.readings[0].celsius, 6) == 5.0


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "fewer than two readings"),
        ("time,temp C\n2026-11-25 07:00,4\n", "fewer than two readings"),
        (
            "time,temp C\n2026-11-25 07:10,4\n2026-11-25 07:00,4\n",
            "Times go back from 2026-11-25 07:10 to 07:00",
        ),
        ("time,temp C\n05/11/2026 07:00,4\n06/11/2026 07:00,4\n", "day/month or month/day"),
        ("time,temp C\nyesterday,4\ntoday,4\n", "is no time that is understood"),
        ("time,temp C\n2026-11-25 07:00,4\n2026-11-25 07:10,warm\n", "row 3: 'warm' is no temp"),
        ("time,temp C\n2026-11-25 07:00,4\n2026-11-25 07:10,400\n", "cannot be a temperature"),
        ("time,temp C\n2026-11-25 07:00,4\n2026-11-25 07:10\n", "row 3: The row has 1 cells"),
        (b"x" * (20 * 1024 * 1024 + 1), "20 MB"),
    ],
)
def test_a_bad_log_is_refused_in_one_sentence(text: str | bytes, says: str) -> None:
    """Empty, too short, clock set back, ambiguous dates, words, a wrong unit, half a row, huge."""
    with pytest.raises(InputError, match=says):
        read(text)
