"""The plan of the runs for what stands at the bench now and comes to it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from hashlib import sha256

from django.core.cache import cache

from cubital.bench import (
    Clocks,
    Machine,
    PlannedRun,
    RunPlan,
    Seat,
    clocks_of,
    plan_runs,
    worklist,
)
from cubital.bench.waiting import kind_of
from cubital.custody import State
from cubital.desk.bench.known import Held, Scene, hold
from cubital.desk.record import selectors_bench
from cubital.desk.record.models import Centrifuge
from cubital.desk.record.selectors_bench import Arriving, Run
from cubital.errors import InputError

MINUTE = timedelta(minutes=1)
KEPT_S = 90
"""How long a plan is kept: it holds for one minute's question."""


@dataclass(frozen=True, slots=True)
class Unread:
    """A specimen of which the bench room can reckon nothing, and why."""

    held: Held
    sentence: str


@dataclass(frozen=True, slots=True)
class OnNow:
    """
    A run that is on.

    Args:
        run: with its event.
        planned: as the bench room takes it; it ends no earlier than now.
        due: when it should end, reckoned from its start.
        row: its centrifuge, None when it is off the list.
    """

    run: Run
    planned: PlannedRun
    due: datetime
    row: Centrifuge | None


@dataclass(frozen=True, slots=True)
class Waiting:
    """
    What is at the bench and what comes.

    Args:
        held: everything at work here, by number; what is in a rotor too.
        clocks: of what can be reckoned, in a rotor or not.
        unread: what cannot be.
        undecided: at the reception, not accepted yet.
        coming: on its way, in a box that somebody expects.
        arriving: every box on its way here.
        running: runs that are on.
        machines: of the place.
    """

    held: dict[str, Held]
    clocks: dict[str, Clocks]
    unread: tuple[Unread, ...]
    undecided: frozenset[str]
    coming: frozenset[str]
    arriving: tuple[Arriving, ...]
    running: tuple[OnNow, ...]
    machines: tuple[Centrifuge, ...]


def waiting_at(scene: Scene) -> Waiting:
    """Everything at the bench of a place, and what comes to it."""
    place = scene.place
    arriving = selectors_bench.arriving(place)
    when = {
        code: max(each.expected_at, scene.now)
        for each in arriving
        if each.expected_at is not None
        for code in each.box.specimens
    }
    coming = [one for one in selectors_bench.coming_to(place) if one.code in when]
    undecided = selectors_bench.specimens_at(place, State.RECEIVED)
    here = selectors_bench.specimens_at(place, *selectors_bench.AT_WORK)
    held = hold([*here, *undecided, *coming], scene, when)
    clocks, unread = read_clocks(held.values(), scene)
    machines = tuple(selectors_bench.centrifuges(place))
    return Waiting(
        held=held,
        clocks=clocks,
        unread=tuple(unread),
        undecided=frozenset(one.code for one in undecided),
        coming=frozenset(one.code for one in coming),
        arriving=tuple(arriving),
        running=tuple(on_now(run, machines, held, scene) for run in selectors_bench.runs_on(place)),
        machines=machines,
    )


def read_clocks(held: Iterable[Held], scene: Scene) -> tuple[dict[str, Clocks], list[Unread]]:
    """The clocks of each specimen; one that cannot be reckoned spoils no other."""
    clocks: dict[str, Clocks] = {}
    unread: list[Unread] = []
    for each in held:
        try:
            clocks[each.code] = clocks_of(each.bench, scene.here.catalogue, scene.choices)
        except InputError as refused:
            unread.append(Unread(each, str(refused)))
    return clocks, unread


# ---------------------------------------------------------------- runs that are on


def on_now(
    run: Run, machines: Sequence[Centrifuge], held: Mapping[str, Held], scene: Scene
) -> OnNow:
    """A run that is on, out of the event with which it began."""
    row = next((each for each in machines if each.code == run.spin.centrifuge), None)
    said = run.event.payload
    seconds = whole(said.get("seconds"))
    more = row.run_up_s + row.brake_s if row is not None else 0
    due = run.spin.begun_at + math.ceil((seconds + more) / 60) * MINUTE
    planned = PlannedRun(
        number=0,
        centrifuge=run.spin.centrifuge,
        programmes=(run.spin.programme,) if run.spin.programme else (),
        speed_rpm=whole(said.get("speed_rpm")),
        rcf_g=whole(said.get("rcf_g")),
        minutes=seconds // 60,
        start=run.spin.begun_at,
        end=max(due, scene.now),
        seats=seats_said(run, held, scene),
        begun=True,
    )
    return OnNow(run, planned, due, row)


def seats_said(run: Run, held: Mapping[str, Held], scene: Scene) -> tuple[Seat, ...]:
    """The seats of a run as its event says; () where it does not."""
    places = run.event.payload.get("places")
    balance = run.event.payload.get("balance")
    if not isinstance(places, list) or len(places) != len(run.spin.specimens):
        return ()
    missing = [code for code in run.spin.specimens if code not in held]
    known = {**held, **hold(selectors_bench.specimens_of(missing), scene)}
    kinds = {
        code: kind_of(known[code].bench, scene.here.catalogue)
        for code in run.spin.specimens
        if code in known
    }
    seats = [
        Seat(place, code, kinds.get(code, ""))
        for place, code in zip(places, run.spin.specimens, strict=True)
        if isinstance(place, int)
    ]
    empty = balance if isinstance(balance, list) else []
    seats += [Seat(place, "", "") for place in empty if isinstance(place, int)]
    return tuple(sorted(seats, key=lambda seat: seat.place))


def whole(value: object) -> int:
    """A whole number of a payload, 0 where it says none."""
    return value if isinstance(value, int) else 0


# ---------------------------------------------------------------- the plan


def machines_of(found: Waiting) -> list[Machine]:
    """The place's centrifuges as the bench room takes them."""
    ends = {each.planned.centrifuge: each.planned.end for each in found.running}
    return [
        Machine(row.to_domain(), ends.get(row.code), broken=row.out_since is not None)
        for row in found.machines
    ]


def lost_already(found: Waiting, scene: Scene) -> tuple[str, ...]:
    """Specimens that wait for a spin and of which the bench room says that all is lost."""
    waits = [clocks for clocks in found.clocks.values() if clocks.ready_at is not None]
    lines = worklist(waits, scene.here.catalogue, now=scene.now)
    return tuple(line.specimen for line in lines if line.level == "lost")


def plan_at(found: Waiting, scene: Scene) -> RunPlan:
    """
    Plan the runs for everything that waits and comes; the same minute's question is asked once.

    A specimen with nothing left to save is in no run; somebody may still load it by hand.

    Raises:
        InputError: a centrifuge that cannot be planned for.
    """
    now = scene.now.replace(second=0, microsecond=0)
    spinning = {code for each in found.running for code in each.run.spin.specimens}
    out = spinning | set(lost_already(found, scene))
    specimens = [
        found.held[code].bench
        for code, clocks in found.clocks.items()
        if code not in out and clocks.ready_at is not None
    ]
    machines, begun = machines_of(found), [each.planned for each in found.running]
    catalogue = scene.here.catalogue
    asked = repr((
        specimens, machines, begun, now, catalogue.edition, catalogue.layers,
        scene.here.row.catalogue_folder, sorted(scene.choices.items()),
    ))  # fmt: skip
    key = f"bench-runs-{sha256(asked.encode()).hexdigest()}"
    plan: RunPlan | None = cache.get(key)
    if plan is None:
        plan = plan_runs(specimens, machines, catalogue, scene.choices, now=now, begun=begun)
        cache.set(key, plan, KEPT_S)
    return plan
