"""
Sentences that stand on every answer of this room, and the order of its findings.
"""

from __future__ import annotations

from collections.abc import Iterable

from cubital.finding import Finding, Severity

STANDING_CAUTIONS = (
    (
        "cubital supports trained people and replaces no training, no local policy and no "
        "licensed judgement."
    ),
    "Local codes and the laboratory's own procedures come first.",
    "The shipped tables must be checked and signed off by the laboratory before use on patients.",
)
"""Always on a plan."""

_SEVERITIES = (Severity.STOP, Severity.ASK, Severity.NOTE)


def in_severity(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Each finding once, stops first, then asks, then notes; else as they were found."""
    once = dict.fromkeys(findings)
    return tuple(sorted(once, key=lambda finding: _SEVERITIES.index(finding.severity)))
