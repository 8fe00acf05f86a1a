"""Writes: what arrives, what is decided on it, who is told, and what is asked for again."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from django.db import transaction

from cubital.accession import accession_number
from cubital.custody import Answer, Event, Offer, Specimen, State, time_to
from cubital.desk.record.happened import append_all, happened
from cubital.desk.record.models import Looked, Person, Place, Requisition, Stranger
from cubital.desk.record.numbers import next_number
from cubital.desk.record.recollections import DRAWN_FOR, recollection_add
from cubital.desk.record.selectors_way import events_of
from cubital.desk.record.writer import offer_events
from cubital.errors import InputError
from cubital.reception import Decision

SETTLED_IN_LABORATORY = (State.ACCEPTED, State.SPUN, State.ALIQUOTED)
NOTE_LENGTH = 2000
UNTOLD = "Its label belongs to requisition"
"""How the question begins about a tube of which the chair has not told yet."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """What was seen, in words for the events, and the measured index in mg/L."""

    words: str = ""
    haemolysis_mg_l: int | None = None


def specimen_arrive(
    *,
    specimen: Specimen,
    accept: Decision | None,
    place: Place,
    by: Person,
    now: datetime,
    unlisted: str = "",
) -> tuple[Answer, ...]:
    """
    Receive a specimen, and accept it at once where nothing stands against it.

    What lies in a box that has not left is taken out of it first; what was received already is only
    accepted.  Events are stored together with those of others who write at the same moment.

    Args:
        specimen: as it stands.
        accept: the decision that needs nobody, None to leave it at the reception.
        place: where it arrives.
        by: who receives it.
        now: when.
        unlisted: why it is taken over though nobody sent it here, "" where somebody did.

    Returns:
        One answer an event, in the order: taken out, received, accepted.
    """
    subject = f"specimen:{specimen.code}"
    events = []
    if specimen.state is State.BOXED:
        box = specimen.place.partition(":")[2]
        events.append(
            happened("specimen_unboxed", subject, site=specimen.site, by=by, now=now, box=box,
                     note="it arrived without its box")
        )  # fmt: skip
    if specimen.state is not State.RECEIVED:
        events.append(
            happened("specimen_received", subject, site=place.code, by=by, now=now,
                     unlisted=True if unlisted else None, note=unlisted[:NOTE_LENGTH])
        )  # fmt: skip
    if accept is not None:
        events.append(_accepted(specimen.code, accept, Evidence(), place, by, now))
    return offer_events(offers=[Offer(event, by.username) for event in events])


def _accepted(
    code: str, done: Decision, seen: Evidence, place: Place, by: Person, now: datetime
) -> Event:
    return happened(
        "specimen_accepted",
        f"specimen:{code}",
        site=place.code,
        by=by,
        now=now,
        tests=list(done.accept),
        decided_by=done.decided_by,
        remarks=list(done.remarks),
        haemolysis_mg_l=seen.haemolysis_mg_l,
        note="; ".join(filter(None, (seen.words, done.why)))[:NOTE_LENGTH],
    )


def specimen_decide(
    *,
    specimen: Specimen,
    done: Decision,
    seen: Evidence,
    looked: Mapping[str, Any],
    requisition: Requisition | None,
    ask_again: bool,
    place: Place,
    by: Person,
    now: datetime,
) -> Requisition | None:
    """
    Write what was decided: accepted, refused for some tests or all, asked for again.

    Args:
        specimen: as it stands.
        done: the decision.
        seen: in words, for the events.
        looked: as it was entered, for the page.
        requisition: of the specimen, None where there is none.
        ask_again: whether the refused tests are asked for again.
        place: whose reception decides.
        by: who enters it.
        now: when.

    Returns:
        The requisition on the collector's list, new or one that waited already; None when
        nothing is to be drawn.

    Raises:
        InputError: it is accepted already and nothing more is refused.
        EventRefused: the record refuses; nothing is stored.
    """
    settled = specimen.state in SETTLED_IN_LABORATORY
    with transaction.atomic():
        before = refused_tests(events_of(f"specimen:{specimen.code}")) if settled else frozenset()
        fresh = tuple(test for test in done.refuse if test not in before)
        if settled and not fresh:
            raise InputError(
                "It is decided already, and nothing more stands against it",
                specimen.code,
                "Write down what is wrong with it first.",
            )
        looked_keep(code=specimen.code, seen=looked, by=by, now=now)
        again = None
        if fresh and ask_again and requisition is not None and specimen.material == "blood":
            again = recollection_add(
                first=requisition, specimen=specimen.code, tests=fresh, sentence=done.sentence,
                by=by, now=now,
            )  # fmt: skip
        events = decision_events(specimen, done, seen, again, ask_again, place, by, now)
        append_all(events=events, by=by, now=now)
    return again


def refused_tests(events: Iterable[Event]) -> frozenset[str]:
    """The tests for which an accepted specimen is refused, from its events in their order."""
    refused: set[str] = set()
    for event in events:
        tests = event.payload.get("tests")
        named = set(map(str, tests)) if isinstance(tests, list | tuple) else set()
        if event.kind == "specimen_refused":
            refused |= named
        elif event.kind == "specimen_accepted":
            refused -= named
    return frozenset(refused)


def decision_events(
    specimen: Specimen,
    done: Decision,
    seen: Evidence,
    again: Requisition | None,
    ask_again: bool,
    place: Place,
    by: Person,
    now: datetime,
) -> list[Event]:
    """
    The events of a decision, in their order.

    A specimen that is refused for some of its tests ends as accepted for the others, and names who
    decided: so the bench sees it, and the refusal stands beside it.
    """
    subject = f"specimen:{specimen.code}"

    def event(kind: str, **payload: Any) -> Event:
        return happened(kind, subject, site=place.code, by=by, now=now, **payload)

    events = [event("override_given", finding=code, reason=done.why) for code in done.past]
    if done.refuse:
        events.append(
            event("specimen_refused", reason=done.reason,
                  tests=list(done.refuse) if done.accept else None, remarks=list(done.remarks),
                  haemolysis_mg_l=seen.haemolysis_mg_l,
                  note=refused_note(done, seen))
        )  # fmt: skip
        if ask_again:
            events.append(
                event("recollection_asked", reason=done.reason, tests=list(done.refuse),
                      note=f"{DRAWN_FOR}{again.number}" if again is not None else None)
            )  # fmt: skip
    if done.accept:
        refused_before = bool(done.refuse) or specimen.state is State.REFUSED
        name = done.decided_by or (by.username if refused_before else "")
        accepted = replace(done, decided_by=name)
        events.append(_accepted(specimen.code, accepted, seen, place, by, now))
    return events


def refused_note(done: Decision, seen: Evidence) -> str:
    """Why it is refused, and what was seen, for whoever is told."""
    words = f"Seen: {seen.words}." if seen.words else ""
    return " ".join(filter(None, (done.sentence, words)))[:NOTE_LENGTH]


def looked_keep(*, code: str, seen: Mapping[str, Any], by: Person, now: datetime) -> None:
    """Keep what somebody saw on a specimen, over what was kept before."""
    Looked.objects.update_or_create(
        specimen=code, defaults={"seen": dict(seen), "at": now, "by": by.username}
    )


# ---------------------------------------------------------------- who is told


def requesters_tell(
    *,
    codes: Collection[str],
    told: str,
    how: str,
    note: str,
    place: Place,
    by: Person,
    now: datetime,
) -> None:
    """
    Write down who was told of the refusal of these specimens.

    Raises:
        InputError: nobody is named.
        EventRefused: the record refuses it; nothing is stored.
    """
    if not told.strip():
        raise InputError("Who was told?", mend="Write the name of the person on the telephone.")
    events = [
        happened("requester_told", f"specimen:{code}", site=place.code, by=by, now=now,
                 told=told.strip()[:NOTE_LENGTH], how=how, note=note.strip()[:NOTE_LENGTH])
        for code in codes
    ]  # fmt: skip
    append_all(events=events, by=by, now=now)


# ---------------------------------------------------------------- without a draw on record


@dataclass(frozen=True, slots=True)
class Registered:
    """A specimen as it is registered at the reception."""

    code: str
    material: str
    patient: str
    requisition: str
    container: str
    tests: tuple[str, ...]
    collected_at: datetime | None
    volume_ul: int | None = None


def specimen_register(
    *,
    what: Registered,
    accept: Decision | None,
    looked: Mapping[str, Any],
    seen: Evidence,
    place: Place,
    by: Person,
    now: datetime,
) -> None:
    """
    Register a specimen without a draw on record, and accept it where nothing stands against it.

    Raises:
        EventRefused: the number is in the record already; nothing is stored.
    """
    subject = f"specimen:{what.code}"
    collected = time_to(what.collected_at) if what.collected_at is not None else None
    events = [
        happened("specimen_registered", subject, site=place.code, by=by, now=now,
                 material=what.material, patient=what.patient, requisition=what.requisition,
                 container=what.container, collected_at=collected, volume_ul=what.volume_ul,
                 tests=list(what.tests))
    ]  # fmt: skip
    if accept is not None:
        events.append(_accepted(what.code, accept, seen, place, by, now))
    with transaction.atomic():
        looked_keep(code=what.code, seen=looked, by=by, now=now)
        append_all(events=events, by=by, now=now)


def label_print(*, code: str, place: Place, by: Person, now: datetime) -> None:
    """
    Keep that a label was printed for a specimen.

    Raises:
        EventRefused: the record refuses it.
    """
    event = happened("label_printed", f"specimen:{code}", site=place.code, by=by, now=now,
                     label=code, copies=1)  # fmt: skip
    append_all(events=[event], by=by, now=now)


def accession_give(*, place: Place, day: date) -> str:
    """Give an accession number to something that came without one."""
    with transaction.atomic():
        serial = next_number(f"accession {place.letters} {day:%y%m%d}")
        return accession_number(place.letters, day, serial)


# ---------------------------------------------------------------- nobody knows it


def stranger_keep(*, text: str, why: str, place: Place, by: Person, now: datetime) -> Stranger:
    """Keep a number that arrived and that nobody knows; while it is open it is kept once."""
    row, _ = Stranger.objects.get_or_create(
        place=place,
        text=text[:64],
        settled_at=None,
        defaults={"why": why[:300], "by": by, "arrived_at": now},
    )
    return row


def stranger_settle(*, row: Stranger, how: str, note: str, by: Person, now: datetime) -> None:
    """
    Say what became of something that nobody knew.

    Raises:
        InputError: it is not said what, or it is settled already.
    """
    if how not in dict(Stranger.HOW):
        raise InputError("What became of it?", mend="Choose one of the answers.")
    with transaction.atomic():
        current = Stranger.objects.select_for_update().get(pk=row.pk)
        if current.settled_at is not None:
            raise InputError(f"{row.text} is settled already")
        current.how, current.note = how, note.strip()[:300]
        current.settled_at, current.settled_by = now, by
        current.save(update_fields=["how", "note", "settled_at", "settled_by"])


def strangers_known(*, text: str, place: Place, by: Person, now: datetime) -> None:
    """Settle what was asked about a number once its specimen has arrived in the record."""
    Stranger.objects.filter(place=place, text=text[:64], settled_at=None).update(
        how="known", settled_at=now, settled_by=by
    )
