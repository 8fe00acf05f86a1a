"""Which specimens wait for a spin, on which machines they can have it, and what is against it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TypeAlias

from cubital.bench.clocks import Clocks
from cubital.bench.programmes import OnRotor, on_rotor
from cubital.bench.spin_question import NEVER, Job, Question, Rotor
from cubital.bench.values import BenchSpecimen, Machine, NotPlanned
from cubital.catalogue import Catalogue
from cubital.catalogue.model import Container
from cubital.catalogue.model_bench import SpinProgramme
from cubital.finding import Finding, Severity

MINUTE = timedelta(minutes=1)

Family: TypeAlias = tuple[object, ...]
"""The family's name and its settings: what shares a run is set alike."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """
    A specimen to be spun.

    Args:
        clocks: of it.
        programme: that it gets.
        family: of the programme.
        kind: container and fill in words: what balances it.
    """

    clocks: Clocks
    programme: SpinProgramme
    family: Family
    kind: str

    @property
    def code(self) -> str:
        """Its number."""
        return self.clocks.specimen.code


@dataclass(frozen=True, slots=True)
class Bench:
    """
    What is planned: specimens that can be spun, machines that work, and how each is set.

    Args:
        waiting: one job each, in the question's order.
        machines: one rotor each, in the question's order.
        settings: by family and machine: the setting, or why it cannot run there.
    """

    waiting: tuple[Waiting, ...]
    machines: tuple[Machine, ...]
    families: tuple[Family, ...]
    settings: tuple[tuple[OnRotor | Finding, ...], ...]

    def setting(self, family: int, machine: int) -> OnRotor:
        """How a machine that can run a family is set for it."""
        found = self.settings[family][machine]
        assert isinstance(found, OnRotor)
        return found


def bench_of(
    found: Iterable[Clocks], machines: Sequence[Machine], catalogue: Catalogue
) -> tuple[Bench, tuple[NotPlanned, ...]]:
    """Sort what waits for a spin from what must not be spun or finds no machine."""
    waiting: list[Waiting] = []
    refused: list[NotPlanned] = []
    for one in found:
        specimen, programme = one.specimen, one.spin.programme
        if specimen.again and (programme is None or (one.spin.gel and specimen.spins > 0)):
            refused.append(NotPlanned(specimen.code, _not_again(one)))
        elif one.ready_at is not None and programme is not None:
            kind = kind_of(specimen, catalogue)
            waiting.append(Waiting(one, programme, _family(programme), kind))
    tried: dict[Family, tuple[OnRotor | Finding, ...]] = {}
    able = []
    for each in waiting:
        if each.family not in tried:
            tried[each.family] = tuple(
                on_rotor(each.programme, machine.row, catalogue) for machine in machines
            )
        settings = tried[each.family]
        if any(isinstance(setting, OnRotor) for setting in settings):
            able.append(each)
        else:
            refused.append(NotPlanned(each.code, _no_machine(each, settings)))
    families = tuple(dict.fromkeys(each.family for each in able))
    settings_of = tuple(tried[family] for family in families)
    return Bench(tuple(able), tuple(machines), families, settings_of), tuple(refused)


def _family(programme: SpinProgramme) -> Family:
    return (
        programme.family, programme.rcf_g, programme.speed_rpm, programme.minutes,
        programme.fixed_angle_minutes, programme.temperature, programme.swing_only,
    )  # fmt: skip


def _not_again(one: Clocks) -> Finding:
    code, reason = one.specimen.code, one.spin.reason
    if one.spin.programme is None:
        sentence = f"{code} is not spun. {reason.sentence}"
        return Finding("spin-never", Severity.STOP, sentence, reason.source, code, reason.layer)
    sentence = f"{code} has a gel and was spun: move its clear part to a new tube instead."
    return Finding("gel-respin", Severity.STOP, sentence, "rotor-angle-guide", code)


def _no_machine(one: Waiting, tried: Sequence[OnRotor | Finding]) -> Finding:
    why = " ".join(each.sentence for each in tried if isinstance(each, Finding))
    sentence = f"No centrifuge spins {one.code}. {why or 'None is in order.'}"
    return Finding("no-centrifuge", Severity.ASK, sentence, one.programme.source, one.code)


def kind_of(specimen: BenchSpecimen, catalogue: Catalogue) -> str:
    """Container and fill in words: tubes of one kind balance each other."""
    row = catalogue.containers.get(specimen.container)
    name = row.name if row is not None else specimen.material.replace("_", " ")
    if specimen.portion:
        name = "portion tube"
    volume = specimen.volume_ul
    if volume is None:
        volume = row.nominal_ul if isinstance(row, Container) else 0
    if not volume:
        return name
    step = catalogue.number("balance_class_ul")
    low = volume // step * step
    return f"{name}, {low / 1000:.1f} to {(low + step) / 1000:.1f} mL"


# ------------------------------------------------------------------ in whole minutes


def question_of(bench: Bench, now: datetime) -> Question:
    """
    Put the bench into whole minutes from now.

    Ready times are rounded up and limits down, so that nothing is promised that does not hold.
    """
    minutes = [
        [each.minutes_in_all if isinstance(each, OnRotor) else 0 for each in tried]
        for tried in bench.settings
    ]
    rotors = tuple(
        Rotor(machine.row.places, _free(machine, now), tuple(row[at] for row in minutes))
        for at, machine in enumerate(bench.machines)
    )
    kinds = {kind: at for at, kind in enumerate(dict.fromkeys(w.kind for w in bench.waiting))}
    jobs = []
    for one in bench.waiting:
        family = bench.families.index(one.family)
        assert one.clocks.ready_at is not None
        release = math.ceil((one.clocks.ready_at - now) / MINUTE)
        earliest = min(
            max(release, rotor.free) + rotor.minutes[family]
            for rotor in rotors
            if rotor.minutes[family]
        )
        jobs.append(Job(family, kinds[one.kind], release, _due(one, now, earliest)))
    return Question(tuple(jobs), rotors)


def _free(machine: Machine, now: datetime) -> int:
    if machine.busy_until is None:
        return 0
    return max(0, math.ceil((machine.busy_until - now) / MINUTE))


def _due(one: Waiting, now: datetime, earliest: int) -> int:
    """
    The earliest limit of a test that can still be met; the last one when none can.

    So a test that is lost already does not hide the others of its tube.
    """
    limits = [
        math.floor((clock.at - now) / MINUTE)
        for clock in one.clocks.clocks
        if clock.kind == "separate_by"
    ]
    return min((limit for limit in limits if limit >= earliest), default=max(limits, default=NEVER))
