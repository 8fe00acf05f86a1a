"""
Centrifuge runs for all that waits and is coming, place by place.

The search is :mod:`cubital.bench.spin_plan`; here its answer becomes runs with seats, times and
words.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from cubital.bench.balance import seats
from cubital.bench.clocks import Clocks, all_clocks
from cubital.bench.programmes import NO_CHOICES
from cubital.bench.spin_plan import plan
from cubital.bench.spin_question import Question, Spun
from cubital.bench.values import (
    BenchSpecimen,
    Machine,
    NotPlanned,
    PlannedRun,
    RunPlan,
    Seat,
)
from cubital.bench.waiting import MINUTE, Bench, Waiting, bench_of, question_of
from cubital.catalogue import Catalogue
from cubital.errors import InputError
from cubital.finding import Finding, Severity


def plan_runs(
    specimens: Iterable[BenchSpecimen],
    machines: Sequence[Machine],
    catalogue: Catalogue,
    choices: Mapping[str, str] = NO_CHOICES,
    *,
    now: datetime,
    begun: Sequence[PlannedRun] = (),
) -> RunPlan:
    """
    Plan the runs: fewest specimens past due, then fewest runs, then least waiting.

    A specimen's due time is the earliest limit of a test that can still be saved.

    Args:
        specimens: at the bench or coming; those that need no spin are left alone.
        machines: of the laboratory, today.
        catalogue: whose rules hold.
        choices: topic -> option.
        now: nothing begins before.
        begun: runs that are on; their specimens and machines are taken.

    Raises:
        InputError: machines or specimens that cannot be, or two of the same number.
    """
    _check(machines, catalogue, now)
    away = {code for run in begun for code in run.specimens}
    found = all_clocks((one for one in specimens if one.code not in away), catalogue, choices)
    _no_twins(found)
    bench, refused = bench_of(found, _busy(machines, begun), catalogue)
    question = question_of(bench, now)
    answer = plan(question)
    runs = tuple(
        _planned(number, run, bench, question, now)
        for number, run in enumerate(answer.runs, start=len(begun) + 1)
    )
    return RunPlan(
        planned_at=now,
        edition=catalogue.edition,
        runs=(*begun, *runs),
        not_planned=refused,
        waiting_min=answer.score[2],
        late_bound=answer.late_bound,
        runs_bound=answer.runs_bound,
        proved=answer.proved,
        findings=_findings(runs, bench.waiting, refused, now),
    )


def replan(
    before: RunPlan,
    specimens: Iterable[BenchSpecimen],
    machines: Sequence[Machine],
    catalogue: Catalogue,
    choices: Mapping[str, str] = NO_CHOICES,
    *,
    now: datetime,
    begun: Mapping[int, datetime],
) -> RunPlan:
    """
    Plan again after a run began late, a machine broke, or more came.

    Runs that began keep what is in them and end as much later as they began; everything else is
    planned anew from now.

    Args:
        before: the plan so far.
        specimens: as they stand now; what runs already may be among them.
        machines: as they stand now; a broken one stops its run.
        catalogue: whose rules hold.
        choices: topic -> option.
        now: nothing begins before.
        begun: number of a run -> when it truly began; runs that are over need not be named.

    Raises:
        InputError: a run that the plan does not hold, or that begins in the future.
    """
    broken = {machine.row.code for machine in machines if machine.broken}
    known = {run.number: run for run in before.runs}
    kept: list[PlannedRun] = []
    for number, moment in sorted(begun.items()):
        if number not in known:
            raise InputError(f"The plan has no run {number}", mend="Name one of its runs.")
        if moment > now:
            raise InputError(f"Run {number} begins in the future", mend="Say when it began.")
        run = known[number]
        end = moment + (run.end - run.start)
        if end > now and run.centrifuge not in broken:
            kept.append(replace(run, number=len(kept) + 1, start=moment, end=end, begun=True))
    return plan_runs(specimens, machines, catalogue, choices, now=now, begun=kept)


def _check(machines: Sequence[Machine], catalogue: Catalogue, now: datetime) -> None:
    if now.tzinfo is None:
        raise InputError("The time of the plan has no time zone", mend="Give it with its offset.")
    most = catalogue.number("rotor_most_places")
    codes = [machine.row.code for machine in machines]
    if len(set(codes)) < len(codes):
        raise InputError("Two machines have one code", mend="Give each its own.")
    for machine in machines:
        if not 2 <= machine.row.places <= most:
            raise InputError(
                f"A rotor of {machine.row.places} places cannot be planned",
                machine.row.code,
                f"Give 2 to {most} places.",
            )


def _no_twins(found: Sequence[Clocks]) -> None:
    codes = [one.specimen.code for one in found]
    twice = next((code for code in codes if codes.count(code) > 1), None)
    if twice is not None:
        raise InputError(f"Specimen {twice} is there twice", mend="Give each specimen once.")


def _busy(machines: Sequence[Machine], begun: Sequence[PlannedRun]) -> list[Machine]:
    """Machines that work, each busy until the runs on it are over."""
    usable = []
    for machine in machines:
        if not machine.broken:
            ends = [run.end for run in begun if run.centrifuge == machine.row.code]
            if machine.busy_until is not None:
                ends.append(machine.busy_until)
            usable.append(replace(machine, busy_until=max(ends, default=None)))
    return usable


def _planned(number: int, run: Spun, bench: Bench, question: Question, now: datetime) -> PlannedRun:
    there = [bench.waiting[at] for at in run.jobs]
    setting = bench.setting(run.family, run.rotor)
    end = run.start + setting.minutes_in_all
    return PlannedRun(
        number=number,
        centrifuge=setting.centrifuge.code,
        programmes=tuple(dict.fromkeys(one.programme.code for one in there)),
        speed_rpm=setting.speed_rpm,
        rcf_g=round(setting.rcf_g),
        minutes=setting.minutes,
        start=now + run.start * MINUTE,
        end=now + end * MINUTE,
        seats=_seats(there, setting.centrifuge.places),
        late=tuple(bench.waiting[at].code for at in run.jobs if end > question.jobs[at].due),
    )


def _seats(there: Sequence[Waiting], places: int) -> tuple[Seat, ...]:
    kinds = list(dict.fromkeys(one.kind for one in there))
    groups = [[one.code for one in there if one.kind == kind] for kind in kinds]
    chosen = seats([len(group) for group in groups], places)
    taken = []
    for kind, codes, mine in zip(kinds, groups, chosen, strict=True):
        filled = codes + [""] * (len(mine) - len(codes))
        taken += [Seat(place, code, kind) for place, code in zip(mine, filled, strict=True)]
    return tuple(sorted(taken, key=lambda seat: seat.place))


def _findings(
    runs: Sequence[PlannedRun],
    waiting: Sequence[Waiting],
    refused: Sequence[NotPlanned],
    now: datetime,
) -> tuple[Finding, ...]:
    by_code = {one.code: one for one in waiting}
    late = [_late(by_code[code], run, now) for run in runs for code in run.late]
    told = [finding for one in waiting for finding in one.clocks.findings]
    return (*(each.finding for each in refused), *late, *told)


def _late(one: Waiting, run: PlannedRun, now: datetime) -> Finding:
    lost = [
        clock for clock in one.clocks.clocks if clock.kind == "separate_by" and clock.at < run.end
    ]
    tests = ", ".join(dict.fromkeys(clock.test for clock in lost))
    reason = lost[0].reason
    sentence = (
        f"{one.code} comes out at {run.end.astimezone(now.tzinfo):%H:%M}, past"
        f" {lost[0].at.astimezone(now.tzinfo):%H:%M}: too late for {tests}."
    )
    return Finding("spin-late", Severity.ASK, sentence, reason.source, one.code, reason.layer)
