"""
ISO/IEC 7064:2003, MOD 37,2.

Outside: the worked example of ISBT 128 donation numbers (G1234 98 654321 gives H), and
python-stdnum's own implementation.
"""

from __future__ import annotations

from datetime import date

from hypothesis import given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_2

from cubital.accession import ALPHABET, accession_number, check_character, is_sound

CHARACTERS = ALPHABET[:36]


def test_worked_example_of_donation_numbers() -> None:
    """G123498654321 has the check character H."""
    assert check_character("G123498654321") == "H"


@given(st.text(CHARACTERS, min_size=1, max_size=20))
def test_equals_an_independent_library(text: str) -> None:
    """python-stdnum gives the same check character for any text."""
    assert check_character(text) == mod_37_2.calc_check_digit(text)
    assert mod_37_2.is_valid(text + check_character(text))


@given(st.integers(1, 9999), st.dates(date(2020, 1, 1), date(2079, 12, 31)), st.data())
def test_finds_every_single_wrong_character(serial: int, day: date, data: st.DataObject) -> None:
    """The standard promises that no single substitution passes."""
    number = accession_number("OL", day, serial)
    at = data.draw(st.integers(0, len(number) - 2))
    other = data.draw(st.sampled_from([c for c in CHARACTERS if c != number[at]]))
    assert is_sound(number)
    assert not is_sound(number[:at] + other + number[at + 1 :])


@given(st.integers(1, 9999), st.integers(0, 10))
def test_finds_swapped_neighbours_among_digits(serial: int, at: int) -> None:
    """Swapping two different neighbours of a number is found (37 is prime, 2 generates)."""
    number = accession_number("OL", date(2026, 11, 25), serial)
    swapped = number[:at] + number[at + 1] + number[at] + number[at + 2 :]
    assert swapped == number or not is_sound(swapped)
