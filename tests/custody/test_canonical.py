"""One text for one value."""

from __future__ import annotations

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cubital.custody.canonical import LARGEST, canonical
from cubital.errors import InputError

texts = st.text(st.characters(blacklist_categories=("Cs",), blacklist_characters="\0"), max_size=12)
values = st.recursive(
    st.none() | st.booleans() | st.integers(-LARGEST, LARGEST) | texts,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(texts, inner, max_size=4),
    max_leaves=12,
)


@settings(max_examples=100)
@given(values)
def test_it_reads_back_as_the_same_value_and_writes_the_same_bytes(value: object) -> None:
    """What was written reads back, and writing that again gives the same bytes."""
    written = canonical(value)  # type: ignore[arg-type]
    again = json.loads(written)
    assert again == value
    assert canonical(again) == written


@settings(max_examples=50)
@given(st.dictionaries(texts, st.integers(0, 9), min_size=2, max_size=6))
def test_the_order_in_which_members_were_given_does_not_matter(value: dict[str, int]) -> None:
    """Members sort by their names."""
    backwards = dict(reversed(list(value.items())))
    assert canonical(backwards) == canonical(value)


@pytest.mark.parametrize(
    ("value", "part"),
    [
        ({"a": 1.5}, "has a fraction"),
        ({"a": float("nan")}, "has a fraction"),
        ({"a": LARGEST + 1}, "too large"),
        ({"a": "\ud800"}, "half a character"),
        ({"a": "x\0y"}, "NUL"),
        ({"a": "é\0y"}, "NUL"),
        ({1: "a"}, "is no text"),
        ({"a": object()}, "no JSON value"),
        ([[[[[[[[[1]]]]]]]]], "deeper than 8"),
    ],
)
def test_what_has_no_one_form_is_refused(value: object, part: str) -> None:
    """A fraction, a huge number, a broken text or too deep a nest is refused in one sentence."""
    with pytest.raises(InputError, match=part):
        canonical(value)  # type: ignore[arg-type]


def test_a_number_of_many_digits_is_not_said_back() -> None:
    """Nor does it break the sentence: Python writes no number of more than 4,300 digits."""
    with pytest.raises(InputError) as caught:
        canonical({"volume_ul": 10**5000})
    assert "is too large" in str(caught.value)
    assert len(str(caught.value)) < 100
