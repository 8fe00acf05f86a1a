"""A draw as it happens, and everything that must not."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cubital.chair import fold, judge
from cubital.chair.fold import take
from cubital.chair.judge import identity_complete
from cubital.chair.values import State
from cubital.custody.kinds import check_event
from cubital.finding import Severity
from tests.chair.makers import NUMBERS, Story, sheet


def stops(sheet_, state, event):
    """Codes of the stops that stand against an event."""
    return [f.code for f in judge(sheet_, state, event) if f.severity is Severity.STOP]


def test_a_plain_draw_of_four_tubes() -> None:
    """Identity, needle, four labelled tubes in order, finish: nothing is found."""
    paper = sheet()
    story = Story(seconds=3).identified().add("tourniquet_on").needle().add("tourniquet_off")
    story.tubes(paper, 1, 2, 3, 4).add("draw_finished")
    state = fold(paper, story.events)
    assert state.ended == "finished"
    assert state.findings == ()
    assert [d.accession for d in state.drawn] == list(NUMBERS)
    assert [a.obtained for a in state.attempts] == [True]
    assert state.tourniquet_spans == (timedelta(seconds=6),)


def test_every_event_of_the_chair_is_one_that_the_record_takes() -> None:
    """The chair's events pass the record's own check of kind and payload."""
    paper = sheet()
    story = Story().identified().add("tourniquet_on").needle().failed().needle("a-2")
    story.tubes(paper, 1).add("tube_filled", f"specimen:{NUMBERS[0]}", fill="short", volume_ul=900)
    story.add("tube_mixed", f"specimen:{NUMBERS[0]}").add("tourniquet_off").add("draw_finished")
    for event in story.events:
        check_event(event)
    assert fold(paper, story.events).tube(NUMBERS[0]).estimate_ul == 900


def test_no_needle_before_the_identity_is_certain() -> None:
    """Two of three identifiers are not enough, nor are three without a scan."""
    paper = sheet()
    story = Story().add("identity_confirmed", identifiers=["name", "birth_date", "number"])
    state = fold(paper, story.events)
    assert not identity_complete(paper, state)
    assert [f.code for f in state.findings] == ["scan-first"]
    assert stops(paper, state, Story().needle().events[0]) == ["identity-open"]


def test_a_mismatch_ends_everything() -> None:
    """After a mismatch nothing may be drawn, whoever asks; only what happened may be written."""
    paper = sheet()
    story = Story().add("identity_confirmed", identifiers=["scan"], scanned=True)
    state = fold(paper, story.add("identity_mismatch", identifier="birth_date").events)
    assert stops(paper, state, Story().needle().events[0]) == ["identity-mismatch"]
    assert stops(paper, state, Story("other").identified().events[0]) == ["identity-mismatch"]
    assert stops(paper, state, Story().add("draw_not_obtained", reason="refused").events[0]) == []


def test_two_attempts_then_another_collector() -> None:
    """The third needle of one collector is refused; a second collector may begin."""
    paper = sheet()
    story = Story().identified().needle("a-1").failed("a-1").needle("a-2").failed("a-2")
    state = fold(paper, story.events)
    third = Story().needle("a-3").events[0]
    assert stops(paper, state, third) == ["attempts-used-up"]
    assert judge(paper, state, third)[0].source == "who"
    assert stops(paper, state, Story("tomas").needle("a-3").events[0]) == []


def test_a_tube_out_of_order_asks_and_names_both() -> None:
    """EDTA before citrate: too early; citrate after EDTA: perhaps carried over."""
    paper = sheet()
    state = fold(paper, Story().identified().needle().tubes(paper, 3).events)
    assert [f.code for f in state.findings] == ["order-too-early"]
    late = judge(paper, state, Story().tubes(paper, 1).events[0])
    assert [(f.code, f.severity) for f in late] == [("order-too-late", Severity.ASK)]
    assert "citrate 27" in late[0].sentence
    assert "edta 30" in late[0].sentence


@pytest.mark.parametrize(
    ("payload", "code"),
    [
        ({"lot": "OLD", "container": "edta-30"}, "tube-expired"),  # ended the day before
        ({"lot": "REC", "container": "edta-30"}, "lot-recalled"),
        ({"container": "serum-50"}, "wrong-container"),  # serum where EDTA is planned
    ],
)
def test_a_tube_that_must_not_be_used(payload: dict[str, str], code: str) -> None:
    """Expired, recalled, or another additive: a stop, and the tube is not taken."""
    paper = sheet()
    story = Story().identified().needle().tubes(paper, 1, 2)
    story.add("tube_scanned", f"specimen:{NUMBERS[2]}", draw="d-1", patient="104233", **payload)
    state = fold(paper, story.events)
    assert code in [f.code for f in state.findings if f.severity is Severity.STOP]
    assert state.tube(NUMBERS[2]) is None


def test_the_same_tube_twice() -> None:
    """A tube that is drawn already is refused."""
    paper = sheet()
    state = fold(paper, Story().identified().needle().tubes(paper, 1).events)
    assert stops(paper, state, Story().tubes(paper, 1).events[0]) == ["tube-used"]


def test_nobody_leaves_with_an_unlabelled_tube() -> None:
    """With labels after the draw, finish is refused until each label is matched to its tube."""
    paper = sheet("after")
    story = Story().identified().needle().tubes(paper, 1, 2, 3, 4)
    state = fold(paper, story.events)
    finish = Story().add("draw_finished").events[0]
    assert stops(paper, state, finish) == ["tube-unlabelled"] * 4
    wrong = Story().add("label_matched", f"specimen:{NUMBERS[0]}", label=NUMBERS[1]).events[0]
    assert stops(paper, state, wrong) == ["label-mismatch"]
    for number in NUMBERS:
        state = take(
            paper, state, Story().add("label_matched", f"specimen:{number}", label=number).events[0]
        )
    assert stops(paper, state, finish) == []


def test_a_tourniquet_too_long_is_a_finding_and_coagulation_is_stricter() -> None:
    """50 seconds pass with serum and are too long with a coagulation tube."""
    for coagulation, found in ((True, ["tourniquet-long"]), (False, [])):
        paper = sheet(coagulation=coagulation)
        story = Story(seconds=50).add("tourniquet_on").add("tourniquet_off")
        assert [f.code for f in fold(paper, story.events).findings] == found


def test_a_tube_left_out_asks_before_the_end() -> None:
    """Finishing without a planned tube asks, and says which."""
    paper = sheet()
    state = fold(paper, Story().identified().needle().tubes(paper, 1, 2, 3).events)
    found = judge(paper, state, Story().add("draw_finished").events[0])
    assert [(f.code, f.subject) for f in found] == [("tube-left-out", NUMBERS[3])]


ACTIONS = st.lists(
    st.one_of(
        st.just(("scan",)),
        st.sampled_from([("say", "name"), ("say", "birth_date"), ("say", "number")]),
        st.just(("mismatch",)),
        st.sampled_from([("needle", "mira"), ("needle", "tomas")]),
        st.just(("out",)),
        st.tuples(st.just("tube"), st.integers(1, 4)),
        st.just(("finish",)),
    ),
    max_size=40,
)


def _events(paper, actions):
    story = Story(seconds=1)
    for number, action in enumerate(actions):
        if action[0] == "scan":
            story.add("identity_confirmed", identifiers=["scan"], scanned=True)
        elif action[0] == "say":
            story.add("identity_confirmed", identifiers=[action[1]])
        elif action[0] == "mismatch":
            story.add("identity_mismatch", identifier="name")
        elif action[0] == "needle":
            story.who = action[1]
            story.needle(f"a-{number}")
        elif action[0] == "out":
            story.failed(f"a-{number}")
        elif action[0] == "tube":
            story.tubes(paper, action[1])
        else:
            story.add("draw_finished")
    return story.events


@given(ACTIONS)
def test_whatever_happens_the_rules_hold(actions) -> None:
    """No tube twice, no tube without identity, attempts within policy, no end unlabelled."""
    paper = sheet()
    state = State()
    for event in _events(paper, actions):
        before = state
        state = take(paper, state, event)
        drew = len(state.drawn) > len(before.drawn)
        assert not drew or identity_complete(paper, before)
        assert not (drew and before.mismatch)
        assert not (before.ended and state.drawn != before.drawn)
    numbers = [d.accession for d in state.drawn]
    assert len(numbers) == len(set(numbers))
    assert all(state.attempts_of(who) <= 2 for who in ("mira", "tomas"))
    assert state.ended != "finished" or all(d.labelled for d in state.drawn)
