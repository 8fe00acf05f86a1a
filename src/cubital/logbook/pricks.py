"""A patient who was pricked more than once stands in the logbook by itself."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping

from cubital.catalogue import Catalogue
from cubital.catalogue.model_chair import NotObtained
from cubital.custody import Event
from cubital.logbook.values import Entry

HEADING = "prick"


def prick_entries(events: Iterable[Event], catalogue: Catalogue) -> tuple[Entry, ...]:
    """
    Give one entry a draw in which more than one needle went in, newest first.

    Args:
        events: effective events of whole draws, any order.
        catalogue: for the words of why a needle did not do.
    """
    words = {row.code: row.name for row in catalogue.rows(NotObtained)}
    begun: dict[str, Event] = {}
    needles: dict[str, list[Event]] = defaultdict(list)
    failures: dict[str, list[str]] = defaultdict(list)
    for event in sorted(events, key=lambda e: (e.happened_at, e.id)):
        draw = str(event.payload.get("draw") or "")
        if event.kind == "draw_begun":
            begun[event.subject.partition(":")[2]] = event
        elif event.kind == "attempt_begun":
            needles[draw].append(event)
        elif event.kind == "attempt_ended" and event.payload.get("reason"):
            failures[draw].append(str(event.payload["reason"]))
    found = [
        _entry(begun[draw], own, failures[draw], words)
        for draw, own in needles.items()
        if draw in begun and len(own) > 1
    ]
    return tuple(sorted(found, key=lambda e: (e.at, e.event), reverse=True))


def _entry(
    begun: Event, needles: list[Event], failures: list[str], words: Mapping[str, str]
) -> Entry:
    """The entry of one draw; it stands at the time of the second needle."""
    second = needles[1]
    why = "; ".join(dict.fromkeys(words.get(code, code) for code in failures))
    return Entry(
        event=second.id,
        at=second.happened_at,
        site=begun.site,
        who=second.who,
        heading=HEADING,
        what=f"Pricked {len(needles)} times" + (f": {why}" if why else ""),
        code=failures[0] if failures else "",
        subject=begun.subject,
        patient=str(begun.payload["patient"]),
        requisition=str(begun.payload["requisition"]),
        people=tuple(dict.fromkeys(each.who for each in needles)),
    )
