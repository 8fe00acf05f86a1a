"""Whom an entry concerns, and who may see what is due after it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from cubital.catalogue import Catalogue
from cubital.catalogue.model_chair import Mishap
from cubital.logbook.values import Entry

COLLECTOR = "collector"
"""Of ``mishaps.csv``: it happens to whoever works here, not to the patient."""


def is_exposure(entry: Entry, catalogue: Catalogue) -> bool:
    """Whether somebody who works here was exposed to blood: their own health, not to be told on."""
    if entry.heading != "incident":
        return False
    rows = catalogue.rows(Mishap)
    return any(row.code == entry.code and row.whom == COLLECTOR for row in rows)


def concerned(entry: Entry) -> tuple[str, ...]:
    """Sign-in names of the people whom an entry concerns: those named in it, else its writer."""
    return entry.people or (entry.who,)


def seen_by(entries: Iterable[Entry], person: str, catalogue: Catalogue) -> tuple[Entry, ...]:
    """
    Give the entries of which somebody who keeps no logbook may see what is due.

    An exposure is seen by those whom it concerns and by nobody else.
    """
    return tuple(
        entry
        for entry in entries
        if person in concerned(entry) or not is_exposure(entry, catalogue)
    )


def exposures(entries: Iterable[Entry], catalogue: Catalogue) -> tuple[Entry, ...]:
    """Exposures of which something is still due: they stand on the first page."""
    return tuple(
        entry
        for entry in entries
        if is_exposure(entry, catalogue) and any(f.done_at is None for f in entry.follow_ups)
    )


def named(entry: Entry, names: dict[str, str]) -> Entry:
    """The entry with the names by which people are known beside their sign-in names, to search."""
    known = [names[each] for each in (entry.who, *entry.people) if each in names]
    return replace(entry, people=(*entry.people, *known))
