"""
Accession numbers: what stands in the bar code of a specimen.

``SS YYMMDD NNNN C``, thirteen characters without blanks: the site's two characters, the day, the
number of the day, and a check character by ISO/IEC 7064 MOD 37,2, which finds every single wrong
character and nearly every swap of two neighbours.
"""

from __future__ import annotations

from datetime import date

from cubital.errors import InputError

ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"
"""ISO/IEC 7064:2003, MOD 37,2: values 0 to 36."""

LENGTH = 13
LAST_OF_DAY = 9999


def check_character(text: str) -> str:
    """
    Give the ISO/IEC 7064 MOD 37,2 check character of capital letters and digits.

    Raises:
        InputError: another character.
    """
    remainder = 0
    for character in text:
        value = ALPHABET.find(character)
        if value < 0 or character == "*":
            raise InputError(
                f"{character!r} cannot stand in an accession number",
                text,
                "Use capital letters and digits.",
            )
        remainder = (remainder + value) * 2 % 37
    return ALPHABET[(1 - remainder) % 37]


def is_sound(number: str) -> bool:
    """Tell whether the last character is the check character of what stands before it."""
    body, check = number[:-1], number[-1:]
    if not body or not all(c in ALPHABET[:36] for c in body):
        return False
    return check_character(body) == check


def accession_number(site: str, day: date, serial: int) -> str:
    """
    Make the accession number of the ``serial``-th specimen of a site's day.

    >>> accession_number("OL", date(2026, 11, 25), 41)
    'OL2611250041S'

    Raises:
        InputError: the site has not two capital letters or digits, or the day is full.
    """
    if len(site) != 2:
        raise InputError(f"The site code {site!r} has not two characters", "accession number")
    if not 1 <= serial <= LAST_OF_DAY:
        raise InputError(
            f"Number {serial} of the day is outside 1 to {LAST_OF_DAY}",
            "accession number",
            "Give a busy place a second site code.",
        )
    body = f"{site}{day:%y%m%d}{serial:04d}"
    return body + check_character(body)


def read_accession(scanned: str) -> str:
    """
    Read what a scanner or a tired hand gave: blanks and hyphens go, small letters become capitals.

    Raises:
        InputError: wrong length or wrong check character.
    """
    number = "".join(scanned.split()).replace("-", "").upper()
    if len(number) != LENGTH:
        raise InputError(
            f"{scanned.strip()!r} is not an accession number: it has {len(number)} characters"
            f" instead of {LENGTH}",
            mend="Scan it again.",
        )
    if not is_sound(number):
        raise InputError(
            f"{scanned.strip()!r} has a wrong check character: something was misread",
            mend="Scan it again, or type it from the label.",
        )
    return number
