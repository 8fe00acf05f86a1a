"""The reception's verdict, test by test."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from cubital.catalogue import Catalogue
from cubital.draw.scene import scene_of
from cubital.draw.values import Place
from cubital.errors import InputError
from cubital.finding import Finding, Severity
from cubital.reception.age import age_rules
from cubital.reception.found import Bench, Found, materials, rule_rows
from cubital.reception.rules import RULES
from cubital.reception.values import Arrival, Expected, Outcome, TestVerdict, Verdict
from cubital.reception.volume import volume_rules
from cubital.requisition.values import Requisition

_HARDEST = {Severity.STOP: 0, Severity.ASK: 1, Severity.NOTE: 2}
_OUTCOMES = {
    Severity.STOP: Outcome.REFUSED,
    Severity.ASK: Outcome.UNDECIDED,
    Severity.NOTE: Outcome.REMARKED,
}


def not_registered(arrival: Arrival, catalogue: Catalogue) -> Verdict:
    """The verdict on a specimen that nobody asked for: kept, and a named person decides."""
    row = rule_rows(catalogue)["not-registered"]
    finding = Finding(
        row.code,
        Severity(row.severity),
        f"{arrival.accession or 'It'} is not known here: keep it, and ask.",
        row.source,
        arrival.accession,
        row.layer,
    )
    return Verdict(
        arrival.accession,
        Outcome.UNDECIDED,
        (),
        (finding,),
        (),
        _codes([row.hl7_0490]),
        _codes([row.hl7_0493]),
        _codes([row.indicator]),
        catalogue.edition,
    )


def _codes(values: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(value for value in values if value))


def _bench(
    arrival: Arrival,
    expected: Expected,
    requisition: Requisition,
    catalogue: Catalogue,
    place: Place,
    now: datetime,
) -> Bench:
    asked = replace(
        requisition,
        tests=tuple(t for t in expected.tests if t.code in catalogue.tests) or requisition.tests,
        collect_at=expected.collected_at or requisition.collect_at,
    )
    return Bench(arrival, expected, scene_of(asked, catalogue, place, now))


def _irreplaceable(bench: Bench) -> bool:
    material = materials(bench.catalogue).get(bench.expected.material)
    return bench.expected.irreplaceable or (material is not None and material.irreplaceable)


def _all_found(bench: Bench) -> list[Found]:
    found = [each for rule in RULES for each in rule(bench)]
    found += age_rules(bench)
    rules = rule_rows(bench.catalogue)
    refused = {
        test for each in found if rules[each.code].severity == Severity.STOP for test in each.tests
    }
    still = [test for test in bench.tests if test not in refused]
    return [*found, *volume_rules(bench, still)]


def _finding(each: Found, bench: Bench, *, keep: bool) -> Finding:
    row = rule_rows(bench.catalogue)[each.code]
    severity = Severity(row.severity)
    sentence = each.sentence
    if keep and severity is Severity.STOP:
        severity = Severity.ASK
        sentence += " It cannot be replaced: a named person decides."
    subject = each.tests[0] if len(each.tests) == 1 else bench.expected.accession
    return Finding(each.code, severity, sentence, each.source or row.source, subject, row.layer)


def receive(
    arrival: Arrival,
    expected: Expected,
    requisition: Requisition,
    catalogue: Catalogue,
    place: Place,
    *,
    now: datetime,
) -> Verdict:
    """
    Judge what arrived, test by test.

    A stop refuses a test and asks for it again; an ask leaves it to a named person; a note is a
    remark.  What cannot be replaced is never refused by a rule.

    Args:
        arrival: what is seen.
        expected: what the record knows.
        requisition: the patient and the order.
        catalogue: whose rules hold.
        place: its choices count.
        now: the time of the verdict.

    Raises:
        InputError: a container or rule that the catalogue does not hold, or an arrival before the
            collection by more than a clock may be wrong.
    """
    if expected.collected_at and expected.collected_at > now:
        raise InputError(
            f"It is said to be collected at {expected.collected_at:%Y-%m-%d %H:%M}, which is still"
            " to come",
            expected.accession,
            "Set the clock, or mend the time of collection.",
        )
    bench = _bench(arrival, expected, requisition, catalogue, place, now)
    keep = _irreplaceable(bench)
    found = _all_found(bench)
    findings = [(each, _finding(each, bench, keep=keep)) for each in found]
    tests = tuple(_test_verdict(code, findings) for code in bench.tests)
    rules = rule_rows(catalogue)
    return Verdict(
        accession=expected.accession,
        outcome=_whole(tests),
        tests=tests,
        findings=tuple(
            sorted((f for _, f in findings), key=lambda f: (_HARDEST[f.severity], f.code))
        ),
        recollect=tuple(t.test for t in tests if t.outcome is Outcome.REFUSED),
        reject_codes=_codes(
            rules[each.code].hl7_0490 for each, f in findings if f.severity is not Severity.NOTE
        ),
        condition_codes=_codes(rules[each.code].hl7_0493 for each, _ in findings),
        indicators=_codes(rules[each.code].indicator for each, _ in findings),
        edition=catalogue.edition,
    )


def _test_verdict(test: str, findings: Iterable[tuple[Found, Finding]]) -> TestVerdict:
    own = tuple(finding for each, finding in findings if test in each.tests)
    hardest = min((f.severity for f in own), key=lambda s: _HARDEST[s], default=None)
    return TestVerdict(test, _OUTCOMES[hardest] if hardest else Outcome.ACCEPTED, own)


def _whole(tests: tuple[TestVerdict, ...]) -> Outcome:
    outcomes = {test.outcome for test in tests}
    if outcomes == {Outcome.REFUSED}:
        return Outcome.REFUSED
    if Outcome.UNDECIDED in outcomes:
        return Outcome.UNDECIDED
    if Outcome.REFUSED in outcomes:
        return Outcome.PARTLY
    if Outcome.REMARKED in outcomes:
        return Outcome.REMARKED
    return Outcome.ACCEPTED
