"""Answers about the preparation as an event keeps them."""

from __future__ import annotations

from datetime import UTC, datetime

from hypothesis import given
from hypothesis import strategies as st

from cubital.custody import Event
from cubital.custody.kinds import check_event
from cubital.requisition.answered import answers_from_event, answers_to_event
from cubital.requisition.values import Answers

MINUTES = st.none() | st.integers(0, 60 * 24 * 30)


@given(MINUTES, MINUTES, st.none() | st.booleans(), MINUTES, MINUTES)
def test_answers_come_back_from_their_event(
    fasting: int | None, dose: int | None, due: bool | None, seated: int | None, lying: int | None
) -> None:
    """To the minute, what was not asked stays not asked, and the record takes the event."""
    answers = Answers(
        None if fasting is None else fasting / 60,
        None if dose is None else dose / 60,
        due,
        seated,
        lying,
    )
    payload = answers_to_event(answers)
    assert answers_from_event(payload) == answers
    event = Event(
        id="01a21181-e458-7000-8000-00000000000b", site="valley", kind="requisition_answered",
        happened_at=datetime(2026, 11, 25, 7, tzinfo=UTC), who="mira",
        subject="requisition:R-1", payload=payload,
    )  # fmt: skip
    check_event(event)


def test_a_fraction_of_an_hour_is_kept_to_the_minute() -> None:
    """Eleven and a half hours are 690 minutes; numbers of an event are whole."""
    assert answers_to_event(Answers(fasting_h=11.5)) == {"fasting_min": 690}
    assert answers_to_event(Answers(seated_min=14.6)) == {"seated_min": 15}
