"""Accession numbers as people meet them."""

from __future__ import annotations

from datetime import date

import pytest

from cubital.accession import LENGTH, accession_number, read_accession
from cubital.errors import InputError


def test_a_number_is_read_as_a_tired_hand_writes_it() -> None:
    """Blanks, hyphens and small letters make no difference."""
    number = accession_number("OL", date(2026, 11, 25), 41)
    assert len(number) == LENGTH
    assert read_accession("ol 261125-0041 " + number[-1].lower()) == number


@pytest.mark.parametrize(
    ("scanned", "says"),
    [
        ("OL2611250041A", "wrong check character"),  # one character misread
        ("OL26112500", "10 characters"),  # half a scan
        ("", "0 characters"),  # the scanner sent only its Enter
        ("OL26112500é1S", "wrong check character"),  # a letter that is not in the alphabet
    ],
)
def test_a_bad_scan_gets_one_sentence(scanned: str, says: str) -> None:
    """What cannot be an accession number is refused with what is wrong."""
    with pytest.raises(InputError, match=says):
        read_accession(scanned)


@pytest.mark.parametrize(("site", "serial"), [("OST", 1), ("OL", 0), ("OL", 10000), ("o!", 1)])
def test_a_number_that_cannot_be_made_is_refused(site: str, serial: int) -> None:
    """Two characters of site, 1 to 9999 a day."""
    with pytest.raises(InputError):
        accession_number(site, date(2026, 11, 25), serial)
