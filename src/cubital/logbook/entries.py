"""One searchable log, made of the events by themselves."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date, datetime, time, tzinfo
from functools import cache

from cubital.catalogue import Catalogue
from cubital.catalogue.model_chair import Mishap, NotObtained
from cubital.catalogue.model_logbook import LogKind
from cubital.catalogue.model_reception import ReceptionRule
from cubital.chair.mishaps import due_after
from cubital.custody import Event
from cubital.logbook.values import Entry, FollowUp


def _text(event: Event, *names: str) -> str:
    for name in names:
        value = event.payload.get(name)
        if value:
            return str(value)
    return ""


BY_RULE = ("override_given", "tube_refused")
"""Events that name a rule, which need not have words in a table."""


class _Words:
    """Codes in words, from the catalogue."""

    def __init__(self, catalogue: Catalogue) -> None:
        self.kinds = {row.event: row for row in catalogue.rows(LogKind)}
        self.mishaps = {row.code: row.name for row in catalogue.rows(Mishap)}
        self.rules = {row.code: row.name for row in catalogue.rows(ReceptionRule)}
        self.reasons = {row.code: row.name for row in catalogue.rows(NotObtained)}

    def what(self, event: Event, code: str) -> str:
        """An entry's words."""
        known = self.mishaps | self.rules | self.reasons
        row = self.kinds[event.kind]
        if event.kind in BY_RULE and code and code not in known:
            return f"{row.name}: {code.replace('-', ' ')}"
        return f"{row.name}: {known[code]}" if code in known else row.name


def _code(event: Event) -> str:
    if event.kind == "override_given":  # its reason is free words, and stands in the note
        return _text(event, "finding")
    return _text(event, "what", "reason", "finding", "identifier")


def _note(event: Event) -> str:
    if event.kind == "tube_refused" and event.payload.get("code") and not event.payload.get("note"):
        return f"Scanned: {event.payload['code']}"
    return _text(event, "reason" if event.kind == "override_given" else "note")


def _entry(event: Event, words: _Words, catalogue: Catalogue, draws: Mapping[str, Event]) -> Entry:
    code = _code(event)
    begun = draws.get(_text(event, "draw") or event.subject.partition(":")[2])
    follow_ups: tuple[FollowUp, ...] = ()
    if event.kind == "incident_recorded" and code in words.mishaps:
        follow_ups = tuple(
            FollowUp(
                event.subject.partition(":")[2],
                each.code,
                each.sentence,
                each.best_from,
                each.until,
                source=each.source,
            )
            for each in due_after(catalogue, code, event.happened_at)
        )
    people = event.payload.get("people")
    return Entry(
        event=event.id,
        at=event.happened_at,
        site=event.site,
        who=event.who,
        heading=words.kinds[event.kind].heading,
        what=words.what(event, code),
        code=code,
        subject=event.subject,
        patient=_text(event, "patient") or (_text(begun, "patient") if begun else ""),
        requisition=_text(begun, "requisition") if begun else "",
        people=tuple(str(p) for p in people) if isinstance(people, list | tuple) else (),
        note=_note(event),
        follow_ups=follow_ups,
        closed=not follow_ups,
    )


def _followed(entry: Entry, event: Event, zone: tzinfo) -> Entry:
    """
    Take one follow-up event into its entry.

    An action that names a follow-up's code closes that one; ``closed`` closes the whole; a due date
    with another text opens a new follow-up.
    """
    action = _text(event, "action")
    follow_ups = tuple(
        replace(f, done_at=event.happened_at) if f.code == action and f.done_at is None else f
        for f in entry.follow_ups
    )
    due = _text(event, "due_on")
    if due and action not in {f.code for f in entry.follow_ups}:
        until = datetime.combine(date.fromisoformat(due), time.max, zone)
        asked = FollowUp(
            event.subject.partition(":")[2],
            event.id,
            action,
            event.happened_at,
            until,
            _text(event, "owner"),
        )
        follow_ups = (*follow_ups, asked)
    if event.payload.get("closed"):
        follow_ups = tuple(
            f if f.done_at else replace(f, done_at=event.happened_at) for f in follow_ups
        )
    return replace(
        entry,
        follow_ups=follow_ups,
        actions=(*entry.actions, action),
        closed=bool(event.payload.get("closed")) or all(f.done_at for f in follow_ups),
    )


def log_entries(events: Iterable[Event], catalogue: Catalogue, zone: tzinfo) -> tuple[Entry, ...]:
    """
    Give the log, newest first.

    Args:
        events: effective events (corrections applied), any order.
        catalogue: for words and follow-ups.
        zone: of the place, for days.
    """
    ordered = sorted(events, key=lambda e: (e.happened_at, e.id))
    words = _Words(catalogue)
    draws = {e.subject.partition(":")[2]: e for e in ordered if e.kind == "draw_begun"}
    entries: dict[str, Entry] = {}
    for event in ordered:
        if event.kind in words.kinds:
            key = event.subject if event.kind == "incident_recorded" else event.id
            entries[key] = _entry(event, words, catalogue, draws)
    # after all of them: what is recorded and followed up in the same moment has no order by itself
    for event in ordered:
        if event.kind == "incident_followed_up" and event.subject in entries:
            entries[event.subject] = _followed(entries[event.subject], event, zone)
    return tuple(sorted(entries.values(), key=lambda e: (e.at, e.event), reverse=True))


def search(entries: Iterable[Entry], text: str = "", heading: str = "") -> tuple[Entry, ...]:
    """Entries in which every word of the text occurs, case and accents of case aside."""
    wanted = text.casefold().split()

    @cache
    def hay(entry: Entry) -> str:
        return " ".join(
            (entry.what, entry.code, entry.who, entry.subject, entry.patient, entry.requisition,
             entry.note, *entry.people, *entry.actions)
        ).casefold()  # fmt: skip

    return tuple(
        entry
        for entry in entries
        if (not heading or entry.heading == heading) and all(word in hay(entry) for word in wanted)
    )


def open_follow_ups(entries: Iterable[Entry]) -> tuple[FollowUp, ...]:
    """Everything still to do, the most urgent first: what stands on the first page."""
    found = [f for entry in entries for f in entry.follow_ups if f.done_at is None]
    return tuple(sorted(found, key=lambda f: (f.until, f.incident, f.code)))


def day_sheet(entries: Iterable[Entry], day: date, zone: tzinfo) -> tuple[Entry, ...]:
    """One day's non-conformances, in the order in which they happened."""
    found = [e for e in entries if e.at.astimezone(zone).date() == day]
    return tuple(sorted(found, key=lambda e: (e.at, e.event)))
