"""How values are said, and how tubes are drawn."""

from __future__ import annotations

from datetime import date, datetime
from zoneinfo import ZoneInfo

import pytest

from cubital.catalogue import shipped
from cubital.desk import words
from cubital.desk.draw.rack import CAP_HEIGHT, DRAWING_HEIGHT, DRAWING_WIDTH, drawing, vessel
from cubital.desk.requisition.typed import moment, number, scaled
from cubital.draw import PlannedContainer
from cubital.errors import InputError

ZURICH = ZoneInfo("Europe/Zurich")


@pytest.mark.parametrize(
    ("volume_ul", "said"),
    [(0, "0"), (250, "0.25"), (2700, "2.7"), (3059, "3.06"), (10_000, "10"), (91_306, "91.3"),
     (100_000, "100"), (5_330_400, "5330")],
)  # fmt: skip
def test_millilitres(volume_ul: int, said: str) -> None:
    """As exact as a hand can pour."""
    assert words.ml(volume_ul) == said


@pytest.mark.parametrize(
    ("born", "said"),
    [
        (date(2026, 11, 25), "0 days"),
        (date(2026, 11, 24), "1 day"),
        (date(2026, 10, 25), "1 month"),
        (date(2024, 11, 26), "23 months"),
        (date(2024, 11, 25), "2 years"),
        (date(2024, 2, 29), "2 years"),
        (None, "age unknown"),
        (date(2027, 1, 1), "not born yet"),
    ],
)
def test_ages(born: date | None, said: str) -> None:
    """Days, then months, then years, as people say them."""
    assert words.age(born, date(2026, 11, 25)) == said


def test_seconds() -> None:
    """A minute and its rest."""
    assert words.seconds(34.4) == "34 s"
    assert words.seconds(80) == "1 min 20 s"


def test_hours() -> None:
    """Whole days from two on, else hours."""
    said = {0.5: "0.5 h", 24: "24 h", 36: "36 h", 48: "2 days", 1008: "42 days"}
    assert {value: words.hours(value) for value in said} == said


def test_a_decimal_with_point_or_comma() -> None:
    """Both are read; nothing is nothing; a word is a sentence with the mend in it."""
    assert number(" 3,2 ", "weight", "3.2") == 3.2
    assert scaled("3.2", "weight", "3.2", 1000) == 3200
    assert number("", "weight", "3.2") is None
    for text in ("nan", "inf", "1e999", "heavy", "--1"):
        with pytest.raises(InputError, match=r"weight: .* is no number. Write it as 3.2"):
            number(text, "weight", "3.2")


def test_an_hour_that_the_clock_skips_is_refused() -> None:
    """In the night of the change to summer time there is no half past two."""
    with pytest.raises(InputError, match="clock goes forward"):
        moment("2026-03-29", "02:30", ZURICH)
    assert moment("2026-03-29", "03:30", ZURICH) == datetime(2026, 3, 29, 3, 30, tzinfo=ZURICH)


@pytest.mark.parametrize("code", sorted(shipped().containers))
def test_every_container_fits_into_its_drawing(code: str) -> None:
    """Walls inside the picture, blood no higher than the walls, the least mark on the tube."""
    row = shipped().containers[code]
    planned = PlannedContainer(
        position=1, container=code, additive=row.additive, colour="", purpose="specimen", tests=(),
        fill_ul=row.nominal_ul, fill_min_ul=row.nominal_ul // 2, fill_max_ul=row.nominal_ul,
        inversions=(3, 4),
    )  # fmt: skip
    drawn = drawing(planned, row)
    top_of_blood = float(drawn.blood.split("V")[0].split()[1])
    assert CAP_HEIGHT < top_of_blood < drawn.least_y < DRAWING_HEIGHT
    assert 0 < drawn.mark_left < drawn.mark_right < DRAWING_WIDTH


def test_a_vessel_with_little_blood_has_no_inside_out_corner() -> None:
    """The round bottom never asks for more room than there is."""
    assert "A0.5 0.5" in vessel(10, 40, 99, 100, 15)
