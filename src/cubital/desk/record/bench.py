"""Writes: runs, portions, stores, tests added and done, and what stands on the bench."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db import transaction

from cubital.bench import STILL_CLOTTING
from cubital.custody import Event, Specimen, Spin, time_to
from cubital.desk.record.happened import append_all, happened
from cubital.desk.record.models import Centrifuge, Person, Place, Shelf, SpinNow
from cubital.desk.record.numbers import next_number
from cubital.desk.record.receptions import NOTE_LENGTH, accession_give
from cubital.desk.record.selectors_bench import events_by_subject, portions_gone, texts_of
from cubital.errors import InputError

REASON_LENGTH = 500


@dataclass(frozen=True, slots=True)
class Load:
    """
    What stands in a rotor.

    Args:
        centrifuge: code.
        programme: code.
        specimens: in the order of their places.
        places: of the specimens, in their order.
        balance: places of the balance tubes.
        seconds: at speed.
    """

    centrifuge: str
    programme: str
    specimens: tuple[str, ...]
    places: tuple[int, ...]
    balance: tuple[int, ...]
    speed_rpm: int
    rcf_g: int
    seconds: int


def spin_begin(*, load: Load, place: Place, by: Person, now: datetime, at: datetime) -> str:
    """
    Write that a run begins; gives its number.

    Args:
        load: what is in it.
        place: where it stands.
        by: who starts it.
        now: when it is entered.
        at: when it began.

    Raises:
        InputError: a run is on in this centrifuge already, or it began in the future.
        EventRefused: the record refuses it; nothing is stored.
    """
    _not_to_come(at, now, "began")
    with transaction.atomic():
        row = Centrifuge.objects.select_for_update().filter(place=place, code=load.centrifuge)
        name = next((each.name for each in row), load.centrifuge)
        on = SpinNow.objects.filter(site=place.code, centrifuge=load.centrifuge, state="running")
        if on.exists():
            raise InputError(
                f"{name} runs already", mend="Say first that its run has ended or broke off."
            )
        day = at.astimezone(ZoneInfo(place.time_zone))
        serial = next_number(f"spin {place.letters} {day:%y%m%d}")
        code = f"R{place.letters}{day:%y%m%d}{serial:03d}"
        event = happened(
            "spin_begun",
            f"spin:{code}",
            site=place.code,
            by=by,
            now=at,
            centrifuge=load.centrifuge,
            specimens=list(load.specimens),
            programme=load.programme,
            rcf_g=load.rcf_g,
            seconds=load.seconds,
            speed_rpm=load.speed_rpm,
            places=list(load.places),
            balance=list(load.balance),
        )
        append_all(events=[event], by=by, now=now)
    return code


def spin_end(
    *,
    spin: Spin,
    done: bool,
    note: str,
    place: Place,
    by: Person,
    now: datetime,
    at: datetime,
) -> None:
    """
    Write that a run ended, or that it broke off.

    Raises:
        InputError: it ended before it began, or in the future; or it broke off and nobody says why.
        EventRefused: the record refuses it.
    """
    _not_to_come(at, now, "ended")
    if at < spin.begun_at:
        raise InputError(f"Run {spin.code} ended before it began", mend="Mend the time.")
    if not done and not note.strip():
        raise InputError("Why did it break off?", mend="Write it in a few words.")
    event = happened(
        "spin_ended",
        f"spin:{spin.code}",
        site=place.code,
        by=by,
        now=at,
        specimens=list(spin.specimens),
        outcome="done" if done else "broken_off",
        note=note.strip()[:NOTE_LENGTH],
    )
    append_all(events=[event], by=by, now=now)


def _not_to_come(at: datetime, now: datetime, what: str) -> None:
    if at > now:
        raise InputError(f"The time when it {what} is still to come", mend="Mend the time.")


def spin_early_let(
    *, codes: Collection[str], decided_by: str, why: str, place: Place, by: Person, now: datetime
) -> None:
    """
    Write that specimens may be spun before they have clotted, as a named person decided.

    Raises:
        InputError: nobody of that name may decide, no reason is given, or none is named.
        EventRefused: the record refuses one; none is stored.
    """
    if not codes:
        raise InputError("None of these clots any more", mend="Look at the run again.")
    if not Person.objects.filter(username=decided_by, is_active=True).exists():
        raise InputError("Nobody of that name may decide here", "Who decides", "Choose a person.")
    if not why.strip():
        raise InputError("Why are they spun before they have clotted?", "Why", "Write it in words.")
    events = [
        happened("override_given", f"specimen:{code}", site=place.code, by=by, now=now,
                 finding=STILL_CLOTTING, reason=why.strip()[:REASON_LENGTH], decided_by=decided_by)
        for code in codes
    ]  # fmt: skip
    append_all(events=events, by=by, now=now)


# ---------------------------------------------------------------- portions


@dataclass(frozen=True, slots=True)
class Poured:
    """A portion as it was poured: µL of serum, plasma or blood, and the tests that it serves."""

    volume_ul: int
    tests: tuple[str, ...]


def portions_make(
    *,
    parent: Specimen,
    material: str,
    poured: Sequence[Poured],
    place: Place,
    by: Person,
    now: datetime,
    day: date,
) -> tuple[str, ...]:
    """
    Number portions and write that they were made: all or none; gives their numbers.

    Args:
        parent: that they come from.
        material: serum, plasma or whole_blood.
        poured: at least one.
        place: where.
        by: who pours.
        now: when.
        day: for the numbers, of the place's own calendar.

    Raises:
        InputError: none, an empty one, or one for no test.
        EventRefused: the record refuses it; no number is spent.
    """
    if not poured:
        raise InputError("No portion is to be made", parent.code)
    for each in poured:
        if each.volume_ul <= 0:
            raise InputError(
                "A portion holds nothing", parent.code, "Write how many mL went into it."
            )
        if not each.tests:
            raise InputError("A portion is for no test", parent.code, "Choose its tests.")
    with transaction.atomic():
        codes = tuple(accession_give(place=place, day=day) for _ in poured)
        _not_poured_already(parent, poured)  # who is a moment later sees it: numbers are locked
        events = [
            happened("aliquot_made", f"specimen:{code}", site=place.code, by=by, now=now,
                     parent=parent.code, patient=parent.patient, material=material,
                     volume_ul=each.volume_ul, tests=list(each.tests))
            for code, each in zip(codes, poured, strict=True)
        ]  # fmt: skip
        append_all(events=events, by=by, now=now)
    return codes


def _not_poured_already(parent: Specimen, poured: Sequence[Poured]) -> None:
    subject = f"specimen:{parent.code}"
    wanted = {test for each in poured for test in each.tests}
    gone = portions_gone([parent.code])
    for event in events_by_subject([subject])[subject]:
        made = event.kind == "aliquot_made" and event.payload["parent"] == parent.code
        if made and event.subject.partition(":")[2] not in gone:
            served = wanted & set(texts_of(event, "tests"))
            if served:
                raise InputError(
                    f"{event.subject.partition(':')[2]} serves {', '.join(sorted(served))} already",
                    parent.code,
                    "Look at its portions.",
                )


def labels_printed(*, codes: Collection[str], place: Place, by: Person, now: datetime) -> None:
    """
    Keep that labels were printed.

    Raises:
        EventRefused: the record refuses one; none is stored.
    """
    events = [
        happened("label_printed", f"specimen:{code}", site=place.code, by=by, now=now,
                 label=code, copies=1)
        for code in codes
    ]  # fmt: skip
    append_all(events=events, by=by, now=now)


def label_confirm(*, code: str, place: Place, by: Person, now: datetime) -> None:
    """
    Write that a portion's label was scanned on it.

    Raises:
        EventRefused: the record refuses it.
    """
    event = happened("label_matched", f"specimen:{code}", site=place.code, by=by, now=now,
                     label=code)  # fmt: skip
    append_all(events=[event], by=by, now=now)


# ---------------------------------------------------------------- stores


@dataclass(frozen=True, slots=True)
class Past:
    """A rule that asks and that somebody goes past: its code, "" for none, and why."""

    finding: str = ""
    why: str = ""


NOTHING_ASKS = Past()


def _went_past(past: Past, code: str, place: Place, by: Person, now: datetime) -> list[Event]:
    if not past.finding:
        return []
    if not past.why.strip():
        raise InputError("A rule asks", code, "Write why it is done all the same.")
    return [
        happened("override_given", f"specimen:{code}", site=place.code, by=by, now=now,
                 finding=past.finding, reason=past.why.strip()[:REASON_LENGTH])
    ]  # fmt: skip


def specimen_store(
    *,
    code: str,
    shelf: Shelf,
    condition: str,
    place: Place,
    by: Person,
    now: datetime,
    until: datetime | None = None,
    past: Past = NOTHING_ASKS,
) -> None:
    """
    Put a specimen away; past a rule that asks, with a reason.

    Raises:
        InputError: a rule asks and no reason is given.
        EventRefused: the record refuses it.
    """
    events = _went_past(past, code, place, by, now)
    kept = time_to(until) if until is not None else None
    events.append(
        happened("specimen_stored", f"specimen:{code}", site=place.code, by=by, now=now,
                 storage=shelf.code, condition=condition, until=kept)
    )  # fmt: skip
    append_all(events=events, by=by, now=now)


def specimen_take_out(
    *, code: str, place: Place, by: Person, now: datetime, past: Past = NOTHING_ASKS
) -> None:
    """
    Take a specimen out of its store; past a rule that asks, with a reason.

    Raises:
        InputError: a rule asks and no reason is given.
        EventRefused: the record refuses it.
    """
    events = _went_past(past, code, place, by, now)
    events.append(
        happened("specimen_taken_out", f"specimen:{code}", site=place.code, by=by, now=now)
    )
    append_all(events=events, by=by, now=now)


def specimens_discard(
    *,
    streams: Sequence[tuple[str, str]],
    place: Place,
    by: Person,
    now: datetime,
    note: str = "",
) -> None:
    """
    Throw specimens away: all of them or none.

    Args:
        streams: number and waste stream of each.
        place: where.
        by: who.
        now: when.
        note: why before its time, "" where it was due.

    Raises:
        EventRefused: the record refuses one.
    """
    events = [
        happened("specimen_discarded", f"specimen:{code}", site=place.code, by=by, now=now,
                 stream=stream, note=note.strip()[:NOTE_LENGTH])
        for code, stream in streams
    ]  # fmt: skip
    append_all(events=events, by=by, now=now)


# ---------------------------------------------------------------- tests


def tests_add(
    *,
    tests: Sequence[tuple[str, Sequence[str]]],
    past: Past,
    place: Place,
    by: Person,
    now: datetime,
) -> None:
    """
    Add tests to specimens that are here: to all of them or none.

    Args:
        tests: number of a specimen and the codes that it serves from now on.
        past: a rule that asks whether the draw was as they want it.
        place: where they stand.
        by: who adds.
        now: when.

    Raises:
        InputError: none, or a rule asks and no reason is given.
        EventRefused: the record refuses one.
    """
    if not tests:
        raise InputError("No test is added")
    events = []
    for code, codes in tests:
        events += _went_past(past, code, place, by, now)
        events.append(
            happened("tests_added", f"specimen:{code}", site=place.code, by=by, now=now,
                     tests=list(codes))
        )  # fmt: skip
    append_all(events=events, by=by, now=now)


def tests_measure(
    *,
    code: str,
    tests: Sequence[str],
    place: Place,
    by: Person,
    now: datetime,
    haemolysis_mg_l: int | None,
) -> None:
    """
    Write that tests of a specimen were measured, and its haemolysis index where one was.

    Raises:
        InputError: none is named.
        EventRefused: the record refuses it.
    """
    if not tests:
        raise InputError("No test is ticked", code, "Tick what was measured.")
    index = {} if haemolysis_mg_l is None else {"haemolysis_mg_l": haemolysis_mg_l}
    event = happened("tests_done", f"specimen:{code}", site=place.code, by=by, now=now,
                     tests=list(tests), **index)  # fmt: skip
    append_all(events=[event], by=by, now=now)
