"""The vocabulary: what each kind's payload may hold."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from cubital.custody import KINDS, check_event
from cubital.custody.draws import CHANGES as DRAW_CHANGES
from cubital.custody.draws import WHEN_STOPPED
from cubital.custody.event import SLUG
from cubital.custody.kinds import MENDING, SUBJECTS, touched
from cubital.custody.payload import TYPES, Field
from cubital.custody.specimens import BEGINNINGS, MOVES
from cubital.errors import EventRefused
from tests.custody.makers import Desk

SAMPLES: dict[str, Any] = {
    "code": "X-1", "word": "some-word", "text": "Said plainly.", "whole": 7, "flag": True,
    "time": "2026-11-25T07:00:00Z", "date": "2026-11-25", "object": {"fill": "full"},
}  # fmt: skip
WRONG: dict[str, list[Any]] = {
    "code": ["", " X", "a\nb", "x" * 65, 7, None],
    "word": ["", "two words", "x" * 33, 7],
    "text": ["x" * 2001, 7, ["a"]],
    "whole": [1.5, "7", True, -1, 10**12],
    "flag": ["yes", 1, 0],
    "time": ["07:00", "2026-11-25T07:00:00", 7, "2026-13-25T07:00:00Z"],
    "date": ["25.11.2026", "2026-02-30", 7],
    "choice": ["nobody-chose-this", 7],
    "object": ["{}", 7, []],
}


def sample(each: Field) -> Any:
    """A value that the field takes."""
    value = each.choices[0] if each.type == "choice" else SAMPLES[each.type]
    return [value] if each.many else value


def whole_payload(code: str, *, only_required: bool) -> dict[str, Any]:
    """A payload that the kind takes."""
    fields = KINDS[code].fields
    return {each.name: sample(each) for each in fields if each.required or not only_required}


def event_of(code: str, payload: dict[str, Any]) -> Any:
    """An event of the kind with that payload."""
    desk = Desk()
    corrects = desk.event("tourniquet_on", "draw:D-1").id if code in MENDING else None
    return desk.event(code, f"{KINDS[code].about[0]}:X-9", corrects=corrects, **payload)


@pytest.mark.parametrize("code", KINDS)
def test_a_kind_takes_its_own_payload(code: str) -> None:
    """Each kind takes all of its fields, and the required ones alone."""
    check_event(event_of(code, whole_payload(code, only_required=False)))
    payload = whole_payload(code, only_required=True)
    check_event(event_of(code, payload))
    for name in payload:
        short = {key: value for key, value in payload.items() if key != name}
        with pytest.raises(EventRefused, match=f"payload.{name} is missing"):
            check_event(event_of(code, short))


@pytest.mark.parametrize("code", KINDS)
def test_a_kind_refuses_values_that_its_fields_cannot_hold(code: str) -> None:
    """A wrong value in any field is refused, and the sentence names the field."""
    for each in KINDS[code].fields:
        for value in WRONG[each.type]:
            if value is None and not each.required:
                continue
            payload = whole_payload(code, only_required=False)
            payload[each.name] = [value] if each.many else value
            with pytest.raises(EventRefused, match=f"payload.{each.name}"):
                check_event(event_of(code, payload))


@pytest.mark.parametrize("code", KINDS)
def test_a_kind_is_well_described(code: str) -> None:
    """Names are plain, types and subjects are known, somebody may write it, it says what it is."""
    kind = KINDS[code]
    assert SLUG.fullmatch(code)
    assert set(kind.about) <= set(SUBJECTS)
    assert kind.roles
    assert kind.meaning.endswith(".")
    for each in kind.fields:
        assert each.type in TYPES
        assert each.subject in ("", *SUBJECTS)


def test_every_kind_that_touches_a_specimen_says_what_it_does_to_it() -> None:
    """No kind can reach the fold without a rule there."""
    for code, kind in KINDS.items():
        if code in MENDING:
            continue
        event = event_of(code, whole_payload(code, only_required=False))
        if "specimen" in kind.about or any(s.startswith("specimen:") for s in touched(event)):
            assert code in MOVES or code in BEGINNINGS, code
    assert set(MOVES) | set(BEGINNINGS) | set(DRAW_CHANGES) | WHEN_STOPPED <= set(KINDS)


@pytest.mark.parametrize(
    ("changes", "part"),
    [
        ({"kind": "tube_thrown"}, "no kind of event"),
        ({"subject": "patient:P-1"}, "tourniquet_on happens to draw:CODE"),
        ({"subject": "draw:"}, "tourniquet_on happens to draw:CODE"),
        ({"payload": {"tightness": 3}}, "payload.tightness"),
        ({"corrects": "019f0000-0000-7000-8000-000000000000"}, "mends nothing"),
    ],
)
def test_what_is_no_event_of_its_kind_is_refused(changes: dict[str, Any], part: str) -> None:
    """An unknown kind, another subject, an unknown field, a correction that is none."""
    event = Desk().event("tourniquet_on", "draw:D-1")
    with pytest.raises(EventRefused, match=part):
        check_event(replace(event, **changes))


def test_a_correction_names_what_it_corrects_and_a_failure_says_why() -> None:
    """Two demands that reach across fields."""
    desk = Desk()
    with pytest.raises(EventRefused, match="must name the event"):
        check_event(desk.event("event_withdrawn", "draw:D-1", reason="Tapped by mistake."))
    with pytest.raises(EventRefused, match="says why"):
        check_event(desk.event("attempt_ended", "attempt:A-1", draw="D-1", success=False))


def test_a_list_is_short_and_holds_nothing_twice() -> None:
    """Lists are bounded and hold each code once."""
    desk = Desk()
    for specimens, part in (
        (["a", "a"], "twice"), ([], "empty"), ("a", "write a list"),
        ([str(n) for n in range(501)], "at most 500"),
    ):  # fmt: skip
        with pytest.raises(EventRefused, match=part):
            check_event(desk.event("box_sent", "box:B", to="valley", specimens=specimens))
