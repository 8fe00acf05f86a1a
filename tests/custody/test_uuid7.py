"""Ids made where something happens."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cubital.custody.uuid7 import is_uuid7, uuid7

WHEN = datetime(2026, 11, 25, 7, 0, tzinfo=UTC)
TEN = st.binary(min_size=10, max_size=10)


@settings(max_examples=60)
@given(TEN, TEN, st.integers(1, 10**9))
def test_later_ids_sort_after_earlier_ones(first: bytes, second: bytes, millis: int) -> None:
    """Ids sort by the millisecond in which they were made, whatever the random part."""
    earlier = uuid7(WHEN, first)
    later = uuid7(WHEN + timedelta(milliseconds=millis), second)
    assert is_uuid7(earlier)
    assert earlier < later


@pytest.mark.parametrize(
    ("moment", "random"),
    [
        (WHEN, b"short"),
        (WHEN.replace(tzinfo=None), bytes(10)),
        (datetime(1969, 12, 31, tzinfo=UTC), bytes(10)),
    ],
)
def test_what_makes_no_id_is_refused(moment: datetime, random: bytes) -> None:
    """Too few random bytes, no zone, or a time before 1970."""
    with pytest.raises(ValueError, match="An id"):
        uuid7(moment, random)


@pytest.mark.parametrize(
    "text", ["", "017F22E2-79B0-7CC3-98C4-DC0C0C07398F", "017f22e2-79b0-4cc3-98c4-dc0c0c07398f"]
)
def test_other_texts_are_no_ids(text: str) -> None:
    """Upper case and other versions are not taken: one id has one form."""
    assert not is_uuid7(text)
