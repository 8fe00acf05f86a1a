"""Runs as a page shows them: names, times, the setting, the seats. Decides nothing about blood."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from django.urls import reverse

from cubital.bench import Clocks, PlannedRun, RunPlan, beside, programme_of
from cubital.catalogue import Catalogue
from cubital.catalogue.model_bench import SpinProgramme
from cubital.desk import words
from cubital.desk.bench.known import Held, Scene
from cubital.desk.bench.planning import OnNow, Waiting
from cubital.desk.bench.rotor import Drawn, drawn
from cubital.desk.bench.shown import clock_words, left_words, tube_of
from cubital.desk.draw.page import Said, said
from cubital.desk.reception.shown import joined, test_name
from cubital.desk.record.models import Centrifuge
from cubital.errors import InputError
from cubital.finding import Finding

PROOFS = (
    "Within the effort spent no better plan was found; the bounds say how far it can be at most.",
    "No plan has fewer tubes past due.",
    "No plan has fewer tubes past due, and none as good has fewer runs.",
    "No plan is better: past due, runs and waiting are each the least there can be.",
)


@dataclass(frozen=True, slots=True)
class RunShown:
    """
    One run.

    Args:
        title: which run, in a few words.
        centrifuge: its name.
        programme: in words.
        setting: what is set on the machine.
        start, end: times in words.
        left: until or since its start, or how long it is over.
        tubes: how many.
        balance: how many balance tubes.
        late: numbers that come out too late.
        lost: tests that are too late by its end, in sentences.
        rotor: drawn, None where the places are not on record.
        beside: a speed beside the published force, None where there is but one.
        load: address of the page where it is loaded, "" where it cannot be now.
        over: it should have ended.
    """

    number: int
    title: str
    centrifuge: str
    programme: str
    setting: str
    start: str
    end: str
    left: str
    tubes: int
    balance: int
    late: tuple[str, ...]
    lost: tuple[str, ...]
    rotor: Drawn | None
    beside: Said | None
    load: str
    over: bool = False
    code: str = ""


@dataclass(frozen=True, slots=True)
class Bound:
    """How good the plan is: what it reaches, what no plan can do better than, what is proved."""

    late: int
    late_bound: int
    runs: int
    runs_bound: int
    waiting: str
    proved: str


def programme_words(codes: Sequence[str], scene: Scene) -> str:
    """Programmes by name."""
    names = []
    for code in codes:
        try:
            names.append(programme_of(scene.here.catalogue, code, scene.choices).name)
        except InputError:
            names.append(words.plain(code))
    return joined(dict.fromkeys(names)) or "no programme named"


def setting_words(run: PlannedRun) -> str:
    """What is set on the machine, and the force that it makes."""
    if not run.speed_rpm:
        return f"{run.rcf_g} g" if run.rcf_g else "not on record"
    return f"{run.speed_rpm} turns a minute = {run.rcf_g} g, {run.minutes} min"


def beside_said(codes: Sequence[str], row: Centrifuge, scene: Scene) -> Said | None:
    """The speed of common practice beside the published force on this rotor."""
    catalogue = scene.here.catalogue
    chosen = {each.code: each for each in programmes(catalogue, scene.choices)}
    for code in codes:
        if code in chosen and chosen[code].speed_rpm:
            found = beside(catalogue, code, row.to_domain())
            if found is not None:
                return said([found.finding], catalogue)[0]
    return None


def programmes(catalogue: Catalogue, choices: Mapping[str, str]) -> tuple[SpinProgramme, ...]:
    """Every programme once, as the place has chosen."""
    codes = dict.fromkeys(row.code for row in catalogue.rows(SpinProgramme))
    return tuple(programme_of(catalogue, code, choices) for code in codes)


def load_address(code: str, tubes: Sequence[str]) -> str:
    """The page where a run is loaded."""
    return f"{reverse('bench-load', args=[code])}?{urlencode({'tubes': ' '.join(tubes)})}"


def run_shown(
    run: PlannedRun,
    row: Centrifuge | None,
    held: Mapping[str, Held],
    scene: Scene,
    *,
    load: bool,
    clocks: Mapping[str, Clocks] | None = None,
) -> RunShown:
    """A planned run; with the clocks of its tubes it is said what it comes too late for."""
    tubes = {code: tube_of(held[code], scene.here.catalogue) for code in run.specimens
             if code in held}  # fmt: skip
    places = row.places if row is not None else 0
    return RunShown(
        number=run.number,
        title=f"Run {run.number}",
        centrifuge=row.name if row is not None else run.centrifuge,
        programme=programme_words(run.programmes, scene),
        setting=setting_words(run),
        start=clock_words(run.start, scene.now),
        end=clock_words(run.end, scene.now),
        left="now" if run.start <= scene.now else left_words(run.start, scene.now),
        tubes=len(run.specimens),
        balance=sum(not seat.specimen for seat in run.seats),
        late=run.late,
        lost=lost_in(run, clocks or {}, scene),
        rotor=drawn(run.seats, places, tubes) if run.seats else None,
        beside=beside_said(run.programmes, row, scene) if row is not None else None,
        load=load_address(run.centrifuge, run.specimens) if load and row is not None else "",
    )


def lost_in(run: PlannedRun, clocks: Mapping[str, Clocks], scene: Scene) -> tuple[str, ...]:
    """Tests whose limit before the cells are off passes before the run has ended."""
    found = []
    for code in run.specimens:
        every = clocks[code].clocks if code in clocks else ()
        over = [each.test for each in every if each.kind == "separate_by" and each.at < run.end]
        if over:
            names = joined(test_name(test, scene.here.catalogue) for test in over)
            found.append(f"Too late for {names} of {code}.")
    return tuple(found)


def running_shown(each: OnNow, held: Mapping[str, Held], scene: Scene) -> RunShown:
    """A run that is on."""
    run, spin = each.planned, each.run.spin
    shown = run_shown(run, each.row, held, scene, load=False)
    over = each.due < scene.now
    end = clock_words(each.due, scene.now) if run.minutes else "a time not on record"
    return RunShown(
        **{name: getattr(shown, name) for name in (
            "centrifuge", "programme", "setting", "start", "balance", "rotor", "beside", "lost",
        )},
        number=0, title=f"Run {spin.code}", end=end,
        left=left_words(each.due, scene.now) if run.minutes else "",
        tubes=len(spin.specimens), late=(), load="", over=over, code=spin.code,
    )  # fmt: skip


def runs_shown(plan: RunPlan, found: Waiting, scene: Scene) -> tuple[RunShown, ...]:
    """
    The planned runs in the order of their start.

    The next one of each machine that stands still can be loaded.
    """
    rows = {row.code: row for row in found.machines}
    busy = {each.planned.centrifuge for each in found.running}
    shown = []
    for run in plan.runs:
        if run.begun:
            continue
        here = not any(code in found.coming or code in found.undecided for code in run.specimens)
        shown.append(
            run_shown(run, rows.get(run.centrifuge), found.held, scene,
                      load=run.centrifuge not in busy and here, clocks=found.clocks)
        )  # fmt: skip
        busy.add(run.centrifuge)
    return tuple(shown)


def bound_of(plan: RunPlan) -> Bound:
    """What the plan reaches and what is proved of it."""
    hours, minutes = divmod(plan.waiting_min, 60)
    return Bound(
        late=len(plan.late),
        late_bound=plan.late_bound,
        runs=sum(not run.begun for run in plan.runs),
        runs_bound=plan.runs_bound,
        waiting=f"{hours} h {minutes:02d} min" if hours else f"{minutes} min",
        proved=PROOFS[plan.proved],
    )


def findings_said(findings: Sequence[Finding], scene: Scene) -> tuple[Said, ...]:
    """Findings with their sources, each sentence once."""
    return said(dict.fromkeys(findings), scene.here.catalogue)
