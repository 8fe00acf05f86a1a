"""Entries of the logbook and what is due, as a page shows them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

from cubital.catalogue import Catalogue
from cubital.custody import Event
from cubital.desk.draw.page import Why, why
from cubital.desk.record.logbook import specimen_of
from cubital.desk.record.selectors_quality import specimens_whose
from cubital.desk.words import counted
from cubital.finding import Reason
from cubital.logbook import Entry, FollowUp, concerned, is_exposure

HEADINGS = {
    "incident": ("Incident", "Incidents", "stop"),
    "non_conformance": ("Non-conformance", "Non-conformances", "ask"),
    "refusal": ("Refusal", "Refusals", "ask"),
    "override": ("Override", "Overrides", "note"),
    "prick": ("More than one needle", "Patients pricked more than once", "note"),
}
"""Heading -> word of one, word of many, and its mark."""


@dataclass(frozen=True, slots=True)
class Line:
    """
    An entry on a list.

    Args:
        entry: as the logbook has it.
        heading: in words.
        mark: how its mark looks.
        who: names of the writer.
        people: names of the others concerned.
        place: name.
        open: how many follow-ups are open.
        overdue: how many of them are.
    """

    entry: Entry
    heading: str
    mark: str
    who: str
    people: str
    place: str
    open: int
    overdue: int


@dataclass(frozen=True, slots=True)
class Due:
    """
    Something due, with its entry.

    Args:
        follow_up: as the logbook has it.
        entry: the incident.
        whose: name of whom it concerns.
        owner: name of who does it, "" for nobody yet.
        until: when, in words.
        now: whether its time has come.
        overdue: whether its time has passed.
        exposure: whether it is somebody's own health.
        why: its source in words, None when a person asked for it.
    """

    follow_up: FollowUp
    entry: Entry
    whose: str
    owner: str
    until: str
    now: bool
    overdue: bool
    exposure: bool
    why: Why | None


@dataclass(frozen=True, slots=True)
class Done:
    """Something that was done about an incident: when, by whom, in words."""

    at: datetime
    who: str
    words: str
    due_on: str
    owner: str
    note: str
    closed: bool


def with_whose(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    """Entries about a specimen with whose blood it is, where they do not say so themselves."""
    kept = tuple(entries)
    codes = {specimen_of(entry) for entry in kept if not entry.patient} - {""}
    whose = specimens_whose(codes)
    found = []
    for entry in kept:
        patient, requisition = whose.get(specimen_of(entry), ("", ""))
        found.append(
            replace(
                entry,
                patient=entry.patient or patient,
                requisition=entry.requisition or requisition,
            )
        )
    return tuple(found)


def lines_of(
    entries: Iterable[Entry], names: Mapping[str, str], places: Mapping[str, str], now: datetime
) -> list[Line]:
    """Entries as lines."""
    return [line_of(entry, names, places, now) for entry in entries]


def line_of(
    entry: Entry, names: Mapping[str, str], places: Mapping[str, str], now: datetime
) -> Line:
    """One entry as a line."""
    word, _, mark = HEADINGS[entry.heading]
    left = [each for each in entry.follow_ups if each.done_at is None]
    return Line(
        entry=entry,
        heading=word,
        mark=mark,
        who=names.get(entry.who, entry.who),
        people=", ".join(names.get(each, each) for each in entry.people if each != entry.who),
        place=places.get(entry.site, entry.site),
        open=len(left),
        overdue=sum(each.overdue(now) for each in left),
    )


def due_of(
    entries: Iterable[Entry], names: Mapping[str, str], catalogue: Catalogue, now: datetime
) -> list[Due]:
    """Everything still to do, the most urgent first."""
    found = [
        Due(
            follow_up=each,
            entry=entry,
            whose=whose(entry, names),
            owner=names.get(each.owner, each.owner),
            until=until_words(each.until, now),
            now=each.best_from <= now,
            overdue=each.overdue(now),
            exposure=is_exposure(entry, catalogue),
            why=why(Reason("", each.source), catalogue) if each.source else None,
        )
        for entry in entries
        for each in entry.follow_ups
        if each.done_at is None
    ]
    return sorted(found, key=lambda due: (due.follow_up.until, due.follow_up.code))


def whose(entry: Entry, names: Mapping[str, str]) -> str:
    """Names of whom an entry concerns."""
    return ", ".join(names.get(each, each) for each in concerned(entry))


def until_words(until: datetime, now: datetime) -> str:
    """``until today 14:20, in 1 h 50 min``; ``2 days overdue``."""
    if now > until:
        return f"{span_words(now - until)} overdue"
    local = timezone.localtime(until)
    days = (local.date() - timezone.localtime(now).date()).days
    if days == 0:
        return f"until today {local:%H:%M}, in {span_words(until - now)}"
    if days == 1:
        return f"until tomorrow {local:%H:%M}"
    return f"until {local:%a} {local.day} {local:%b %Y}, in {counted(days, 'day')}"


def span_words(span: timedelta) -> str:
    """A time left or gone: minutes, hours, then days."""
    minutes = int(span.total_seconds()) // 60
    if minutes < 60:
        return f"{max(minutes, 1)} min"
    hours, rest = divmod(minutes, 60)
    if hours < 24:
        return f"{hours} h {rest:02d} min"
    return counted(hours // 24, "day")


def history(events: Sequence[Event], entry: Entry, names: Mapping[str, str]) -> list[Done]:
    """What was done about an incident, in order."""
    sentences = {each.code: each.sentence for each in entry.follow_ups}
    return [
        Done(
            at=event.happened_at,
            who=names.get(event.who, event.who),
            words=sentences.get(said(event, "action"), said(event, "action")),
            due_on=said(event, "due_on"),
            owner=names.get(said(event, "owner"), said(event, "owner")),
            note=said(event, "note"),
            closed=bool(event.payload.get("closed")),
        )
        for event in events
        if event.kind == "incident_followed_up" and event.subject == entry.subject
    ]


def said(event: Event, name: str) -> str:
    """A member of the payload as text."""
    value: Any = event.payload.get(name)
    return "" if value is None else str(value)
