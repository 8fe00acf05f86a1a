"""
What stands against an event of the draw, before it is taken into the state.

A stop means that it may not happen, an ask that it may with a reason, a note is kept.
"""

from __future__ import annotations

from datetime import timedelta

from cubital.chair import few, scans
from cubital.chair.values import Sheet, State
from cubital.custody.event import Event
from cubital.finding import Finding, Severity

RULE = scans.RULE
ALWAYS = ("draw_not_obtained", "incident_recorded", "override_given")
"""What may still be written after a mismatch."""


def accession_of(event: Event) -> str:
    """The specimen that an event happens to, "" when it is another subject."""
    what, _, code = event.subject.partition(":")
    return code if what == "specimen" else ""


def text(event: Event, name: str) -> str:
    """A payload member as text, "" when it is missing."""
    value = event.payload.get(name)
    return "" if value is None else str(value)


def whole(event: Event, name: str) -> int:
    """A payload member as a whole number, 0 when it is missing."""
    value = event.payload.get(name)
    return value if isinstance(value, int) else 0


def identifiers(event: Event) -> tuple[str, ...]:
    """The identifiers that an identity event names."""
    value = event.payload.get("identifiers")
    return tuple(str(each) for each in value) if isinstance(value, list | tuple) else ()


def _stop(code: str, sentence: str, source: str = RULE, subject: str = "") -> Finding:
    return Finding(code, Severity.STOP, sentence, source, subject)


def identity_complete(sheet: Sheet, state: State) -> bool:
    """Whether the patient was scanned, and every identifier that policy wants is certain."""
    known = state.scanned and all(q.code in state.confirmed for q in sheet.questions)
    return known and few.stood_in(sheet, state)


def _identity(sheet: Sheet, state: State, event: Event) -> tuple[Finding, ...]:
    said = [i for i in identifiers(event) if i != "scan"]
    unknown = [i for i in said if i not in {q.code for q in sheet.questions} | few.checks(sheet)]
    if unknown:
        return (_stop("identifier-not-asked", f"{unknown[0]!r} is not asked here."),)
    if said and not (state.scanned or event.payload.get("scanned")):
        return (_stop("scan-first", "Scan the wristband or the requisition first, then ask."),)
    return few.few_findings(
        sheet,
        reason=text(event, "reason"),
        second=text(event, "second") if "second_person" in said else None,
        who=event.who,
    )


def _attempt_begun(sheet: Sheet, state: State, event: Event) -> tuple[Finding, ...]:
    if not identity_complete(sheet, state):
        return (
            _stop("identity-open", "First be certain who the patient is: no needle before that."),
        )
    if state.attempt is not None:
        return (_stop("attempt-open", "End the attempt under way before a new needle."),)
    if state.attempts_of(event.who) >= sheet.policy.attempts:
        return (
            _stop(
                "attempts-used-up",
                f"{sheet.policy.attempts} attempts are used up: hand over to another collector.",
                sheet.policy.source("attempts_per_collector"),
            ),
        )
    return ()


def _tube_scanned(sheet: Sheet, state: State, event: Event) -> tuple[Finding, ...]:
    if not identity_complete(sheet, state):
        return (
            _stop("identity-open", "First be certain who the patient is: no tube before that."),
        )
    if state.attempt is None:
        return (_stop("no-needle-in", "No needle is in: begin an attempt first."),)
    accession = accession_of(event)
    tube = sheet.tube(accession)
    if tube is None:
        return (_stop("not-in-plan", f"{accession} is not in this plan.", subject=accession),)
    taken = text(event, "container")
    if taken not in ("", tube.container):
        shown = next((c.shown for c in sheet.stock if c.container == taken), taken)
        return (
            _stop(
                "wrong-container",
                f"{shown} was taken where {tube.shown} is planned.",
                subject=accession,
            ),
        )
    lot = next((c for c in sheet.stock if c.lot and c.lot == text(event, "lot")), None)
    found = scans.lot_findings(sheet, lot) if lot else ()
    return (*found, *scans.label_findings(sheet, state, tube))


