"""
What the bench takes and gives: specimens at hand or coming, clocks, runs.

Times are timezone-aware, volumes in µL.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from cubital.catalogue.model_bench import Centrifuge
from cubital.finding import Finding, Reason


@dataclass(frozen=True, slots=True)
class Early:
    """Somebody lets a tube be spun before it has clotted: who decided it, when, and why."""

    by: str
    at: datetime
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchSpecimen:
    """
    An accepted specimen, at the bench or on its way to it.

    Args:
        code: its number.
        container: catalogue code, "" for other materials than blood.
        material: code of materials.csv.
        tests: that it was accepted for.
        collected_at: when it was drawn.
        here_from: when it is at the bench; in the future for one that is coming.
        volume_ul: in it; None for a full container.
        spins: how often it was spun to the end.
        spun_at: when the last spin ended.
        separated: serum or plasma is off the cells: poured off, or under a gel.
        spinning: it is in a rotor that turns.
        again: somebody asks for one more spin.
        condition: how it is kept: room, fridge or frozen.
        anticoagulated: the patient takes an anticoagulant, and serum clots slowly.
        spoils: test -> when it spoils unseparated, where a temperature log was read.
        portion: it was poured off another; ``container`` is that of the first tube.
        early: it need not clot to the end, as a named person decided; None when it must.
    """

    code: str
    container: str
    tests: tuple[str, ...]
    collected_at: datetime
    here_from: datetime
    material: str = "blood"
    volume_ul: int | None = None
    spins: int = 0
    spun_at: datetime | None = None
    separated: bool = False
    spinning: bool = False
    again: bool = False
    condition: str = "room"
    anticoagulated: bool = False
    spoils: Mapping[str, datetime] = field(default_factory=dict)
    portion: bool = False
    early: Early | None = None


@dataclass(frozen=True, slots=True)
class Clock:
    """
    One thing that must not happen too early or too late.

    Args:
        specimen: its number.
        test: code, or "" when it is about the whole specimen.
        kind: ``clotting`` (until then it must stand), ``spin_by`` (the last moment to begin),
            ``separate_by`` (the spin has ended, serum or plasma is off the cells), ``test_by``.
        at: when.
        sentence: what is lost then, or what it waits for.
        reason: the row that says so.
    """

    specimen: str
    test: str
    kind: str
    at: datetime
    sentence: str
    reason: Reason


@dataclass(frozen=True, slots=True)
class Machine:
    """
    A centrifuge today.

    Args:
        row: the laboratory's own.
        busy_until: end of the run that is on, None when it stands still.
        broken: out of order.
    """

    row: Centrifuge
    busy_until: datetime | None = None
    broken: bool = False


@dataclass(frozen=True, slots=True)
class Seat:
    """
    What stands in a place of the rotor.

    Args:
        place: from 1, around the rotor.
        specimen: its number, "" for a balance tube.
        kind: container and fill, in words: what a balance tube must match.
    """

    place: int
    specimen: str
    kind: str


@dataclass(frozen=True, slots=True)
class PlannedRun:
    """
    One run of a centrifuge.

    Args:
        number: in the plan, from 1.
        centrifuge: code.
        programmes: codes; of one family.
        speed_rpm: to be set.
        rcf_g: what it makes.
        minutes: at speed.
        start: begins.
        end: over, with run-up and brake.
        seats: every place that is taken, in order.
        late: specimens that are past due when it ends.
        begun: it runs already.
    """

    number: int
    centrifuge: str
    programmes: tuple[str, ...]
    speed_rpm: int
    rcf_g: int
    minutes: int
    start: datetime
    end: datetime
    seats: tuple[Seat, ...]
    late: tuple[str, ...] = ()
    begun: bool = False

    @property
    def specimens(self) -> tuple[str, ...]:
        """What is spun, in the order of the places."""
        return tuple(seat.specimen for seat in self.seats if seat.specimen)


@dataclass(frozen=True, slots=True)
class NotPlanned:
    """A specimen that would be spun and is in no run, and why: never a silent drop."""

    specimen: str
    finding: Finding


@dataclass(frozen=True, slots=True)
class RunPlan:
    """
    Runs for all that waits and is coming.

    Args:
        planned_at: when.
        edition: of the catalogue.
        runs: by start; those that run already first.
        not_planned: specimens that stay out, each with its finding.
        waiting_min: minutes from being ready to being spun, all specimens together.
        late_bound: no plan has fewer specimens past due.
        runs_bound: no plan with as few past due has fewer runs.
        proved: how many of the objectives (past due, runs, waiting) are proved the least.
        findings: what to tell the person, past-due specimens first.
    """

    planned_at: datetime
    edition: str
    runs: tuple[PlannedRun, ...]
    not_planned: tuple[NotPlanned, ...]
    waiting_min: int
    late_bound: int
    runs_bound: int
    proved: int
    findings: tuple[Finding, ...]

    @property
    def late(self) -> tuple[str, ...]:
        """Specimens past due."""
        return tuple(code for run in self.runs for code in run.late)
