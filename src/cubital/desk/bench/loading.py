"""The run that somebody loads: whether these tubes may run together now, and where each stands."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from cubital.bench import (
    BenchSpecimen,
    Clocks,
    Machine,
    NotPlanned,
    PlannedRun,
    RunPlan,
    Seat,
    plan_runs,
    still_clotting,
)
from cubital.custody import State
from cubital.desk.bench.known import Held, Scene, hold
from cubital.desk.bench.planning import read_clocks
from cubital.desk.record import selectors_bench
from cubital.desk.record.models import Centrifuge
from cubital.finding import Finding


@dataclass(frozen=True, slots=True)
class Loading:
    """
    A run that somebody loads.

    Args:
        row: the centrifuge.
        codes: what is to go in, in the order in which it was named.
        run: the run of all of it, None when there is none to be had now.
        left_out: what must not go in, each with its sentence.
        sentences: why there is no run.
        clotting: the rule that asks of each that still clots: a named person may go past it.
        clocks: of the specimens that can be reckoned.
        on: number of the run that is on in the centrifuge, "" where it stands still.
    """

    row: Centrifuge
    codes: tuple[str, ...]
    run: PlannedRun | None
    left_out: tuple[NotPlanned, ...]
    sentences: tuple[str, ...]
    clotting: tuple[Finding, ...]
    clocks: Mapping[str, Clocks]
    on: str = ""


def loading_of(row: Centrifuge, codes: Sequence[str], scene: Scene, at: datetime) -> Loading:
    """
    Ask the bench room for one run of these specimens, now, on this machine.

    The seats of a set of tubes are the same however often one asks: within a kind they are taken
    in the order of the numbers.
    """
    several = tuple(dict.fromkeys(codes))
    held = hold(selectors_bench.specimens_of(several), scene)
    sentences = [f"There is no specimen {code}." for code in several if code not in held]
    sentences += [said for code in held if (said := not_here(held[code], scene))]
    clocks, unread = read_clocks(held.values(), scene)
    sentences += [each.sentence for each in unread]
    wanted = [
        asked_again(held[code].bench) for code in sorted(clocks) if not not_here(held[code], scene)
    ]
    busy = [r for r in selectors_bench.runs_on(scene.place) if r.spin.centrifuge == row.code]
    on = busy[0].spin.code if busy else ""
    if on:
        sentences.append(f"{row.name} runs: say first that run {on} has ended.")
    if row.out_since is not None:
        sentences.append(f"{row.name} is out of order: {row.out_why}.")
    machine = Machine(row.to_domain())
    plan = plan_runs(wanted, [machine], scene.here.catalogue, scene.choices, now=at)
    clotting = tuple(
        asks for each in clocks.values()
        if each.ready_at is not None and (asks := still_clotting(each, at)) is not None
    )  # fmt: skip
    clots = {asks.subject for asks in clotting}
    sentences += [
        f"{code} was not here before {each.ready_at.astimezone(at.tzinfo):%H:%M}."
        for code, each in clocks.items()
        if code not in clots and each.ready_at is not None and each.ready_at > at
    ]
    sentences += why_not_one(plan, clocks, row, waits=bool(clotting))
    free = not (sentences or clotting or plan.not_planned)
    run = plan.runs[0] if plan.runs and free else None
    if run is not None:
        run = replace(run, seats=in_order(run.seats))
    return Loading(row, several, run, plan.not_planned, tuple(sentences), clotting, clocks, on)


def asked_again(one: BenchSpecimen) -> BenchSpecimen:
    """Whoever loads a tube that was spun asks for one more spin; the bench room says whether."""
    return replace(one, again=one.spins > 0)


def not_here(held: Held, scene: Scene) -> str:
    """Why a specimen cannot be taken in hand, "" when it can."""
    one = held.specimen
    if one.site != scene.place.code:
        return f"{one.code} is not at this place."
    if one.state not in (State.ACCEPTED, State.SPUN, State.ALIQUOTED):
        words = "not accepted yet" if one.state is State.RECEIVED else plain_state(one.state)
        return f"{one.code} is {words}."
    return ""


def plain_state(state: State) -> str:
    """A state in words."""
    return str(state).replace("_", " ")


def why_not_one(
    plan: RunPlan, clocks: Mapping[str, Clocks], row: Centrifuge, *, waits: bool
) -> list[str]:
    """Why specimens are not one run, whether they have clotted or not."""
    unspun = [
        f"{code} is not spun. {each.spin.reason.sentence}"
        for code, each in clocks.items()
        if each.spin.programme is None and not each.specimen.again
    ]
    found = list(unspun)
    if waits:
        return found
    if len(plan.runs) > 1:
        families = {each.spin.programme.family for each in clocks.values() if each.spin.programme}
        if len(families) > 1:
            found.append("These want different programmes and cannot share a run: leave some out.")
        else:
            found.append(
                f"These do not fit into one run of {row.name} with its {row.places} places:"
                " leave some out."
            )
    return found


def in_order(seats: Iterable[Seat]) -> tuple[Seat, ...]:
    """The same seats, within each kind taken in the order of the numbers, balance tubes last."""
    several = list(seats)
    taken: list[Seat] = []
    for kind in dict.fromkeys(seat.kind for seat in several):
        mine = [seat for seat in several if seat.kind == kind]
        codes = sorted(seat.specimen for seat in mine if seat.specimen)
        codes += [""] * (len(mine) - len(codes))
        places = sorted(seat.place for seat in mine)
        taken += [Seat(place, code, kind) for place, code in zip(places, codes, strict=True)]
    return tuple(sorted(taken, key=lambda seat: seat.place))
