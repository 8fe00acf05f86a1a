"""What the events of a specimen say that its state does not: tests, spins, stores, portions."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from cubital.bench import STILL_CLOTTING, Early
from cubital.custody import Event, time_from
from cubital.desk.record.selectors_bench import texts_of

NAMES_TESTS = ("tube_scanned", "specimen_registered", "aliquot_made")


@dataclass(frozen=True, slots=True)
class Poured:
    """A portion that was taken from a specimen."""

    code: str
    volume_ul: int
    tests: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Facts:
    """
    What the events say.

    Args:
        named: tests for which it was drawn, registered or made.
        accepted: tests for which it was accepted, None where the reception named none.
        added: tests added later.
        done: tests that were measured.
        portions: that were taken from it.
        made_at: when it was made, where it is a portion.
        accepted_at: when it was accepted last.
        spun_at: when the last run with it ended.
        stored_at: when it was put where it stands now.
        shelf: where that is.
        condition: as was said then.
        until: how long it is to be kept, as was said then.
        used_at: when the last test on it was done.
        early: who let it be spun before it had clotted, by their sign-in name.
    """

    named: tuple[str, ...] = ()
    accepted: tuple[str, ...] | None = None
    added: tuple[str, ...] = ()
    done: frozenset[str] = frozenset()
    portions: tuple[Poured, ...] = ()
    made_at: datetime | None = None
    accepted_at: datetime | None = None
    spun_at: datetime | None = None
    stored_at: datetime | None = None
    shelf: str = ""
    condition: str = ""
    until: datetime | None = None
    used_at: datetime | None = None
    early: Early | None = None


def facts_of(code: str, events: Iterable[Event]) -> Facts:
    """Read the events that touch a specimen, in their order."""
    found = _Reading(code)
    for event in events:
        found.read(event)
    return Facts(
        named=found.named,
        accepted=found.accepted,
        added=tuple(dict.fromkeys(found.added)),
        done=frozenset(found.done),
        portions=tuple(found.portions),
        made_at=found.at.get("aliquot_made"),
        accepted_at=found.at.get("specimen_accepted"),
        spun_at=found.spun_at,
        stored_at=found.at.get("specimen_stored"),
        shelf=str(found.stored.get("storage") or ""),
        condition=str(found.stored.get("condition") or ""),
        until=time_from(found.stored["until"], "until") if found.stored.get("until") else None,
        used_at=found.at.get("tests_done"),
        early=found.early,
    )


class _Reading:
    """The facts so far."""

    def __init__(self, code: str) -> None:
        self.code = code
        self.named: tuple[str, ...] = ()
        self.accepted: tuple[str, ...] | None = None
        self.added: list[str] = []
        self.done: set[str] = set()
        self.portions: list[Poured] = []
        self.at: dict[str, datetime] = {}
        self.spun_at: datetime | None = None
        self.stored: dict[str, object] = {}
        self.early: Early | None = None

    def read(self, event: Event) -> None:
        """One event more."""
        if event.subject == f"specimen:{self.code}":
            self.at[event.kind] = event.happened_at
            self.read_own(event)
        elif event.kind == "aliquot_made":
            volume = event.payload["volume_ul"]
            self.portions.append(
                Poured(event.subject.partition(":")[2], int(str(volume)), texts_of(event, "tests"))
            )
        elif event.kind == "spin_ended" and event.payload["outcome"] == "done":
            self.spun_at = event.happened_at

    def read_own(self, event: Event) -> None:
        """One that happened to it and not to a run or a portion of it."""
        if event.kind in NAMES_TESTS:
            self.named = texts_of(event, "tests")
        elif event.kind == "specimen_accepted":
            self.accepted = texts_of(event, "tests") or None
        elif event.kind == "tests_added":
            self.added += texts_of(event, "tests")
        elif event.kind == "tests_done":
            self.done |= set(texts_of(event, "tests"))
        elif event.kind == "specimen_stored":
            self.stored = dict(event.payload)
        elif event.kind == "override_given" and event.payload["finding"] == STILL_CLOTTING:
            by = str(event.payload.get("decided_by") or event.who)
            self.early = Early(by, event.happened_at, str(event.payload["reason"]))
