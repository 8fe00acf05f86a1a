"""From a verdict to what is done: accepted, refused, asked for again; pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from cubital.errors import InputError
from cubital.finding import Finding, Severity
from cubital.reception.values import Outcome, TestVerdict, Verdict

_HARDEST = {Severity.STOP: 0, Severity.ASK: 1, Severity.NOTE: 2}


@dataclass(frozen=True, slots=True)
class Decision:
    """
    What becomes of a specimen's tests.

    Args:
        accept: codes of the tests that are done.
        refuse: codes of the tests that are not.
        reason: code of the rule that refuses, "" when none does.
        sentence: of that rule.
        remarks: codes of what else was found.
        past: codes of rules that asked and that somebody goes past.
        decided_by: sign-in name of who decided, "" where no rule asked.
        why: their reason, "" where none is needed.
    """

    accept: tuple[str, ...]
    refuse: tuple[str, ...] = ()
    reason: str = ""
    sentence: str = ""
    remarks: tuple[str, ...] = ()
    past: tuple[str, ...] = ()
    decided_by: str = ""
    why: str = ""


def decide(
    verdict: Verdict, *, choices: Mapping[str, bool], decided_by: str = "", why: str = ""
) -> Decision:
    """
    Decide on each test: the rules where they are sure, a named person where they ask.

    A stop is never gone past.

    Args:
        verdict: of the reception.
        choices: test -> whether it is done, for the tests that are to be decided.
        decided_by: who decided on them.
        why: their reason.

    Raises:
        InputError: no test is asked from it, a test to be decided has no decision, nobody is
            named, or a rule is gone past without a reason.
    """
    if not verdict.tests:
        raise InputError(
            "Nobody asked for a test from it",
            verdict.accession,
            "Ask the requester what it is for.",
        )
    open_ = [test for test in verdict.tests if test.outcome is Outcome.UNDECIDED]
    for test in open_:
        if test.test not in choices:
            raise InputError(
                f"{test.test} is not decided", verdict.accession, "Say whether it is done."
            )
    accept = tuple(test.test for test in verdict.tests if _is_done(test, choices))
    refuse = tuple(test.test for test in verdict.tests if test.test not in accept)
    past = _codes(
        finding
        for test in open_
        if test.test in accept
        for finding in test.findings
        if finding.severity is Severity.ASK
    )
    _check(verdict, bool(open_), past, decided_by, why)
    deciding = _deciding(verdict, refuse)
    reason = deciding.code if deciding else ""
    return Decision(
        accept=accept,
        refuse=refuse,
        reason=reason,
        sentence=deciding.sentence if deciding else "",
        remarks=tuple(code for code in _codes(verdict.findings) if code != reason),
        past=past,
        decided_by=decided_by if open_ else "",
        why=why.strip(),
    )


def accepts_at_once(verdict: Verdict) -> Decision | None:
    """Give the decision that needs nobody: everything is done, with remarks at most."""
    if verdict.outcome not in (Outcome.ACCEPTED, Outcome.REMARKED) or not verdict.tests:
        return None
    return decide(verdict, choices={})


def _is_done(test: TestVerdict, choices: Mapping[str, bool]) -> bool:
    if test.outcome is Outcome.UNDECIDED:
        return choices[test.test]
    return test.outcome is not Outcome.REFUSED


def _check(
    verdict: Verdict, any_open: bool, past: tuple[str, ...], decided_by: str, why: str
) -> None:
    if any_open and not decided_by.strip():
        raise InputError("Who decides?", verdict.accession, "Name the person.")
    if past and not why.strip():
        raise InputError(
            "A rule asks about it", verdict.accession, "Write why it is accepted nevertheless."
        )


def _codes(findings: Iterable[Finding]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(finding.code for finding in findings))


def _deciding(verdict: Verdict, refuse: tuple[str, ...]) -> Finding | None:
    """The hardest finding on what is refused."""
    found = [f for test in verdict.tests if test.test in refuse for f in test.findings]
    return min(found, key=lambda f: _HARDEST[f.severity], default=None)
