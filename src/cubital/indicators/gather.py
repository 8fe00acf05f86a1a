"""
The events of a record, gathered by draw and specimen.

Only what the lake wants is kept.  The events are effective ones, in the order of the record, so
they are known to be possible; nothing is checked again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from cubital.custody import Event, Recorded, time_from, touched
from cubital.custody.fold import mended, mendings
from cubital.errors import InputError

NO_TIME = timedelta(0)


@dataclass(slots=True)
class Attempt:
    """One needle."""

    number: int
    device: str
    gauge: int | None
    body_site: str


@dataclass(slots=True)
class Draw:
    """What a draw adds up to."""

    code: str
    site: str
    begun_at: datetime
    requisition: str
    collector: str
    planned_ul: int | None
    device: str = ""
    gauge: int | None = None
    body_site: str = ""
    attempts: list[Attempt] = field(default_factory=list)
    on_since: datetime | None = None
    tourniquet: list[timedelta] = field(default_factory=list)
    ended_at: datetime | None = None
    reason: str = ""
    specimens: list[str] = field(default_factory=list)
    late: timedelta = NO_TIME


@dataclass(slots=True)
class Specimen:
    """
    What a specimen adds up to; lists of words keep each once, in order, as keys of a dict.

    ``refused_tests`` are those for which it is refused; none named means all of them.
    """

    code: str
    site: str
    draw: str = ""
    requisition: str = ""
    portion: bool = False
    material: str = "blood"
    container: str = ""
    additive: str = ""
    tests: tuple[str, ...] = ()
    fill: str = ""
    filled_nth: int = 0
    volume_ul: int | None = None
    collector: str = ""
    attempt: Attempt | None = None
    collected_at: datetime | None = None
    received_at: datetime | None = None
    spun_at: datetime | None = None
    accepted: bool = False
    refused: bool = False
    refused_tests: frozenset[str] = frozenset()
    reasons: dict[str, None] = field(default_factory=dict)
    remarks: dict[str, None] = field(default_factory=dict)
    recollected: dict[str, None] = field(default_factory=dict)
    haemolysis_mg_l: int | None = None
    missing: bool = False
    discarded: bool = False
    late: timedelta = NO_TIME


@dataclass(slots=True)
class Gathered:
    """Everything, by code; ``asked_again`` holds reasons given for a whole requisition."""

    draws: dict[str, Draw] = field(default_factory=dict)
    specimens: dict[str, Specimen] = field(default_factory=dict)
    asked_again: dict[str, dict[str, None]] = field(default_factory=dict)
    runs: dict[str, datetime] = field(default_factory=dict)
    filled: int = 0


def gather(records: Iterable[Recorded], mends: Iterable[Recorded] | None = None) -> Gathered:
    """
    Gather the events of records.

    Args:
        records: in the order in which they were recorded; every mending event and the event that
            it mends, or neither.
        mends: the mending events among them, so that the records need not be held in memory; None
            to look for them.

    Raises:
        InputError: an event about a draw or specimen that no earlier event begins.
    """
    if mends is None:
        records = list(records)
        mends = records
    latest = mendings(record.event for record in mends)
    found = Gathered()
    for record in records:
        event = mended(record.event, latest)
        handle = HANDLERS.get(event.kind) if event is not None else None
        if event is not None and handle is not None:
            try:
                handle(found, event, event.subject.partition(":")[2])
            except KeyError as missing:
                raise InputError(
                    f"{event.kind} tells of {missing}, which no earlier event begins",
                    f"event {event.id}",
                    "Give the records of all sites in the order in which they were recorded.",
                ) from None
            _note_lateness(found, event, record.recorded_at)
    return found


def _note_lateness(found: Gathered, event: Event, recorded_at: datetime) -> None:
    late = recorded_at - event.happened_at
    for subject in touched(event):
        what, _, code = subject.partition(":")
        if what == "draw" and code in found.draws:
            found.draws[code].late = max(found.draws[code].late, late)
        elif what == "specimen" and code in found.specimens:
            found.specimens[code].late = max(found.specimens[code].late, late)


def text(payload: Mapping[str, object], name: str) -> str:
    """A member as text, "" when it is missing."""
    return str(payload.get(name) or "")


def whole(payload: Mapping[str, object], name: str) -> int | None:
    """A member as a whole number, None when it is missing."""
    value = payload.get(name)
    return value if isinstance(value, int) and not isinstance(value, bool) else None


def words(payload: Mapping[str, object], name: str) -> tuple[str, ...]:
    """A member as a list of words."""
    value = payload.get(name)
    return tuple(map(str, value)) if isinstance(value, Sequence) and not isinstance(
        value, str
    ) else ()  # fmt: skip


# ------------------------------------------------------------------ the draw


def _draw_begun(found: Gathered, event: Event, code: str) -> None:
    said = event.payload
    found.draws[code] = Draw(
        code=code,
        site=event.site,
        begun_at=event.happened_at,
        requisition=text(said, "requisition"),
        collector=event.who,
        planned_ul=whole(said, "planned_ul"),
    )


def _site_chosen(found: Gathered, event: Event, code: str) -> None:
    found.draws[code].body_site = text(event.payload, "body_site")


def _device_chosen(found: Gathered, event: Event, code: str) -> None:
    draw = found.draws[code]
    draw.device = text(event.payload, "device")
    draw.gauge = whole(event.payload, "gauge")


def _tourniquet_on(found: Gathered, event: Event, code: str) -> None:
    found.draws[code].on_since = event.happened_at


def _tourniquet_off(found: Gathered, event: Event, code: str) -> None:
    draw = found.draws[code]
    if draw.on_since is not None:
        draw.tourniquet.append(event.happened_at - draw.on_since)
        draw.on_since = None


def _attempt_begun(found: Gathered, event: Event, code: str) -> None:
    said = event.payload
    draw = found.draws[text(said, "draw")]
    gauge = whole(said, "gauge")
    draw.attempts.append(
        Attempt(
            number=len(draw.attempts) + 1,
            device=text(said, "device") or draw.device,
            gauge=draw.gauge if gauge is None else gauge,
            body_site=text(said, "body_site") or draw.body_site,
        )
    )


def _handed_over(found: Gathered, event: Event, code: str) -> None:
    found.draws[code].collector = text(event.payload, "to")


def _draw_ended(found: Gathered, event: Event, code: str) -> None:
    draw = found.draws[code]
    draw.ended_at = event.happened_at
    draw.reason = text(event.payload, "reason")


def _tube_scanned(found: Gathered, event: Event, code: str) -> None:
    said = event.payload
    draw = found.draws[text(said, "draw")]
    draw.specimens.append(code)
    found.specimens[code] = Specimen(
        code=code,
        site=event.site,
        draw=draw.code,
        requisition=text(said, "requisition") or draw.requisition,
        container=text(said, "container"),
        additive=text(said, "additive"),
        tests=words(said, "tests"),
    )


def _tube_filled(found: Gathered, event: Event, code: str) -> None:
    specimen = found.specimens[code]
    specimen.fill = text(event.payload, "fill")
    if specimen.fill == "none":
        return
    found.filled += 1
    specimen.filled_nth = found.filled
    specimen.volume_ul = whole(event.payload, "volume_ul")
    specimen.collector = event.who
    specimen.collected_at = event.happened_at
    draw = found.draws.get(specimen.draw)
    if draw is not None and draw.attempts:
        specimen.attempt = draw.attempts[-1]


# ------------------------------------------------------------------ the way and the reception


def _registered(found: Gathered, event: Event, code: str) -> None:
    said = event.payload
    collected = text(said, "collected_at")
    found.specimens[code] = Specimen(
        code=code,
        site=event.site,
        requisition=text(said, "requisition"),
        material=text(said, "material"),
        container=text(said, "container"),
        tests=words(said, "tests"),
        volume_ul=whole(said, "volume_ul"),
        collected_at=time_from(collected, "collected_at") if collected else None,
        received_at=event.happened_at,
    )


def _portion(found: Gathered, event: Event, code: str) -> None:
    found.specimens[code] = Specimen(code=code, site=event.site, portion=True)


def _missing(found: Gathered, event: Event, code: str) -> None:
    found.specimens[code].missing = True


def _received(found: Gathered, event: Event, code: str) -> None:
    specimen = found.specimens[code]
    specimen.missing = False
    if specimen.received_at is None:
        specimen.received_at = event.happened_at


def _accepted(found: Gathered, event: Event, code: str) -> None:
    """
    Take an acceptance, which lifts a refusal as far as it names the same tests.

    A specimen that is refused for some tests is accepted for the others right after.
    """
    specimen = found.specimens[code]
    accepted = frozenset(words(event.payload, "tests"))
    left = specimen.refused_tests - accepted
    if specimen.refused and (not accepted or (specimen.refused_tests and not left)):
        specimen.remarks |= specimen.reasons
        specimen.reasons = {}
        specimen.refused = False
    specimen.refused_tests = left
    specimen.accepted = True
    specimen.remarks |= dict.fromkeys(words(event.payload, "remarks"))
    _measured(found, event, code)


def _refused(found: Gathered, event: Event, code: str) -> None:
    specimen = found.specimens[code]
    said = event.payload
    specimen.refused = True
    specimen.refused_tests = frozenset(words(said, "tests"))
    specimen.accepted = specimen.accepted and bool(specimen.refused_tests)
    specimen.reasons[text(said, "reason")] = None
    specimen.remarks |= dict.fromkeys(words(said, "remarks"))
    _measured(found, event, code)


def _measured(found: Gathered, event: Event, code: str) -> None:
    value = whole(event.payload, "haemolysis_mg_l")
    if value is not None:
        found.specimens[code].haemolysis_mg_l = value


def _override(found: Gathered, event: Event, code: str) -> None:
    if event.subject.startswith("specimen:"):
        found.specimens[code].remarks[text(event.payload, "finding")] = None


def _asked_again(found: Gathered, event: Event, code: str) -> None:
    reason = {text(event.payload, "reason"): None}
    if event.subject.startswith("specimen:"):
        found.specimens[code].recollected |= reason
    else:
        found.asked_again.setdefault(code, {}).update(reason)


def _run_begun(found: Gathered, event: Event, code: str) -> None:
    found.runs[code] = event.happened_at


def _run_ended(found: Gathered, event: Event, code: str) -> None:
    if event.payload.get("outcome") != "done" or code not in found.runs:
        return
    for each in words(event.payload, "specimens"):
        specimen = found.specimens.get(each)
        if specimen is not None and specimen.spun_at is None:
            specimen.spun_at = found.runs[code]


def _discarded(found: Gathered, event: Event, code: str) -> None:
    found.specimens[code].discarded = True


HANDLERS: dict[str, Callable[[Gathered, Event, str], None]] = {
    "draw_begun": _draw_begun,
    "site_chosen": _site_chosen,
    "device_chosen": _device_chosen,
    "tourniquet_on": _tourniquet_on,
    "tourniquet_off": _tourniquet_off,
    "attempt_begun": _attempt_begun,
    "draw_handed_over": _handed_over,
    "draw_finished": _draw_ended,
    "draw_not_obtained": _draw_ended,
    "tube_scanned": _tube_scanned,
    "tube_filled": _tube_filled,
    "specimen_registered": _registered,
    "aliquot_made": _portion,
    "specimen_missing": _missing,
    "specimen_received": _received,
    "specimen_accepted": _accepted,
    "specimen_refused": _refused,
    "tests_done": _measured,
    "override_given": _override,
    "recollection_asked": _asked_again,
    "spin_begun": _run_begun,
    "spin_ended": _run_ended,
    "specimen_discarded": _discarded,
}
"""What each kind of event adds; the other kinds add nothing that the lake wants."""