def _drawn(sheet: Sheet, state: State, event: Event) -> tuple[Finding, ...]:
    if state.tube(accession_of(event)) is None:
        return (
            _stop("tube-not-drawn", "This tube is not drawn yet.", subject=accession_of(event)),
        )
    return ()


def _label(sheet: Sheet, state: State, event: Event) -> tuple[Finding, ...]:
    found = _drawn(sheet, state, event)
    label = text(event, "label")
    if found or label in ("", accession_of(event)):
        return found
    tube = sheet.tube(accession_of(event))
    shown = tube.shown if tube else "this tube"
    return (_stop("label-mismatch", f"Label {label} does not belong on {shown}.", subject=label),)


def unfinished(sheet: Sheet, state: State) -> tuple[Finding, ...]:
    """What must be done before the patient goes: nothing unlabelled, nothing unmatched."""
    found: list[Finding] = []
    for tube in sheet.tubes:
        drawn = state.tube(tube.accession)
        if drawn is not None and drawn.fill != "none" and not drawn.labelled:
            found.append(
                _stop(
                    "tube-unlabelled",
                    f"{tube.shown} has no matched label: label it before the patient goes.",
                    subject=tube.accession,
                )
            )
    if state.tourniquet_since is not None:
        found.append(_stop("tourniquet-on", "The tourniquet is still on."))
    if not state.drawn:
        found.append(_stop("nothing-drawn", "No tube is drawn: say why under 'No blood' instead."))
    return tuple(found)


def left_out(sheet: Sheet, state: State) -> tuple[Finding, ...]:
    """Tubes of the plan that were not drawn: their tests will be missed."""
    return tuple(
        Finding(
            "tube-left-out",
            Severity.ASK,
            f"{tube.shown} is not drawn: its tests will be missed.",
            RULE,
            tube.accession,
        )
        for tube in sheet.tubes
        if state.tube(tube.accession) is None
    )


def _finish(sheet: Sheet, state: State, event: Event) -> tuple[Finding, ...]:
    return (*unfinished(sheet, state), *left_out(sheet, state))


def tourniquet_findings(sheet: Sheet, span: timedelta) -> tuple[Finding, ...]:
    """The finding for a tourniquet that stayed on for ``span``."""
    limit = sheet.tourniquet_limit
    if span <= limit:
        return ()
    key = "tourniquet_coagulation_max_s" if sheet.coagulation else "tourniquet_max_s"
    sentence = (
        f"The tourniquet was on for {span.total_seconds():.0f} s; more than"
        f" {limit.total_seconds():.0f} s changes what is measured."
    )
    return (Finding("tourniquet-long", Severity.NOTE, sentence, sheet.policy.source(key)),)


def _tourniquet_off(sheet: Sheet, state: State, event: Event) -> tuple[Finding, ...]:
    if state.tourniquet_since is None:
        return ()
    return tourniquet_findings(sheet, event.happened_at - state.tourniquet_since)


_RULES = {
    "identity_confirmed": _identity,
    "attempt_begun": _attempt_begun,
    "tube_scanned": _tube_scanned,
    "tube_filled": _drawn,
    "tube_mixed": _drawn,
    "label_matched": _label,
    "draw_finished": _finish,
    "tourniquet_off": _tourniquet_off,
}


def judge(sheet: Sheet, state: State, event: Event) -> tuple[Finding, ...]:
    """Say what stands against an event now."""
    if state.ended and event.kind not in ALWAYS:
        return (_stop("draw-ended", "This draw has ended. Begin a new one."),)
    if state.mismatch and event.kind not in ALWAYS:
        return (
            _stop(
                "identity-mismatch",
                "The identity does not agree: nothing is drawn. Nobody overrides this.",
            ),
        )
    rule = _RULES.get(event.kind)
    return rule(sheet, state, event) if rule else ()
