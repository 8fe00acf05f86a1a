"""
What a specimen is spun with, and what that means on a rotor.

A programme in g becomes the speed that this rotor needs; one given as a speed alone is what it is,
and its force on this rotor is told, with the published one beside it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from cubital.bench.rcf import rcf_of, speed_of
from cubital.catalogue import Catalogue
from cubital.catalogue.model_bench import Centrifuge, SpinProgramme, SpinUse
from cubital.catalogue.model_reception import Examination
from cubital.errors import InputError
from cubital.finding import Finding, Reason, Severity

NEVER = "never"
TOPIC = "spin-programmes"
NO_CHOICES: Mapping[str, str] = {}


@dataclass(frozen=True, slots=True)
class Spin:
    """
    How a specimen is spun.

    Args:
        programme: None when it is not spun.
        gel: it has a barrier, and must not be spun a second time.
        reason: why so.
        findings: what stands in the way.
    """

    programme: SpinProgramme | None
    gel: bool
    reason: Reason
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class OnRotor:
    """
    A programme as it is set on a machine.

    Args:
        speed_rpm: to be set, in the machine's steps.
        rcf_g: what that makes at the bottom of the tube.
        minutes: at speed.
        minutes_in_all: with run-up and brake, whole minutes, rounded up.
    """

    programme: SpinProgramme
    centrifuge: Centrifuge
    speed_rpm: int
    rcf_g: float
    minutes: int
    minutes_in_all: int


@dataclass(frozen=True, slots=True)
class Beside:
    """
    A speed of common practice on a rotor, and the published force beside it.

    Args:
        rcf_g: what the speed makes here.
        published_rpm: the speed that would make the published force here.
        difference_percent: of the force made here, from the published one.
        finding: the sentence; ask where they are far apart.
    """

    practice: SpinProgramme
    published: SpinProgramme
    centrifuge: Centrifuge
    rcf_g: float
    published_rpm: float
    difference_percent: float
    finding: Finding


def programme_of(
    catalogue: Catalogue, code: str, choices: Mapping[str, str] = NO_CHOICES
) -> SpinProgramme:
    """
    Give a programme in the chosen set; where the set has none, that of the default set.

    Raises:
        InputError: no such programme.
    """
    rows = [row for row in catalogue.rows(SpinProgramme) if row.code == code]
    for held in (choices, NO_CHOICES):
        for row in rows:
            if catalogue.holds(row.choice, held):
                return row
    known = ", ".join(sorted({row.code for row in catalogue.rows(SpinProgramme)}))
    raise InputError(f"There is no spin programme {code!r}", mend=f"Choose one of {known}.")


def spin_of(
    catalogue: Catalogue,
    container: str,
    tests: Iterable[str],
    choices: Mapping[str, str] = NO_CHOICES,
    *,
    material: str = "blood",
    portion: bool = False,
) -> Spin:
    """
    Say how a specimen is spun.

    A tube for a test in whole blood (a blood count, a sedimentation rate) is never spun, whatever
    its additive.  Where tests of one tube want different programmes, the narrower one holds.  What
    was poured off has no gel any more, and is spun by the second programme of its kind where there
    is one.

    Args:
        catalogue: of the laboratory.
        container: catalogue code, "" for other materials than blood.
        tests: that it serves.
        choices: topic -> option.
        material: code of materials.csv.
        portion: it was poured off a tube of that container.

    Raises:
        InputError: a container or test that the catalogue does not hold.
    """
    tests = tuple(tests)
    if material != "blood":
        return _spin_of_other(catalogue, tests, choices)
    if container not in catalogue.containers:
        raise InputError(f"There is no container {container!r}", mend="Write its code.")
    unknown = next((test for test in tests if test not in catalogue.tests), None)
    if unknown is not None:
        raise InputError(f"There is no test {unknown!r}", mend="Write the code of a test.")
    additive = catalogue.containers[container].additive
    uses = [_use(catalogue, additive, test, choices) for test in tests]
    use = max(uses, key=_narrow) if uses else _use(catalogue, additive, "", choices)
    whole = [t for t in tests if catalogue.tests[t].matrix in ("whole_blood", "broth")]
    name = catalogue.additives[additive].name
    if whole:
        return _whole(catalogue, tests, whole, use)
    if use is None or use.programme == NEVER:
        source = use.source if use else catalogue.additives[additive].source
        return Spin(None, gel=False, reason=Reason(f"Not spun: {name}.", source))
    code = _second(catalogue, use.programme) if portion else use.programme
    programme = programme_of(catalogue, code, choices)
    reason = catalogue.reason(programme, f"{name[:1].upper()}{name[1:]}: {programme.name}.")
    return Spin(programme, use.gel and not portion, reason, _mixed(catalogue, tests, uses))


def _second(catalogue: Catalogue, code: str) -> str:
    """The programme ``CODE_second``, where the table has one."""
    second = f"{code}_second"
    codes = {row.code for row in catalogue.rows(SpinProgramme)}
    return second if second in codes else code


def _spin_of_other(
    catalogue: Catalogue, tests: tuple[str, ...], choices: Mapping[str, str]
) -> Spin:
    rows = {row.code: row for row in catalogue.rows(Examination)}
    unknown = next((test for test in tests if test not in rows), None)
    if unknown is not None:
        raise InputError(f"There is no examination {unknown!r}", mend="Write its code.")
    wanted = [rows[test] for test in tests if rows[test].spin]
    if not wanted:
        return Spin(None, gel=False, reason=Reason("Not spun.", "bench-memory"))
    programme = programme_of(catalogue, wanted[0].spin, choices)
    sentence = f"{wanted[0].name}: {programme.name}."
    return Spin(programme, gel=False, reason=catalogue.reason(programme, sentence))


def _use(
    catalogue: Catalogue, additive: str, test: str, choices: Mapping[str, str]
) -> SpinUse | None:
    """The narrowest row that holds for a test in a tube."""
    needs = {row.need for row in catalogue.handling(test, choices)} if test else set()
    bench = catalogue.tests[test].bench if test else ""
    rows = [
        row
        for row in catalogue.rows(SpinUse)
        if row.additive == additive
        and (not row.need or row.need in needs)
        and (not row.bench or row.bench == bench)
    ]
    return max(rows, key=_narrow, default=None)


def _narrow(use: SpinUse | None) -> tuple[bool, bool]:
    return (bool(use.need), bool(use.bench)) if use else (False, False)


def _whole(
    catalogue: Catalogue, tests: tuple[str, ...], whole: list[str], use: SpinUse | None
) -> Spin:
    """A tube that must stay whole, and a word when another of its tests would want it spun."""
    row = catalogue.tests[whole[0]]
    reason = catalogue.reason(row, f"{row.name} is done in whole blood: never spun.")
    others = [test for test in tests if test not in whole]
    found: tuple[Finding, ...] = ()
    if others and use is not None and use.programme != NEVER:
        name = catalogue.tests[others[0]].name
        sentence = f"{name} wants this tube spun and {row.name} never: ask for another tube."
        found = (Finding("spin-whole", Severity.ASK, sentence, row.source, others[0], row.layer),)
    return Spin(None, gel=False, reason=reason, findings=found)


def _mixed(
    catalogue: Catalogue, tests: tuple[str, ...], uses: list[SpinUse | None]
) -> tuple[Finding, ...]:
    """A note when tests of one tube want different programmes."""
    wanted = dict.fromkeys(use.programme for use in uses if use is not None)
    rows = [programme_of(catalogue, code) for code in wanted if code != NEVER]
    if len({row.family for row in rows}) < 2:
        return ()
    names = " and ".join(row.name.lower() for row in rows)
    sentence = f"The tests of this tube want different programmes ({names}): the narrower holds."
    return (Finding("spin-mixed", Severity.NOTE, sentence, rows[0].source, tests[0]),)


def on_rotor(
    programme: SpinProgramme, centrifuge: Centrifuge, catalogue: Catalogue
) -> OnRotor | Finding:
    """
    Set a programme on a machine, or say why it cannot run there.

    A force is rounded up to the machine's next step, so that it is reached.
    """
    refusal = _cannot(programme, centrifuge)
    if not refusal:
        speed = _speed(programme, centrifuge)
        if not centrifuge.lowest_rpm <= speed <= centrifuge.highest_rpm:
            refusal = (
                f"it would turn {speed} times a minute, and runs from {centrifuge.lowest_rpm} to"
                f" {centrifuge.highest_rpm}"
            )
    if refusal:
        sentence = f"{centrifuge.name} cannot run {programme.name}: {refusal}."
        return Finding("spin-cannot", Severity.NOTE, sentence, programme.source, centrifuge.code)
    minutes = programme.minutes
    if not centrifuge.swing and programme.fixed_angle_minutes:
        minutes = programme.fixed_angle_minutes
    whole = math.ceil((minutes * 60 + centrifuge.run_up_s + centrifuge.brake_s) / 60)
    force = rcf_of(centrifuge.radius_mm, speed)
    return OnRotor(programme, centrifuge, speed, force, minutes, whole)


def _cannot(programme: SpinProgramme, centrifuge: Centrifuge) -> str:
    if programme.swing_only and not centrifuge.swing:
        return "it wants buckets that swing out"
    if programme.temperature == "cold" and not centrifuge.cooled:
        return "it wants a cooled rotor"
    if programme.temperature == "warm" and not centrifuge.warmed:
        return "it wants a warmed rotor"
    return ""


def _speed(programme: SpinProgramme, centrifuge: Centrifuge) -> int:
    if programme.speed_rpm:
        return programme.speed_rpm
    exact = speed_of(centrifuge.radius_mm, programme.rcf_g)
    return math.ceil(exact / centrifuge.step_rpm) * centrifuge.step_rpm


def beside(catalogue: Catalogue, code: str, centrifuge: Centrifuge) -> Beside | None:
    """
    Show a speed of common practice on a rotor beside the published force.

    None where the programme is not given both ways.
    """
    rows = [row for row in catalogue.rows(SpinProgramme) if row.code == code]
    practice = next((row for row in rows if row.speed_rpm), None)
    published = next((row for row in rows if row.rcf_g), None)
    if practice is None or published is None:
        return None
    force = rcf_of(centrifuge.radius_mm, practice.speed_rpm)
    speed = speed_of(centrifuge.radius_mm, published.rcf_g)
    difference = 100 * (force / published.rcf_g - 1)
    far = abs(difference) > catalogue.decimal("spin_difference_percent")
    times = "" if practice.minutes == published.minutes else f" for {practice.minutes} min"
    theirs = f" for {published.minutes} min" if times else ""
    sentence = (
        f"{practice.name} on {centrifuge.name}: {practice.speed_rpm} turns a minute are"
        f" {force:.0f} g{times}; {_basis(catalogue, published)} {published.rcf_g} g{theirs}, here"
        f" {speed:.0f} turns ({difference:+.0f} %)."
    )
    severity = Severity.ASK if far else Severity.NOTE
    finding = Finding("spin-beside", severity, sentence, published.source, code, published.layer)
    return Beside(practice, published, centrifuge, force, speed, difference, finding)


def _basis(catalogue: Catalogue, row: SpinProgramme) -> str:
    published = catalogue.sources[row.source].basis == "published"
    return "published are" if published else "usual, from memory, are"
