"""
The centrifuge runs as a CP-SAT model: written from the statement of the question alone.

It shares no code with the search that it checks; how classes balance is written out once more.  The
objectives are optimised one after the other, each fixed before the next.  Only what the solver
proves is compared.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from cubital.bench.spin_question import NEVER, Question


@dataclass(frozen=True)
class Optimum:
    """Values of the objectives as far as they were found, and how many of them are proved."""

    values: tuple[int, ...]
    proved: int
    seconds: float


@dataclass
class Model:
    """
    The model: slots of each rotor in time order, and which job is in which slot.

    Args:
        used: (rotor, slot) -> whether a run is in it.
        puts: (job, rotor, slot) -> whether the job is in that run.
    """

    model: cp_model.CpModel = field(default_factory=cp_model.CpModel)
    used: dict[tuple[int, int], cp_model.IntVar] = field(default_factory=dict)
    runs_family: dict[tuple[int, int, int], cp_model.IntVar] = field(default_factory=dict)
    starts: dict[tuple[int, int], cp_model.IntVar] = field(default_factory=dict)
    puts: dict[tuple[int, int, int], cp_model.IntVar] = field(default_factory=dict)
    late: list[cp_model.IntVar] = field(default_factory=list)
    begins: list[cp_model.IntVar] = field(default_factory=list)


def optimum(question: Question, *, seconds: float, workers: int = 2) -> Optimum:
    """Optimise jobs past due, runs and waiting, one after the other."""
    built = _build(question)
    goals = [
        sum(built.late),
        sum(built.used.values()),
        sum(built.begins) - sum(job.release for job in question.jobs),
    ]
    values: list[int] = []
    begun = time.monotonic()
    for goal in goals:
        left = seconds - (time.monotonic() - begun)
        if left <= 0:
            break
        built.model.minimize(goal)
        solver = cp_model.CpSolver()
        solver.parameters.max_time_in_seconds = left
        solver.parameters.num_workers = workers
        solver.parameters.random_seed = 1
        status = solver.solve(built.model)
        if status != cp_model.OPTIMAL:
            if status == cp_model.FEASIBLE:
                values.append(round(solver.objective_value))
                return Optimum(tuple(values), len(values) - 1, time.monotonic() - begun)
            break
        values.append(round(solver.objective_value))
        built.model.add(goal <= values[-1])
        _hint(built, solver)
    return Optimum(tuple(values), len(values), time.monotonic() - begun)


def _hint(built: Model, solver: cp_model.CpSolver) -> None:
    built.model.clear_hints()
    for group in (built.used, built.runs_family, built.starts, built.puts):
        for variable in group.values():
            built.model.add_hint(variable, solver.value(variable))
    for variable in (*built.late, *built.begins):
        built.model.add_hint(variable, solver.value(variable))


def _slots(question: Question, rotor: int) -> int:
    """
    Runs that a rotor may need in some best plan.

    A best plan needs no run of a rotor before it is free, none without a job, and after the last
    due time and release only full ones: at most, for each family, its jobs by the places less one
    for each kind, which balance tubes may take.
    """
    one = question.rotors[rotor]
    families = [at for at, minutes in enumerate(one.minutes) if minutes]
    jobs = [job for job in question.jobs if job.family in families]
    if not jobs:
        return 0
    last = max([job.release for job in jobs] + [job.due for job in jobs if job.due < NEVER])
    full = 0
    for family in families:
        mine = [job for job in jobs if job.family == family]
        spare = max(1, one.places - len({job.kind for job in mine}))
        full += -(-len(mine) // spare)
    shortest = min(one.minutes[family] for family in families)
    return min(len(jobs), max(0, last - one.free) // shortest + 1 + full)


def _build(question: Question) -> Model:
    built = Model()
    horizon = max(job.release for job in question.jobs)
    horizon = max([horizon, *(rotor.free for rotor in question.rotors)])
    horizon = max([horizon, *(job.due for job in question.jobs if job.due < NEVER)])
    horizon += len(question.jobs) * max(max(rotor.minutes) for rotor in question.rotors)
    for rotor in range(len(question.rotors)):
        for slot in range(_slots(question, rotor)):
            _slot(built, question, rotor, slot, horizon)
    for index in range(len(question.jobs)):
        _job(built, question, index, horizon)
    for rotor, slot in built.used:
        _balance(built, question, rotor, slot)
    return built


def _slot(built: Model, question: Question, rotor: int, slot: int, horizon: int) -> None:
    model, one = built.model, question.rotors[rotor]
    used = built.used[rotor, slot] = model.new_bool_var("")
    start = built.starts[rotor, slot] = model.new_int_var(one.free, horizon, "")
    families = [family for family, minutes in enumerate(one.minutes) if minutes]
    for family in families:
        built.runs_family[rotor, slot, family] = model.new_bool_var("")
    runs = [built.runs_family[rotor, slot, family] for family in families]
    model.add_exactly_one([*runs, used.Not()])
    if slot:
        before = sum(
            one.minutes[family] * built.runs_family[rotor, slot - 1, family] for family in families
        )
        model.add(start >= built.starts[rotor, slot - 1] + before)
        model.add_implication(used, built.used[rotor, slot - 1])


def _job(built: Model, question: Question, index: int, horizon: int) -> None:
    model, job = built.model, question.jobs[index]
    late = model.new_bool_var("")
    begin = model.new_int_var(job.release, horizon, "")
    puts = []
    for (rotor, slot), start in built.starts.items():
        minutes = question.rotors[rotor].minutes[job.family]
        if not minutes:
            continue
        put = built.puts[index, rotor, slot] = model.new_bool_var("")
        puts.append(put)
        model.add_implication(put, built.runs_family[rotor, slot, job.family])
        model.add(start >= job.release).only_enforce_if(put)
        model.add(begin >= start).only_enforce_if(put)
        if job.due < NEVER:
            model.add(start <= job.due - minutes).only_enforce_if([put, late.Not()])
    model.add_exactly_one(puts)
    if job.due >= NEVER:
        model.add(late == 0)
    built.late.append(late)
    built.begins.append(begin)


def _balance(built: Model, question: Question, rotor: int, slot: int) -> None:
    """Each kind fills polygons of the two smallest primes; so many fit on the circle."""
    model, places = built.model, question.rotors[rotor].places
    primes = [
        p for p in range(2, places + 1) if places % p == 0 and all(p % q for q in range(2, p))
    ]
    there = [at for at in range(len(question.jobs)) if (at, rotor, slot) in built.puts]
    model.add(sum(built.puts[at, rotor, slot] for at in there) >= built.used[rotor, slot])
    smalls, larges = [], []
    for kind in sorted({(question.jobs[at].family, question.jobs[at].kind) for at in there}):
        mine = [
            built.puts[at, rotor, slot]
            for at in there
            if (question.jobs[at].family, question.jobs[at].kind) == kind
        ]
        small = model.new_int_var(0, places // primes[0], "")
        smalls.append(small)
        room = primes[0] * small
        if len(primes) > 1:
            large = model.new_int_var(0, places // primes[1], "")
            larges.append(large)
            room += primes[1] * large
        model.add(sum(mine) <= room)
    if len(primes) == 1:
        model.add(primes[0] * sum(smalls) <= places)
        return
    sets = places // (primes[0] * primes[1])
    with_small = model.new_int_var(0, sets, "")
    with_large = model.new_int_var(0, sets, "")
    model.add(sum(smalls) <= primes[1] * with_small)
    model.add(sum(larges) <= primes[0] * with_large)
    model.add(with_small + with_large <= sets)
