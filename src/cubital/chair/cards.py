"""
What the page keeps for the moments of a draw, whoever the patient is.

Reminders by moment, the first-aid card of each mishap with what is due afterwards, and the reasons
for which no blood was obtained: JSON of the catalogue's rows.  Times are given as hours from the
mishap, so that the page can write the dates with the network cut.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from cubital.catalogue import Catalogue
from cubital.catalogue.model_chair import FollowUp, Mishap, NotObtained, Reminder
from cubital.chair.mishaps import CAUTION, card

MOMENTS = ("before_needle", "needle_in", "blood_flows", "filling", "before_out", "after")

Json = dict[str, Any]


def cards_to(catalogue: Catalogue, numbers: Mapping[str, str] | None = None) -> Json:
    """
    Everything of the chair that hangs on no patient.

    Args:
        catalogue: with the laboratory's own tables laid over.
        numbers: the place's own telephone numbers, for the top of each card.
    """
    mishaps = [_mishap_to(catalogue, row, numbers or {}) for row in catalogue.rows(Mishap)]
    reminders = {moment: _reminders(catalogue, moment) for moment in MOMENTS}
    reasons = [
        {"code": row.code, "name": row.name, "new_attempt": row.new_attempt, "source": row.source}
        for row in catalogue.rows(NotObtained)
    ]
    return {
        "caution": CAUTION,
        "numbers": [[name, number] for name, number in (numbers or {}).items()],
        "reminders": reminders,
        "mishaps": mishaps,
        "not_obtained": reasons,
        "sources": _sources(catalogue, mishaps, reminders),
    }


def _reminders(catalogue: Catalogue, moment: str) -> list[Json]:
    return [
        {
            "code": row.code,
            "sentence": row.sentence,
            "devices": [each for each in row.devices.split(";") if each],
            "unless": row.unless,
            "source": row.source,
        }
        for row in catalogue.rows(Reminder)
        if row.moment == moment
    ]


def _mishap_to(catalogue: Catalogue, row: Mishap, numbers: Mapping[str, str]) -> Json:
    made = card(catalogue, row.code, numbers)
    due = [each for each in catalogue.rows(FollowUp) if each.mishap == row.code]
    return {
        "code": row.code,
        "name": row.name,
        "whom": row.whom,
        "ends_attempt": row.ends_attempt,
        "ends_draw": row.ends_draw,
        "steps": [{"sentence": step.sentence, "source": step.source} for step in made.steps],
        "due": [
            {
                "code": each.code,
                "from_h": each.due_from_h,
                "until_h": each.due_until_h,
                "sentence": each.sentence,
                "source": each.source,
            }
            for each in sorted(due, key=lambda each: (each.due_until_h, each.code))
        ],
    }


def _sources(
    catalogue: Catalogue, mishaps: Iterable[Json], reminders: Mapping[str, list[Json]]
) -> dict[str, str]:
    """The words for each source that a card or a reminder names."""
    keys = [each["source"] for some in reminders.values() for each in some]
    for mishap in mishaps:
        keys += [each["source"] for each in (*mishap["steps"], *mishap["due"])]
    return {key: source_words(catalogue, key) for key in dict.fromkeys(keys)}


def source_words(catalogue: Catalogue, key: str) -> str:
    """A source as a line under a sentence: title, year, part, and its basis unless published."""
    source = catalogue.sources.get(key)
    if source is None:
        return key
    year = f" ({source.year})" if source.year else ""
    part = f", {source.part}" if source.part else ""
    plain = source.basis == "published" or source.title.lower().startswith(source.basis)
    told = "" if plain else f"; {source.basis}"
    return f"{source.title}{year}{part}{told}"
