"""
Every sentence that the chair's page may have to say, written beforehand by the rules themselves.

The page works with the network cut and looks its answers up; it knows no rule's words.  Each
finding here comes out of :func:`cubital.chair.understand` or :func:`cubital.chair.judge`, asked
with a state in which it stands.  Where a sentence names something only the page can know (a
scanned code, seconds), ``BLANK`` stands for it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

from cubital.chair import few, scans
from cubital.chair.judge import judge, left_out, tourniquet_findings, unfinished
from cubital.chair.values import Attempt, Drawn, Sheet, State, StockCode, Tube
from cubital.custody.event import Event
from cubital.finding import Finding, Severity

BLANK = "⟦⟧"
SECONDS = 777_777_777
"""A span that no tourniquet reaches: its digits are found again in the sentence."""
NOON = datetime(2000, 1, 1, 12, tzinfo=UTC)

Json = dict[str, Any]


def finding_to(finding: Finding) -> Json:
    """A finding as the page keeps it."""
    return {
        "code": finding.code,
        "severity": str(finding.severity),
        "sentence": finding.sentence,
        "source": finding.source,
        "subject": finding.subject,
    }


def finding_from(given: Json) -> Finding:
    """
    Read a finding back.

    Raises:
        KeyError: a member is missing.
        ValueError: no such severity.
    """
    return Finding(
        given["code"],
        Severity(given["severity"]),
        given["sentence"],
        given["source"],
        given["subject"],
    )


def said_of(sheet: Sheet) -> Json:
    """Everything the page may say about a draw, by what it is about."""
    return {
        "blank": BLANK,
        "tubes": {tube.accession: _of_tube(sheet, tube) for tube in sheet.tubes},
        "containers": _of_containers(sheet),
        "now_comes": {tube.accession: _now_comes(sheet, tube) for tube in sheet.tubes},
        "lots": {
            code.code: finding_to(found[0])
            for code in sheet.stock
            if (found := scans.lot_findings(sheet, code))
        },
        "fixed": _fixed(sheet),
        "few": {each.code: finding_to(few.few_note(sheet, each)) for each in few.reasons(sheet)},
    }


# ------------------------------------------------------------------ states and events to ask with


def _drawn(tubes: Iterable[Tube], *, labelled: bool = True) -> State:
    """A state in which the patient is known, a needle is in, and these tubes are drawn."""
    return State(
        drawn=tuple(
            Drawn(tube.accession, tube.position, "", NOON, "", labelled=labelled) for tube in tubes
        )
    )


def _known(sheet: Sheet, state: State) -> State:
    """The same with the identity complete."""
    said = (*(q.code for q in sheet.questions), *sorted(few.checks(sheet)))
    why = few.reasons(sheet)
    return replace(state, scanned=True, confirmed=said, few=why[0].code if why else "")


def _at_needle(sheet: Sheet, state: State) -> State:
    """The same with the identity complete and a needle in."""
    attempt = Attempt("attempt", "", NOON, "", "", "", 0)
    return replace(_known(sheet, state), attempts=(attempt,))


def _event(kind: str, subject: str = "draw:0", **payload: Any) -> Event:
    """An event that is asked about and never recorded."""
    return Event(
        id="", site="", kind=kind, happened_at=NOON, who="", subject=subject, payload=payload
    )


def _first(sheet: Sheet, state: State, event: Event, code: str = "") -> Json:
    """The finding of that code against an event, or the first."""
    found = judge(sheet, state, event)
    return finding_to(next(f for f in found if code in ("", f.code)))


# ------------------------------------------------------------------ what is said of a tube


def _of_tube(sheet: Sheet, tube: Tube) -> Json:
    earlier = [each for each in sheet.tubes if each.position < tube.position]
    later = [each for each in sheet.tubes if each.position > tube.position]
    subject = f"specimen:{tube.accession}"
    needle = _at_needle(sheet, State())
    return {
        "used": finding_to(scans.label_findings(sheet, _drawn([tube]), tube)[0]),
        "too_early": {
            each.accession: finding_to(found[0])
            for each in earlier
            if (found := _order(sheet, tube, [e for e in earlier if e is not each]))
        },
        "too_late": {
            each.accession: finding_to(found[0])
            for each in later
            if (found := _order(sheet, tube, [each, *earlier]))
        },
        "wrong_container": _first(
            sheet, needle, _event("tube_scanned", subject, container=BLANK), "wrong-container"
        ),
        "label_mismatch": _first(
            sheet, _drawn([tube]), _event("label_matched", subject, label=BLANK), "label-mismatch"
        ),
        "not_drawn": _first(sheet, State(), _event("tube_mixed", subject)),
        "unlabelled": finding_to(
            unfinished(sheet, _drawn([tube], labelled=False))[0],
        ),
        "left_out": finding_to(left_out(sheet, _drawn(e for e in sheet.tubes if e is not tube))[0]),
    }


def _order(sheet: Sheet, tube: Tube, drawn: Iterable[Tube]) -> tuple[Finding, ...]:
    return scans.order_findings(sheet, _drawn(drawn), tube)


# ------------------------------------------------------------------ what is said of a bar code


def _usable(sheet: Sheet) -> dict[str, StockCode]:
    """One bar code of a lot that may be used, for each container on hand."""
    return {code.container: code for code in sheet.stock if not scans.lot_findings(sheet, code)}


def _of_containers(sheet: Sheet) -> Json:
    """For each container on hand: that it is not in the plan, or that each of it is drawn."""
    everything = _drawn(sheet.tubes)
    found: Json = {}
    for container, code in _usable(sheet).items():
        finding = finding_to(scans.understand(sheet, everything, code.code).findings[0])
        found[container] = {finding["code"]: finding}
    return found


def _now_comes(sheet: Sheet, tube: Tube) -> str:
    """What follows on "is not in this plan." while this tube is the next one."""
    planned = {each.container for each in sheet.tubes}
    foreign = [code for container, code in _usable(sheet).items() if container not in planned]
    if not foreign:
        return ""
    everything = _drawn(sheet.tubes)
    all_but_this = _drawn(each for each in sheet.tubes if each is not tube)
    short = scans.understand(sheet, everything, foreign[0].code).findings[0].sentence
    whole = scans.understand(sheet, all_but_this, foreign[0].code).findings[0].sentence
    return whole.removeprefix(short)


# ------------------------------------------------------------------ what does not hang on a tube


def _fixed(sheet: Sheet) -> Json:
    subject = f"specimen:{sheet.tubes[0].accession}" if sheet.tubes else f"specimen:{BLANK}"
    blank = f"specimen:{BLANK}"
    needle = _at_needle(sheet, State())
    ended, stopped = State(ended="finished"), State(mismatch="name")
    unknown = scans.understand(sheet, State(), BLANK).findings[0]
    somebody = replace(sheet, others=((BLANK, BLANK),))
    other = scans.understand(somebody, State(), BLANK).findings[0]
    return {
        "unknown_scan": finding_to(unknown),
        "other_patient": finding_to(other),
        "wrong_patient": finding_to(scans.wrong_patient(sheet, BLANK)),
        "scan_first": _first(
            sheet, State(), _event("identity_confirmed", identifiers=[sheet.questions[0].code])
        ),
        "few": finding_to(few.few_ask(sheet)) if sheet.few else None,
        "reason_unknown": finding_to(few.reason_unknown(BLANK)),
        "second_missing": finding_to(few.second_missing()),
        "second_same": finding_to(few.second_same()),
        "not_asked": _first(sheet, State(), _event("identity_confirmed", identifiers=[BLANK])),
        "identity_open_needle": _first(sheet, State(), _event("attempt_begun", "attempt:0")),
        "identity_open_tube": _first(sheet, State(), _event("tube_scanned", subject)),
        "attempt_open": _first(sheet, needle, _event("attempt_begun", "attempt:0")),
        "attempts_used_up": _first(sheet, _used_up(sheet), _event("attempt_begun", "attempt:0")),
        "no_needle_in": _first(sheet, _known(sheet, State()), _event("tube_scanned", subject)),
        "not_in_plan": _first(sheet, needle, _event("tube_scanned", blank)),
        "not_drawn": _first(sheet, State(), _event("tube_mixed", blank)),
        "tourniquet_on": finding_to(
            next(
                f
                for f in unfinished(sheet, State(tourniquet_since=NOON))
                if f.code == "tourniquet-on"
            )
        ),
        "nothing_drawn": finding_to(
            next(f for f in unfinished(sheet, State()) if f.code == "nothing-drawn")
        ),
        "draw_ended": _first(sheet, ended, _event("tourniquet_on")),
        "mismatch": _first(sheet, stopped, _event("tourniquet_on")),
        "tourniquet_long": _with_blank(
            finding_to(tourniquet_findings(sheet, timedelta(seconds=SECONDS))[0])
        ),
    }


def _used_up(sheet: Sheet) -> State:
    """Every attempt of the collector made, none under way."""
    attempt = Attempt("a", "", NOON, "", "", "", 0, NOON, obtained=False)
    return replace(_known(sheet, State()), attempts=(attempt,) * sheet.policy.attempts)


def _with_blank(finding: Json) -> Json:
    return {**finding, "sentence": finding["sentence"].replace(str(SECONDS), BLANK)}
