"""A wrong step of a waste bag, mended later by a correcting event; both stay on record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from cubital.catalogue import Catalogue
from cubital.custody import Event, Recorded, time_to
from cubital.custody.canonical import Json
from cubital.custody.fold import mended, mendings
from cubital.custody.kinds import MENDING
from cubital.desk.record.happened import append_all, happened
from cubital.desk.record.models import Event as EventRow
from cubital.desk.record.models import Person, WasteNow
from cubital.desk.record.rows import EVENT_COLUMNS, recorded_from
from cubital.desk.record.selectors_quality import touching
from cubital.errors import InputError
from cubital.logbook.waste import MOST_G, stream_of

NEEDS_BEFORE = {
    "waste_opened": ("waste_filled", "waste_closed", "waste_weighed", "waste_handed_over"),
    "waste_closed": ("waste_weighed", "waste_handed_over"),
}
"""Steps that could not have happened without an earlier one."""
REASON_LENGTH = 500


@dataclass(frozen=True, slots=True)
class WasteStep:
    """
    One step of a bag.

    Args:
        first: as it was entered first.
        stands: as it stands after every correction, None when it was withdrawn.
        mends: the corrections, in their order.
    """

    first: Event
    stands: Event | None
    mends: tuple[Event, ...]


def waste_steps(code: str) -> tuple[WasteStep, ...]:
    """Every step of a bag in the order in which they were recorded, with what mended each."""
    places = sorted(touching([f"waste:{code}"]))
    rows = EventRow.objects.filter(position__in=places).order_by("position")
    records: list[Recorded] = [recorded_from(row) for row in rows.values_list(*EVENT_COLUMNS)]
    events = [record.event for record in records]
    latest = mendings(events)
    return tuple(
        WasteStep(
            event,
            mended(event, latest),
            tuple(each for each in events if each.corrects == event.id),
        )
        for event in events
        if event.kind not in MENDING
    )


def waste_step_correct(
    *,
    row: WasteNow,
    step: str,
    said: Mapping[str, Json],
    at: datetime,
    why: str,
    catalogue: Catalogue,
    by: Person,
    now: datetime,
) -> None:
    """
    Say how a step truly was; the step as it was entered stays on record.

    Args:
        row: the bag.
        step: id of the event that is corrected.
        said: what was otherwise: ``stream``, ``percent``, ``weight_g`` or ``to``.
        at: when it happened.
        why: how the mistake came about.
        catalogue: of the place of the bag.
        by: who corrects it.
        now: when.

    Raises:
        InputError: no such step, no reason, nothing that differs, or something that cannot be.
        EventRefused: the record refuses it.
    """
    steps = waste_steps(row.code)
    stands = _standing(steps, step, row)
    _reasoned(why)
    _possible(stands.kind, said, row, catalogue)
    _in_turn(steps, stands, at, now)
    payload = {**stands.payload, **said}
    if payload == dict(stands.payload) and at == stands.happened_at:
        raise InputError("It stands so already", row.code, "Write what was otherwise.")
    moved = time_to(at) if at != stands.happened_at or _moved(steps, step) else None
    event = happened(
        "event_corrected", f"waste:{row.code}", site=row.site, by=by, now=now,
        reason=why.strip()[:REASON_LENGTH], payload=payload, happened_at=moved,
    )  # fmt: skip
    append_all(events=[replace(event, corrects=step)], by=by, now=now)


def waste_step_withdraw(*, row: WasteNow, step: str, why: str, by: Person, now: datetime) -> None:
    """
    Say that a step never happened; it stays on record as withdrawn.

    Raises:
        InputError: no such step, no reason, or a later step that could not have happened then.
        EventRefused: the record refuses it.
    """
    steps = waste_steps(row.code)
    stands = _standing(steps, step, row)
    _reasoned(why)
    needs = NEEDS_BEFORE.get(stands.kind, ())
    if any(each.stands is not None and each.first.kind in needs for each in steps):
        raise InputError(
            "A later step could not have happened then",
            row.code,
            "Take the later steps back first, the last one before the others.",
        )
    event = happened(
        "event_withdrawn", f"waste:{row.code}", site=row.site, by=by, now=now,
        reason=why.strip()[:REASON_LENGTH],
    )  # fmt: skip
    append_all(events=[replace(event, corrects=step)], by=by, now=now)


def _standing(steps: Sequence[WasteStep], step: str, row: WasteNow) -> Event:
    found = next((each.stands for each in steps if each.first.id == step), None)
    if found is None:
        raise InputError("There is no such step any more", row.code, "Look at its steps again.")
    return found


def _reasoned(why: str) -> None:
    if not why.strip():
        raise InputError("Say in a few words why", "reason", "The record keeps it.")


def _possible(kind: str, said: Mapping[str, Json], row: WasteNow, catalogue: Catalogue) -> None:
    """Only what a step says, and only what a bag can be."""
    fields = {
        "waste_opened": "stream", "waste_filled": "percent", "waste_weighed": "weight_g",
        "waste_handed_over": "to",
    }  # fmt: skip
    if set(said) - {fields.get(kind, "")}:
        raise InputError("That is nothing that this step says", row.code)
    if "stream" in said:
        stream_of(catalogue, row.scheme, str(said["stream"]))
    percent, weight = said.get("percent", 0), said.get("weight_g", 1)
    if not isinstance(percent, int) or not 0 <= percent <= 100:
        raise InputError(f"{percent} % cannot be", row.code, "Write 0 to 100.")
    if not isinstance(weight, int) or not 0 < weight <= MOST_G:
        raise InputError(f"{weight} g is no weight of a bag", row.code, "Write kilograms.")
    if "to" in said and not str(said["to"]).strip():
        raise InputError("Nobody is named", row.code, "Write who took it.")


def _in_turn(steps: Sequence[WasteStep], stands: Event, at: datetime, now: datetime) -> None:
    """A step happened after those before it and before those after it."""
    if at == stands.happened_at:
        return
    if at > now:
        raise InputError("This time is still to come", "when")
    place = next(n for n, each in enumerate(steps) if each.first.id == stands.id)
    before = [each.stands.happened_at for each in steps[:place] if each.stands is not None]
    after = [each.stands.happened_at for each in steps[place + 1 :] if each.stands is not None]
    if any(moment > at for moment in before):
        raise InputError("The step before it happened later than that", "when", "Mend the time.")
    if any(moment < at for moment in after):
        raise InputError("The step after it happened earlier than that", "when", "Mend the time.")


def _moved(steps: Sequence[WasteStep], step: str) -> bool:
    """Whether an earlier correction moved it: the last word on an event holds alone."""
    found = next(each for each in steps if each.first.id == step)
    return found.stands is not None and found.stands.happened_at != found.first.happened_at
