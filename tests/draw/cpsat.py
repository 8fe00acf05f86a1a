"""
The container choice as a CP-SAT model: written from the statement of the question alone.

It shares no code with the search that it checks.  The objectives are optimised one after the
other, each fixed before the next.
"""

from __future__ import annotations

import math
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from cubital.draw.choose_values import Aim, Kind, Need


class OutOfTimeError(Exception):
    """The solver had not proved its answer when its time was up."""


@dataclass
class Model:
    """
    The model of one question.

    Args:
        puts: (need, kind, place) -> whether the need goes into that tube.
        used: (kind, place) -> whether that tube is opened.
    """

    model: cp_model.CpModel = field(default_factory=cp_model.CpModel)
    puts: dict[tuple[int, int, int], cp_model.IntVar] = field(default_factory=dict)
    used: dict[tuple[int, int], cp_model.IntVar] = field(default_factory=dict)
    blood: list[cp_model.IntVar] = field(default_factory=list)
    ranks: list[tuple[cp_model.IntVar, int]] = field(default_factory=list)


def optimum(
    needs: Sequence[Need],
    kinds: Sequence[Kind],
    *,
    aim: Aim = Aim.FEWEST_TUBES,
    stock: Mapping[str, int] | None = None,
    blood_limit_ul: int | None = None,
    seconds: float = math.inf,
    trimmed: bool = True,
) -> tuple[int, int, int] | None:
    """
    Give (tubes, blood, preference) of the optimum, or None when there is no answer.

    Args:
        seconds: of solving, the objectives together.
        trimmed: leave out tubes of a kind that an optimum never opens (see :func:`places`).

    Raises:
        OutOfTimeError: not proved in time.
    """
    built = build(needs, kinds, stock or {}, blood_limit_ul, trimmed=trimmed)
    if built is None:
        return None
    model = built.model
    tubes = sum(built.used.values())
    blood = sum(built.blood)
    preference = sum(var * rank for var, rank in built.ranks)
    order = [tubes, blood, preference] if aim is Aim.FEWEST_TUBES else [blood, tubes, preference]
    deadline = time.perf_counter() + seconds
    values: list[int] = []
    for expression in order:
        model.minimize(expression)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = 1
        if seconds < math.inf:
            solver.parameters.max_time_in_seconds = max(0.001, deadline - time.perf_counter())
        status = solver.solve(model)
        if status == cp_model.INFEASIBLE and not values:
            return None
        if status != cp_model.OPTIMAL:
            raise OutOfTimeError(solver.status_name(status))
        value = round(solver.objective_value)
        values.append(value)
        model.add(expression == value)
        model.clear_hints()
        for var in [*built.puts.values(), *built.used.values(), *built.blood]:
            model.add_hint(var, solver.value(var))
    if aim is Aim.LEAST_BLOOD:
        values[0], values[1] = values[1], values[0]
    return values[0], values[1], values[2]


def build(
    needs: Sequence[Need],
    kinds: Sequence[Kind],
    stock: Mapping[str, int],
    blood_limit_ul: int | None,
    *,
    trimmed: bool,
) -> Model | None:
    """Build the model; None when a need has no kind at all."""
    built = Model()
    model = built.model
    of_need: list[list[cp_model.IntVar]] = [[] for _ in needs]
    of_container: dict[str, list[cp_model.IntVar]] = {}
    for k, kind in enumerate(kinds):
        guests = {}
        for i, need in enumerate(needs):
            ranks = [rank for named, rank in need.kinds if named == k]
            if ranks and kind.dead_ul + need.volume_ul <= kind.fill_max_ul:
                guests[i] = min(ranks)
        if not guests or kind.max_tests < 1 or kind.fill_min_ul > kind.fill_max_ul:
            continue
        most = places(kind, [needs[i] for i in guests]) if trimmed else len(guests)
        most = min(most, stock.get(kind.container, most))
        before = None
        for place in range(most):
            before = _tube(built, k, kind, place, needs, guests, of_need, before)
            of_container.setdefault(kind.container, []).append(before)
    for container, opened in of_container.items():
        if container in stock:
            model.add(sum(opened) <= stock[container])
    if any(not options for options in of_need):
        return None
    for options in of_need:
        model.add_exactly_one(options)
    if blood_limit_ul is not None:
        model.add(sum(built.blood) <= blood_limit_ul)
    return built


def places(kind: Kind, guests: Sequence[Need]) -> int:
    """
    Tubes of a kind that are enough for its guests besides those that want a tube of their own.

    If two tubes could be poured together, one tube less would do and draw no more.  Tubes that
    cannot be poured together pairwise are, but for one, more than half full or hold more than
    half of the tests that may share.
    """
    own = sum(need.own_tube for need in guests)
    volume = sum(need.volume_ul for need in guests if not need.own_tube)
    count = len(guests) - own
    room = kind.fill_max_ul - kind.dead_ul
    full = 2 * volume // room
    crowded = 2 * count // (kind.max_tests + 1)
    if volume <= room:
        full = 0
    if count <= kind.max_tests:
        crowded = 0
    return own + min(count, 1 + full + crowded)


def _tube(
    built: Model,
    k: int,
    kind: Kind,
    place: int,
    needs: Sequence[Need],
    guests: Mapping[int, int],
    of_need: list[list[cp_model.IntVar]],
    before: cp_model.IntVar | None,
) -> cp_model.IntVar:
    model = built.model
    used = model.new_bool_var(f"used {k} {place}")
    if before is not None:
        model.add_implication(used, before)
    built.used[k, place] = used
    inside = []
    for i, rank in guests.items():
        put = model.new_bool_var(f"need {i} in {k} {place}")
        built.puts[i, k, place] = put
        built.ranks.append((put, rank))
        of_need[i].append(put)
        inside.append((i, put))
        model.add_implication(put, used)
    load = sum(needs[i].volume_ul * put for i, put in inside) + kind.dead_ul * used
    model.add(load <= kind.fill_max_ul * used)
    model.add(sum(put for _, put in inside) <= kind.max_tests * used)
    for i, put in inside:
        if needs[i].own_tube:
            for other, with_it in inside:
                if other != i and (other > i or not needs[other].own_tube):
                    model.add_at_most_one([put, with_it])
    blood = model.new_int_var(0, kind.fill_max_ul, f"blood {k} {place}")
    model.add(blood >= kind.fill_min_ul * used)
    model.add(blood >= load)
    built.blood.append(blood)
    return used
