"""
What a rule says to a person.

Screens, command line, API and paper show the same finding: a rule writes its sentence once.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """How hard a finding holds."""

    STOP = "stop"
    """Nobody overrides it."""
    ASK = "ask"
    """May be overridden by a person with a reason, and that is an event."""
    NOTE = "note"
    """Good to know."""


@dataclass(frozen=True, slots=True)
class Finding:
    """
    One thing a rule found.

    Args:
        code: stable, lower-case words joined by hyphens, for example ``citrate-underfill``.
        severity: stop, ask or note.
        sentence: one sentence for the person at work, with the mend in it.
        source: key into the catalogue's sources.
        subject: what it is about (test code, container code, site code …), or "".
        layer: which layer of the catalogue the deciding row came from.
    """

    code: str
    severity: Severity
    sentence: str
    source: str
    subject: str = ""
    layer: str = "shipped"


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a line of a plan stands as it does: one sentence, its source, its layer."""

    sentence: str
    source: str
    layer: str = "shipped"
