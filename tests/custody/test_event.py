"""An event's JSON shape."""

from __future__ import annotations

from typing import Any

import pytest

from cubital.custody import event_from, event_to
from cubital.custody.event import content
from cubital.errors import EventRefused
from tests.custody.makers import Desk


def shape(**changes: Any) -> dict[str, Any]:
    """A good shape with some members changed."""
    made = dict(event_to(Desk().event("tube_mixed", "specimen:S-1", inversions=8)))
    return made | changes


def test_a_shape_reads_back() -> None:
    """What is written is read as the same event."""
    event = Desk().event("tube_mixed", "specimen:S-1", inversions=8)
    assert event_from(event_to(event)) == event


def test_the_zone_in_which_a_time_is_written_does_not_matter() -> None:
    """The same moment in another zone is the same content."""
    utc = event_from(shape(happened_at="2026-11-25T07:00:05.120Z"))
    other = event_from(shape(happened_at="2026-11-25T08:00:05.120000+01:00"))
    assert content(utc) == content(other)


@pytest.mark.parametrize(
    ("changes", "part"),
    [
        ({"id": "1"}, "^id:"),
        ({"id": None}, "^id:"),
        ({"site": ""}, "^site:"),
        ({"site": "the valley"}, "^site:"),
        ({"kind": 7}, "^kind:"),
        ({"happened_at": "yesterday"}, "^happened_at:"),
        ({"happened_at": "2026-11-25T07:00:05"}, "names no time zone"),
        ({"happened_at": "0001-01-01T00:00:00+14:00"}, "^happened_at:"),
        ({"happened_at": "9999-12-31T23:59:59Z"}, "^happened_at:"),
        ({"happened_at": 1764054000}, "^happened_at:"),
        ({"who": ""}, "^who:"),
        ({"who": "mi\nra"}, "^who:"),
        ({"device": "x" * 65}, "^device:"),
        ({"subject": "x" * 81}, "^subject:"),
        ({"subject": None}, "^subject:"),
        ({"payload": []}, "^payload:"),
        ({"payload": {"a": 1.5}}, "^payload.a: .*fraction"),
        ({"payload": {"a": "x" * 9000}}, "too long"),
        ({"corrects": "none"}, "^corrects:"),
        ({"weather": "fair"}, "no field 'weather'"),
    ],
)
def test_what_is_no_event_is_refused_in_one_sentence(changes: dict[str, Any], part: str) -> None:
    """The sentence begins with the member that is wrong."""
    with pytest.raises(EventRefused, match=part):
        event_from(shape(**changes))


@pytest.mark.parametrize("shape", [None, 7, "event", [], [1]])
def test_something_else_than_an_object_is_refused(shape: object) -> None:
    """Not an object, not an event."""
    with pytest.raises(EventRefused, match="JSON object"):
        event_from(shape)
