"""
What a scan at the chair means, told at once.

A scan is read in this order: the patient or requisition, a label of this draw, a label of somebody
else, a bar code of a lot.  Everything else is unknown, and said so.
"""

from __future__ import annotations

from dataclasses import dataclass

from cubital.chair.values import Sheet, State, StockCode, Tube
from cubital.finding import Finding, Severity

RULE = "chair-common-practice"


@dataclass(frozen=True, slots=True)
class Scan:
    """
    A scan, understood.

    Args:
        means: ``patient``, ``tube``, ``label`` or ``unknown``.
        text: as scanned, without blanks at its ends.
        accession: of the tube it stands for, "" when none.
        lot: lot number, "" when the code does not tell.
        findings: what is wrong with it now; a stop among them means that nothing is done.
    """

    means: str
    text: str
    accession: str = ""
    lot: str = ""
    findings: tuple[Finding, ...] = ()

    @property
    def refused(self) -> bool:
        """Whether a stop stands against it."""
        return any(f.severity is Severity.STOP for f in self.findings)


def _stop(code: str, sentence: str, subject: str = "", source: str = RULE) -> Finding:
    return Finding(code, Severity.STOP, sentence, source, subject)


def _ask(code: str, sentence: str, subject: str = "", source: str = RULE) -> Finding:
    return Finding(code, Severity.ASK, sentence, source, subject)


def order_findings(sheet: Sheet, state: State, tube: Tube) -> tuple[Finding, ...]:
    """
    Tell whether a tube comes before or after its turn.

    Among tubes of one additive there is no turn: nothing can be carried over.
    """
    others = [t for t in sheet.tubes if t.additive != tube.additive]
    done = {t.position for t in sheet.tubes if state.tube(t.accession)}
    later = [t for t in others if t.position > tube.position and t.position in done]
    earlier = [t for t in others if t.position < tube.position and t.position not in done]
    if later:
        return (
            _ask(
                "order-too-late",
                f"{tube.shown} comes after {later[0].shown}: its additive may have been carried"
                " over. Use a new needle, or say why it goes on.",
                tube.accession,
            ),
        )
    if earlier:
        return (
            _ask(
                "order-too-early",
                f"Before {tube.shown} comes {earlier[0].shown}.",
                tube.accession,
            ),
        )
    return ()


def label_findings(sheet: Sheet, state: State, tube: Tube) -> tuple[Finding, ...]:
    """Tell whether a tube of this plan may be drawn now."""
    if state.tube(tube.accession) is not None:
        return (_stop("tube-used", f"{tube.shown} is drawn already.", tube.accession),)
    return order_findings(sheet, state, tube)


def lot_findings(sheet: Sheet, code: StockCode) -> tuple[Finding, ...]:
    """Tell whether a lot may be used today."""
    if code.recalled:
        return (
            _stop(
                "lot-recalled", f"Lot {code.lot} is recalled. Take another tube.", code.container
            ),
        )
    if code.expires_on < sheet.today:
        return (
            _stop(
                "tube-expired",
                f"{code.shown} of lot {code.lot} expired on {code.expires_on}. Take another tube.",
                code.container,
            ),
        )
    return ()


def _is_a_label(sheet: Sheet, state: State, tube: Tube) -> bool:
    """
    Tell whether an accession number means the label alone.

    It does where labels come after the draw, and on a tube that was taken by its lot's bar code.
    """
    drawn = state.tube(tube.accession)
    return sheet.policy.labels == "after" or (drawn is not None and not drawn.labelled)


def _stock_scan(sheet: Sheet, state: State, text: str, code: StockCode) -> Scan:
    findings = lot_findings(sheet, code)
    if findings:
        return Scan("tube", text, "", code.lot, findings)
    wanted = [t for t in sheet.tubes if t.container == code.container]
    waiting = [t for t in wanted if state.tube(t.accession) is None]
    if not wanted:
        due = next((t for t in sheet.tubes if state.tube(t.accession) is None), None)
        instead = f" Now comes {due.shown}." if due else ""
        return Scan(
            "tube",
            text,
            "",
            code.lot,
            (
                _stop(
                    "wrong-container",
                    f"{code.shown} is not in this plan.{instead}",
                    code.container,
                ),
            ),
        )
    if not waiting:
        return Scan(
            "tube",
            text,
            "",
            code.lot,
            (_stop("tube-used", f"Every {code.shown} is drawn already.", code.container),),
        )
    tube = waiting[0]
    return Scan("tube", text, tube.accession, code.lot, order_findings(sheet, state, tube))


def understand(sheet: Sheet, state: State, scanned: str) -> Scan:
    """Read one scan against the sheet and what has happened."""
    text = scanned.strip()
    if text in sheet.scans:
        return Scan("patient", text)
    tube = next((t for t in sheet.tubes if t.accession == text), None)
    if tube is not None:
        if _is_a_label(sheet, state, tube):
            return Scan("label", text, tube.accession)
        return Scan("tube", text, tube.accession, "", label_findings(sheet, state, tube))
    other = dict(sheet.others).get(text)
    if other is not None:
        return Scan(
            "unknown",
            text,
            findings=(_stop("other-patient", f"This belongs to somebody else: {other}.", text),),
        )
    code = next((c for c in sheet.stock if c.code == text), None)
    if code is not None:
        return _stock_scan(sheet, state, text, code)
    return Scan(
        "unknown",
        text,
        findings=(
            _stop(
                "unknown-scan", "This code is not known here. Scan it again or look at it.", text
            ),
        ),
    )


def wrong_patient(sheet: Sheet, scanned: str) -> Finding:
    """The stop for a wristband or requisition that is not this patient's."""
    return _stop(
        "wrong-patient",
        f"This is not requisition {sheet.requisition}. Ask again who the patient is.",
        scanned.strip(),
    )
