"""Writes: what went wrong, and what is done about it."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction

from cubital.catalogue import Catalogue
from cubital.catalogue.model_chair import Mishap
from cubital.custody.payload import NOTE_LENGTH
from cubital.desk.record.events import append_event
from cubital.desk.record.happened import append_all, happened
from cubital.desk.record.models import Event as EventRow
from cubital.desk.record.models import Patient, Person, Place
from cubital.desk.record.numbers import next_number
from cubital.errors import InputError
from cubital.logbook import Entry

FOLLOWED_WORD = 32
"""Longest code of what an incident is about."""


def incident_code_give(*, place: Place, day: date) -> str:
    """Give an incident a code that nobody else gets."""
    with transaction.atomic():
        serial = next_number(f"incident {place.letters} {day:%y%m%d}")
    return f"I{place.letters}{day:%y%m%d}{serial:02d}"


def incident_record(
    *,
    place: Place,
    by: Person,
    now: datetime,
    catalogue: Catalogue,
    what: str,
    happened_at: datetime | None = None,
    people: tuple[str, ...] = (),
    patient: str = "",
    note: str = "",
) -> str:
    """
    Record an incident at a place; gives its code.

    Args:
        place: where.
        by: who records it.
        now: when it is recorded.
        catalogue: of the place; knows what can go wrong.
        what: code of ``mishaps.csv``.
        happened_at: None for now.
        people: sign-in names of those concerned; nobody named means the writer.
        patient: number, "" for none.
        note: in a few words.

    Raises:
        InputError: no such mishap, person or patient, a time to come, or too long a note.
        EventRefused: the record refuses it.
    """
    if what not in {row.code for row in catalogue.rows(Mishap)}:
        raise InputError("Say what happened", "what happened", "Choose one of the list.")
    at = happened_at or now
    if at > now:
        raise InputError("This time is still to come", "when")
    known = set(Person.objects.filter(username__in=people).values_list("username", flat=True))
    for name in people:
        if name not in known:
            raise InputError(f"Nobody signs in as {name!r}", "who is concerned")
    if patient and not Patient.objects.filter(number=patient).exists():
        raise InputError(f"There is no patient {patient}", "patient number", "Scan the wristband.")
    checked_note(note)
    code = incident_code_give(place=place, day=at.astimezone(ZoneInfo(place.time_zone)).date())
    event = happened(
        "incident_recorded",
        f"incident:{code}",
        site=place.code,
        by=by,
        now=at,
        what=what,
        people=list(dict.fromkeys(people)),
        patient=patient,
        note=note.strip(),
    )
    append_event(event=event, person=by, now=now)
    return code


def checked_note(note: str, where: str = "note") -> None:
    """Refuse what the record would not hold."""
    if len(note) > NOTE_LENGTH:
        raise InputError(f"Longer than {NOTE_LENGTH} characters", where, "Shorten it.")


def follow_up_done(*, entry: Entry, code: str, by: Person, now: datetime, note: str = "") -> None:
    """
    Note that something due was done; with the last of them the incident is closed.

    Raises:
        InputError: it is not due, or done already.
        EventRefused: the record refuses it.
    """
    if code not in {each.code for each in entry.follow_ups}:
        raise InputError("This is not due after this incident", mend="Load the page anew.")
    left = {each.code for each in entry.follow_ups if each.done_at is None}
    if code not in left:
        raise InputError("Somebody noted before you that this was done")
    checked_note(note)
    event = happened(
        "incident_followed_up",
        entry.subject,
        site=entry.site,
        by=by,
        now=now,
        action=code,
        closed=left == {code} or None,
        note=note.strip(),
    )
    append_event(event=event, person=by, now=now)


def incident_follow_up(
    *,
    entry: Entry,
    by: Person,
    now: datetime,
    action: str,
    due_on: date | None = None,
    owner: str = "",
    closed: bool = False,
    note: str = "",
) -> None:
    """
    Write a corrective action: what was done, or what somebody shall do by a day.

    Args:
        entry: of the incident.
        by: who writes.
        now: when.
        action: in words.
        due_on: until when it is due, None for something already done.
        owner: who does it, "" for nobody yet.
        closed: nothing is left to do.
        note: more.

    Raises:
        InputError: no words, a day gone by, somebody who does not work here, or closed and due.
        EventRefused: the record refuses it.
    """
    words = action.strip()
    if not words:
        raise InputError("Say in a few words what was done or shall be done", "corrective action")
    checked_note(words, "corrective action")
    checked_note(note)
    if due_on is not None:
        check_due(entry, due_on, now, closed=closed)
    if owner and due_on is None:
        raise InputError("Until when?", "due on", "Give the day, or name nobody.")
    if owner and not Person.objects.filter(username=owner, is_active=True).exists():
        raise InputError(f"Nobody signs in as {owner!r}", "who does it")
    event = happened(
        "incident_followed_up",
        entry.subject,
        site=entry.site,
        by=by,
        now=now,
        action=words,
        due_on=due_on.isoformat() if due_on else None,
        owner=owner,
        closed=closed or None,
        note=note.strip(),
    )
    append_event(event=event, person=by, now=now)


def check_due(entry: Entry, due_on: date, now: datetime, *, closed: bool) -> None:
    """Refuse a day that cannot be met, and something due on what is closed."""
    place = Place.objects.get(code=entry.site)
    if due_on < now.astimezone(ZoneInfo(place.time_zone)).date():
        raise InputError(f"{due_on} is over", "due on", "Give today or a day to come.")
    if closed:
        raise InputError(
            "What is due is not closed", "due on", "Leave the day empty, or do not close it."
        )


def incident_from_slip(
    *, entry: Entry, row: EventRow | None, by: Person, now: datetime, action: str, **more: Any
) -> str:
    """
    Make an incident of a refusal, an override or another slip, to follow it up; gives its code.

    Args:
        entry: as the logbook has it.
        row: of its event, None where it comes of none.
        by: who writes.
        now: when.
        action: as for :func:`incident_follow_up`, like ``more``.
        more: ``due_on``, ``owner``, ``closed``, ``note``.

    Raises:
        InputError: as for :func:`incident_follow_up`.
        EventRefused: the record refuses it.
    """
    place = Place.objects.get(code=entry.site)
    zone = ZoneInfo(place.time_zone)
    with transaction.atomic():
        number = incident_code_give(place=place, day=now.astimezone(zone).date())
        begun = happened(
            "incident_recorded",
            f"incident:{number}",
            site=entry.site,
            by=by,
            now=now,
            what=slip_word(entry, row),
            draw=draw_of(entry),
            specimen=specimen_of(entry),
            patient=entry.patient,
            note=f"{entry.what} ({entry.at.astimezone(zone):%Y-%m-%d %H:%M})",
        )
        append_all(events=[begun], by=by, now=now)
        made = Entry(
            event=begun.id, at=now, site=entry.site, who=by.username, heading="incident",
            what="", code="", subject=begun.subject,
        )  # fmt: skip
        incident_follow_up(entry=made, by=by, now=now, action=action, **more)
    return number


def slip_word(entry: Entry, row: EventRow | None) -> str:
    """What the incident made of a slip is about: the rule or reason, else the kind of event."""
    return (entry.code or (row.kind if row is not None else ""))[:FOLLOWED_WORD]


def draw_of(entry: Entry) -> str:
    """The draw that an entry is about, "" for none."""
    what, _, code = entry.subject.partition(":")
    return code if what == "draw" else ""


def specimen_of(entry: Entry) -> str:
    """The specimen that an entry is about, "" for none."""
    what, _, code = entry.subject.partition(":")
    return code if what == "specimen" else ""
