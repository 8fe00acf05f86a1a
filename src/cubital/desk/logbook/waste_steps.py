"""The steps of a waste bag as its page shows them, with what was corrected."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone

from cubital.custody import Event
from cubital.desk.record import selectors_quality as quality
from cubital.desk.record.waste_mend import WasteStep, waste_steps
from cubital.desk.words import kg, plain

DONE = {
    "waste_opened": "Opened",
    "waste_filled": "How full",
    "waste_closed": "Closed",
    "waste_weighed": "Weighed",
    "waste_handed_over": "Handed over",
}


@dataclass(frozen=True, slots=True)
class Mend:
    """A correction in words."""

    at: datetime
    who: str
    why: str


@dataclass(frozen=True, slots=True)
class StepShown:
    """
    One step of a bag.

    Args:
        code: id of its event.
        kind: of the event.
        what: what was done, as it stands now; as it was entered where it was withdrawn.
        at: when it happened, as it stands now.
        who: entered it.
        withdrawn: it never happened.
        was: as it was entered first, "" where nothing was corrected.
        value: what the form of its correction begins with.
        mends: the corrections.
    """

    code: str
    kind: str
    what: str
    at: datetime
    who: str
    withdrawn: bool
    was: str
    value: str
    mends: tuple[Mend, ...]


def steps_shown(code: str) -> list[StepShown]:
    """Every step of a bag, in the order in which they were entered."""
    names = quality.names_known()
    return [_shown(step, names) for step in waste_steps(code)]


def _shown(step: WasteStep, names: dict[str, str]) -> StepShown:
    now = step.stands or step.first
    was = f"{words_of(step.first)}, {timezone.localtime(step.first.happened_at):%Y-%m-%d %H:%M}"
    return StepShown(
        code=step.first.id,
        kind=step.first.kind,
        what=words_of(now),
        at=now.happened_at,
        who=names.get(step.first.who, step.first.who),
        withdrawn=step.stands is None,
        was=was if step.mends and step.stands is not None else "",
        value=value_of(now),
        mends=tuple(
            Mend(each.happened_at, names.get(each.who, each.who), str(each.payload["reason"]))
            for each in step.mends
        ),
    )


def value_of(event: Event) -> str:
    """What a step says, as a form takes it."""
    said = event.payload
    if event.kind == "waste_weighed":
        return kg(int(str(said["weight_g"])))
    return str(said.get("stream") or said.get("to") or said.get("percent", ""))


def words_of(event: Event) -> str:
    """What was done, in words."""
    value = value_of(event)
    words = {
        "waste_opened": f"Opened for {plain(value).lower()}",
        "waste_filled": f"{value} % full",
        "waste_weighed": f"Weighed: {value} kg",
        "waste_handed_over": f"Handed over to {value}",
    }
    return words.get(event.kind, DONE.get(event.kind, plain(event.kind)))
