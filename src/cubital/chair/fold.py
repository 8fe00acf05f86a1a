"""
The draw so far, folded from its events.

An event with a stop against it changes nothing, but its finding stays: what was written while the
network was cut is judged here again, when it arrives.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import timedelta
from typing import Any

from cubital.chair.judge import accession_of, identifiers, judge, text, whole
from cubital.chair.values import Attempt, Drawn, Sheet, State
from cubital.custody.event import Event
from cubital.finding import Severity


def _identity(state: State, event: Event) -> State:
    said = tuple(i for i in identifiers(event) if i != "scan" and i not in state.confirmed)
    scanned = state.scanned or bool(event.payload.get("scanned"))
    few = text(event, "reason") or state.few
    return replace(state, scanned=scanned, confirmed=(*state.confirmed, *said), few=few)


def _attempt_begun(state: State, event: Event) -> State:
    attempt = Attempt(
        code=event.subject.partition(":")[2],
        who=event.who,
        begun_at=event.happened_at,
        site=text(event, "body_site") or state.site,
        side=text(event, "side") or state.side,
        device=text(event, "device") or state.device,
        gauge=whole(event, "gauge") or state.gauge,
    )
    return replace(state, attempts=(*state.attempts, attempt))


def _attempt_ended(state: State, event: Event) -> State:
    return _end_attempt(
        state, event, obtained=bool(event.payload.get("success")), reason=text(event, "reason")
    )


def _end_attempt(state: State, event: Event, *, obtained: bool, reason: str) -> State:
    if state.attempt is None:
        return state
    ended = replace(state.attempt, ended_at=event.happened_at, obtained=obtained, reason=reason)
    return replace(state, attempts=(*state.attempts[:-1], ended))


def _tube_scanned(state: State, event: Event) -> State:
    drawn = Drawn(
        accession=accession_of(event),
        position=whole(event, "position"),
        lot=text(event, "lot"),
        at=event.happened_at,
        who=event.who,
    )
    return replace(state, drawn=(*state.drawn, drawn))


def _changed(state: State, event: Event, **fields: Any) -> State:
    accession = accession_of(event)
    return replace(
        state,
        drawn=tuple(replace(d, **fields) if d.accession == accession else d for d in state.drawn),
    )


def _tourniquet_off(state: State, event: Event) -> State:
    if state.tourniquet_since is None:
        return state
    span = max(event.happened_at - state.tourniquet_since, timedelta(0))
    return replace(state, tourniquet_since=None, tourniquet_spans=(*state.tourniquet_spans, span))


def _ended(state: State, event: Event) -> State:
    finished = event.kind == "draw_finished"
    state = _end_attempt(state, event, obtained=finished, reason=text(event, "reason"))
    return replace(state, ended="finished" if finished else "not_obtained")


_CHANGES: dict[str, Callable[[State, Event], State]] = {
    "draw_begun": lambda state, event: replace(state, begun=True),
    "identity_confirmed": _identity,
    "identity_mismatch": lambda state, event: replace(state, mismatch=text(event, "identifier")),
    "site_chosen": lambda state, event: replace(
        state, site=text(event, "body_site"), side=text(event, "side")
    ),
    "device_chosen": lambda state, event: replace(
        state, device=text(event, "device"), gauge=whole(event, "gauge")
    ),
    "tourniquet_on": lambda state, event: replace(state, tourniquet_since=event.happened_at),
    "tourniquet_off": _tourniquet_off,
    "attempt_begun": _attempt_begun,
    "attempt_ended": _attempt_ended,
    "tube_scanned": _tube_scanned,
    "tube_filled": lambda state, event: _changed(
        state, event, fill=text(event, "fill"), estimate_ul=whole(event, "volume_ul")
    ),
    "tube_mixed": lambda state, event: _changed(state, event, mixed=True),
    "label_matched": lambda state, event: _changed(state, event, labelled=True),
    "label_printed": lambda state, event: replace(
        state, labels_printed=(*state.labels_printed, accession_of(event))
    ),
    "draw_handed_over": lambda state, event: replace(state, handed_to=text(event, "to")),
    "override_given": lambda state, event: replace(
        state, overridden=(*state.overridden, text(event, "finding"))
    ),
    "incident_recorded": lambda state, event: replace(
        state, mishaps=(*state.mishaps, text(event, "what"))
    ),
    "draw_finished": _ended,
    "draw_not_obtained": _ended,
}


def take(sheet: Sheet, state: State, event: Event) -> State:
    """Take one event into the state, with the findings that stand against it."""
    findings = judge(sheet, state, event)
    state = replace(state, findings=(*state.findings, *findings))
    if event.who not in state.collectors:
        state = replace(state, collectors=(*state.collectors, event.who))
    change = _CHANGES.get(event.kind)
    if change is None or any(f.severity is Severity.STOP for f in findings):
        return state
    return change(state, event)


def fold(sheet: Sheet, events: Iterable[Event]) -> State:
    """The state after all events of the draw, in the order in which they happened."""
    state = State()
    for event in events:
        state = take(sheet, state, event)
    return state
