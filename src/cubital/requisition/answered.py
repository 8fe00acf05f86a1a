"""
Answers about the preparation as an event keeps them.

Whole minutes, for numbers of an event are whole; no member where nobody asked.
"""

from __future__ import annotations

from collections.abc import Mapping

from cubital.requisition.values import Answers

HOUR_MIN = 60
Json = str | int | bool | None


def answers_to_event(answers: Answers) -> dict[str, Json]:
    """The payload of ``requisition_answered``; hours as minutes, to the nearest."""
    payload: dict[str, Json] = {
        "fasting_min": _minutes(answers.fasting_h, HOUR_MIN),
        "since_dose_min": _minutes(answers.since_dose_h, HOUR_MIN),
        "next_dose_due": answers.next_dose_due,
        "seated_min": _minutes(answers.seated_min, 1),
        "supine_min": _minutes(answers.supine_min, 1),
    }
    return {name: value for name, value in payload.items() if value is not None}


def answers_from_event(payload: Mapping[str, object]) -> Answers:
    """The answers that such a payload holds."""
    due = payload.get("next_dose_due")
    return Answers(
        fasting_h=_number(payload, "fasting_min", HOUR_MIN),
        since_dose_h=_number(payload, "since_dose_min", HOUR_MIN),
        next_dose_due=due if isinstance(due, bool) else None,
        seated_min=_number(payload, "seated_min", 1),
        supine_min=_number(payload, "supine_min", 1),
    )


def _minutes(value: float | None, of: int) -> int | None:
    return None if value is None else round(value * of)


def _number(payload: Mapping[str, object], name: str, of: int) -> float | None:
    value = payload.get(name)
    return value / of if isinstance(value, int) and not isinstance(value, bool) else None
