"""Entries of what has no event of its own."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from cubital.logbook import Outside, Unknown, outside_entry, unknown_entry

AT = datetime(2026, 11, 25, 8, 40, tzinfo=UTC)


def outside(coldest_c: float, warmest_c: float) -> Outside:
    """A log of a box that was to be kept at room temperature."""
    return Outside("log-4", "B-7", "a.csv", "room temperature", 15, 25, coldest_c, warmest_c, AT,
                   "joren", "ostrel-valley")  # fmt: skip


@pytest.mark.parametrize(
    ("coldest_c", "warmest_c", "code", "words"),
    [
        (18, 25.1, "too-warm", "up to 25.1 °C"),
        (14.9, 25, "too-cold", "down to 14.9 °C"),
        (3, 31, "too-warm", "up to 31.0 °C and down to 3.0 °C"),
    ],
)
def test_a_box_outside_its_band_says_how_far(
    coldest_c: float, warmest_c: float, code: str, words: str
) -> None:
    """The code is a rule of the reception; warmth comes first."""
    entry = outside_entry(outside(coldest_c, warmest_c))
    assert entry is not None
    assert (entry.code, entry.at, entry.who) == (code, AT, "joren")
    assert entry.what == f"Box B-7 left its band of 15 to 25 °C: {words}"


def test_both_ends_of_the_band_are_allowed() -> None:
    """On the edge is within."""
    assert outside_entry(outside(15, 25)) is None


@pytest.mark.parametrize("became", ["", "Settled by Joren: thrown away."])
def test_what_nobody_knew_is_about_what_was_scanned(became: str) -> None:
    """Why it was kept, and what became of it."""
    entry = unknown_entry(
        Unknown("unknown-1", "ZZ 1", "Keep it.", AT, "joren", "ostrel-valley", became)
    )
    assert (entry.subject, entry.heading) == ("specimen:ZZ 1", "non_conformance")
    assert (entry.what, entry.code) == ("Arrived, and nobody knew it: ZZ 1", "not-registered")
    assert entry.note == f"Keep it. {became}".strip()
    assert entry.actions == ((became,) if became else ())
