"""When something goes wrong: the first-aid card, and what is due afterwards."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from cubital.catalogue import Catalogue
from cubital.catalogue.model_chair import FirstAid, FollowUp, Mishap
from cubital.errors import InputError

CAUTION = "Follow your local protocol first; this card reminds, it does not replace training."


@dataclass(frozen=True, slots=True)
class Card:
    """
    A first-aid card.

    Args:
        mishap: what happened.
        numbers: the laboratory's own telephone numbers, on top.
        steps: in order.
        caution: always there.
    """

    mishap: Mishap
    numbers: tuple[tuple[str, str], ...]
    steps: tuple[FirstAid, ...]
    caution: str = CAUTION


@dataclass(frozen=True, slots=True)
class Due:
    """Something to do after a mishap, and until when."""

    code: str
    best_from: datetime
    until: datetime
    sentence: str
    source: str


def _mishap(catalogue: Catalogue, code: str) -> Mishap:
    for row in catalogue.rows(Mishap):
        if row.code == code:
            return row
    known = ", ".join(row.code for row in catalogue.rows(Mishap))
    raise InputError(f"There is no mishap {code!r}", mend=f"Choose one of {known}.")


def card(catalogue: Catalogue, code: str, numbers: Mapping[str, str] | None = None) -> Card:
    """
    Give the first-aid card of a mishap.

    Raises:
        InputError: no such mishap.
    """
    mishap = _mishap(catalogue, code)
    steps = sorted(
        (row for row in catalogue.rows(FirstAid) if row.mishap == code), key=lambda row: row.step
    )
    return Card(mishap, tuple((numbers or {}).items()), tuple(steps))


def due_after(catalogue: Catalogue, code: str, happened_at: datetime) -> tuple[Due, ...]:
    """
    Give what is due after a mishap, the most urgent first.

    Raises:
        InputError: no such mishap.
    """
    _mishap(catalogue, code)
    due = [
        Due(
            row.code,
            happened_at + timedelta(hours=row.due_from_h),
            happened_at + timedelta(hours=row.due_until_h),
            row.sentence,
            row.source,
        )
        for row in catalogue.rows(FollowUp)
        if row.mishap == code
    ]
    return tuple(sorted(due, key=lambda each: (each.until, each.code)))
