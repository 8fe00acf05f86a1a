"""
Whether a specimen that is in the laboratory already can serve one more test, and until when.

Volumes in µL of what the specimen gives: blood while it is unseparated, serum or plasma once it
is spun.  Times timezone-aware.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from cubital.catalogue.model import AcceptedAdditive, Stability
from cubital.draw.needs import AMBIENT, BROTH, ICE, SPUN, WHOLE, Asked, dead_blood_ul
from cubital.draw.scene import Scene
from cubital.errors import InputError
from cubital.finding import Reason

CONDITIONS = ("room", "fridge", "frozen")
COOLINGS = (AMBIENT, ICE, "warm")
AT_THE_CHAIR = (
    "no_tourniquet", "no_fist", "no_alcohol_swab", "quarantine_air", "upright", "dark",
)  # fmt: skip
"""Demands on the draw itself and on light: nobody can make up for them later."""


@dataclass(frozen=True, slots=True)
class OnHand:
    """
    A specimen in the laboratory.

    Args:
        accession: its number.
        container: code of the catalogue.
        collected_at: when the blood was drawn.
        volume_left_ul: of blood while unseparated, of serum or plasma once spun.
        spun_at: None while unseparated.
        condition: how it is kept now: ``room``, ``fridge`` or ``frozen``.
        cooling: how it travelled: ``ambient``, ``ice`` or ``warm``.
        tests: codes it was drawn for or has served.
        received_at: when it reached the laboratory, None when not known.
        kept_until: when it may be thrown away, None when not known.
        kept_why: the rule of ``kept_until``.
    """

    accession: str
    container: str
    collected_at: datetime
    volume_left_ul: int
    spun_at: datetime | None = None
    condition: str = "room"
    cooling: str = AMBIENT
    tests: tuple[str, ...] = ()
    received_at: datetime | None = None
    kept_until: datetime | None = None
    kept_why: Reason | None = None


@dataclass(frozen=True, slots=True)
class Fit:
    """
    A specimen that can serve a test.

    Args:
        specimen: its place in the list.
        volume_ul, dead_ul: of what the specimen gives.
        state: ``spun`` or ``whole``: what the specimen is used as.
        rank: preference of its additive.
        age_s: since the draw.
        use_by: when the test no longer keeps in it, or it may be thrown away, if that is sooner.
        unproven: demands on the draw that no earlier test of it had.
        reasons: the rows that decided.
    """

    specimen: int
    volume_ul: int
    dead_ul: int
    state: str
    rank: int
    age_s: int
    use_by: datetime
    unproven: tuple[str, ...]
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a specimen cannot serve a test."""

    specimen: int
    reason: Reason


def check_specimen(one: OnHand, scene: Scene, now: datetime) -> None:
    """
    Refuse a specimen that cannot be true.

    Raises:
        InputError: an unknown container, condition, cooling or test, a negative volume, a time
            without a time zone, or times in the wrong order.
    """
    where = f"specimen {one.accession}"
    if one.container not in scene.catalogue.containers:
        raise InputError(f"no container is called {one.container}", where, "Write its code.")
    if one.condition not in CONDITIONS:
        mend = f"Write one of {', '.join(CONDITIONS)}."
        raise InputError(f"it cannot be kept “{one.condition}”", where, mend)
    if one.cooling not in COOLINGS:
        mend = f"Write one of {', '.join(COOLINGS)}."
        raise InputError(f"it cannot have travelled “{one.cooling}”", where, mend)
    if one.volume_left_ul < 0:
        raise InputError("the volume left is below 0", where, "Give µL, 0 or more.")
    unknown = next((code for code in one.tests if code not in scene.catalogue.tests), None)
    if unknown is not None:
        raise InputError(f"no test is called {unknown}", where, "Write the code of a test.")
    times = [one.collected_at, one.received_at, one.spun_at, now]
    known = [moment for moment in times if moment is not None]
    if any(moment.tzinfo is None for moment in known):
        raise InputError("a time has no time zone", where, "Give it with its offset.")
    if max(known) > now:
        raise InputError("a time lies in the future", where, "Mend its times.")
    if one.collected_at > min(known):
        raise InputError("it was used before it was drawn", where, "Mend its times.")


def judge(asked: Asked, index: int, one: OnHand, scene: Scene, now: datetime) -> Fit | Refusal:
    """
    Whether a specimen can serve a test, or the first reason why not.

    Args:
        asked: the test.
        index: the specimen's place in the list.
        one: the specimen, checked.
        scene: whose rules hold; its haematocrit gives the yield of unseparated blood.
        now: when it would be used.
    """
    catalogue = scene.catalogue
    additive = catalogue.containers[one.container].additive
    row = next((r for r in asked.accepted if r.additive == additive), None)
    if row is None:
        wrong = f"{catalogue.additives[additive].name} is not accepted"
        rule = asked.accepted[0] if asked.accepted else asked.test
        return Refusal(index, catalogue.reason(rule, wrong))
    for check in (_state, _sharing, _cold, _in_time):
        reason = check(asked, one, scene, now)
        if reason is not None:
            return Refusal(index, reason)
    keeps = _keeps(asked, one, scene, now)
    if isinstance(keeps, Reason):
        return Refusal(index, keeps)
    volume, dead = _volumes(asked, one, scene)
    if dead + volume > one.volume_left_ul:
        volumes = catalogue.volumes[asked.test.code]
        sentence = f"{one.volume_left_ul} µL left, {volume} µL wanted beside {dead} µL dead volume"
        return Refusal(index, catalogue.reason(volumes, sentence))
    return _fit(asked, index, one, scene, now, row, keeps)


def _fit(
    asked: Asked,
    index: int,
    one: OnHand,
    scene: Scene,
    now: datetime,
    row: AcceptedAdditive,
    keeps: tuple[datetime, Reason],
) -> Fit:
    volume, dead = _volumes(asked, one, scene)
    shown = {h.need for code in one.tests for h in scene.catalogue.handling(code, scene.choices)}
    wanted = {handling.need for handling in asked.handling}
    name = scene.catalogue.additives[row.additive].name
    return Fit(
        specimen=index,
        volume_ul=volume,
        dead_ul=dead,
        state=asked.state,
        rank=row.rank,
        age_s=int((now - one.collected_at).total_seconds()),
        use_by=_use_by(keeps[0], one, now),
        unproven=tuple(need for need in AT_THE_CHAIR if need in wanted and need not in shown),
        reasons=(
            scene.catalogue.reason(row, f"{asked.test.short} accepts {name}."),
            keeps[1],
            *_thrown_away(keeps[0], one, now),
            scene.catalogue.reason(
                scene.catalogue.volumes[asked.test.code],
                f"Takes {volume} µL of the {one.volume_left_ul} µL left, {dead} µL stay in it.",
            ),
        ),
    )


def _volumes(asked: Asked, one: OnHand, scene: Scene) -> tuple[int, int]:
    """What a test takes of a specimen and what its station leaves in it, in the specimen's own."""
    form = scene.catalogue.containers[one.container].form
    station = asked.station.code
    if one.spun_at is not None:
        dead = scene.catalogue.dead_volume(station, form).dead_ul
        return scene.catalogue.volume_ul(asked.test.code), dead
    return asked.volume_ul, dead_blood_ul(station, form, asked.state, scene)


def _use_by(keeps: datetime, one: OnHand, now: datetime) -> datetime:
    """The sooner of the test's time and the store's; a store's time that is over ends nothing."""
    if one.kept_until is None or one.kept_until <= now:
        return keeps
    return min(keeps, one.kept_until)


def _thrown_away(keeps: datetime, one: OnHand, now: datetime) -> tuple[Reason, ...]:
    """Why a test's time ends with the store's, or what to do where the store's is over."""
    if one.kept_until is None or one.kept_until > keeps:
        return ()
    if one.kept_until <= now:
        sentence = "Its time in the store is over: take it out before it is thrown away."
    else:
        rule = f" {one.kept_why.sentence}" if one.kept_why is not None else ""
        sentence = f"It is thrown away before the test's time is over.{rule}"
    row = one.kept_why
    return (Reason(sentence, row.source if row else "memory", row.layer if row else "shipped"),)


# ---------------------------------------------------------------- reasons against


def states_of(one: OnHand, scene: Scene) -> set[str]:
    """What earlier tests use a specimen as: ``spun``, ``whole``, ``broth``."""
    if one.spun_at is not None:
        return {SPUN}
    matrices = {scene.catalogue.tests[code].matrix for code in one.tests}
    names = {"whole_blood": WHOLE, "broth": BROTH}
    return {names.get(matrix, SPUN) for matrix in matrices}


def _state(asked: Asked, one: OnHand, scene: Scene, now: datetime) -> Reason | None:
    catalogue = scene.catalogue
    if asked.state == BROTH or asked.test.containers_needed > 1:
        return catalogue.reason(asked.test, "it takes containers of its own from the vein")
    if asked.state == WHOLE and one.spun_at is not None:
        return catalogue.reason(asked.test, "it is spun, and the test wants whole blood")
    if states_of(one, scene) - {asked.state}:
        other = "whole" if asked.state == SPUN else "spun"
        return catalogue.reason(asked.test, f"tests already in it want it {other}")
    return None


def _sharing(asked: Asked, one: OnHand, scene: Scene, now: datetime) -> Reason | None:
    catalogue = scene.catalogue
    if asked.test.own_tube and one.tests:
        return catalogue.reason(asked.test, "the test wants a container of its own")
    if any(catalogue.tests[code].own_tube for code in one.tests):
        return catalogue.reason(asked.test, "it belongs to a test that shares with none")
    if slots_left(asked, one, scene) < 1:
        most = asked.station.max_tests_per_tube
        return catalogue.reason(asked.station, f"it serves {most} tests of this station already")
    return None


def slots_left(asked: Asked, one: OnHand, scene: Scene) -> int:
    """How many more tests of the station may share a specimen."""
    benches = scene.catalogue.benches
    there = sum(
        benches[scene.catalogue.tests[code].bench].station == asked.station.code
        for code in one.tests
    )
    return asked.station.max_tests_per_tube - there


def _cold(asked: Asked, one: OnHand, scene: Scene, now: datetime) -> Reason | None:
    """Ice, warmth, and blood that must never be chilled before it is separated."""
    rule = asked.handling[0] if asked.handling else asked.test
    if asked.cooling != one.cooling and not (asked.may_ice and one.cooling == ICE):
        words = {AMBIENT: "at room temperature", ICE: "on ice", "warm": "at 37 °C"}
        sentence = f"it travelled {words[one.cooling]}, not {words[asked.cooling]}"
        return scene.catalogue.reason(rule, sentence)
    chilled = one.spun_at is None and one.condition != "room"
    never = next((row for row in asked.handling if row.need == "never_chilled"), None)
    if never is not None and chilled:
        return scene.catalogue.reason(never, "its unseparated blood was chilled")
    return None


def _in_time(asked: Asked, one: OnHand, scene: Scene, now: datetime) -> Reason | None:
    """Limits in minutes: to the laboratory, and until it is spun."""
    ends = {
        "to_lab_within_min": one.received_at or now,
        "spin_within_min": one.spun_at or now,
    }
    verbs = {"to_lab_within_min": "to the laboratory", "spin_within_min": "to the centrifuge"}
    for row in asked.handling:
        if row.need not in ends:
            continue
        if ends[row.need] - one.collected_at > timedelta(minutes=row.value):
            sentence = f"it must come {verbs[row.need]} within {row.value} min of the draw"
            return scene.catalogue.reason(row, sentence)
    return None


# ---------------------------------------------------------------- how long it keeps


def _keeps(
    asked: Asked, one: OnHand, scene: Scene, now: datetime
) -> tuple[datetime, Reason] | Reason:
    """Until when the test keeps in this specimen, or why it no longer does."""
    rows = scene.catalogue.stability(asked.test.code, scene.choices)
    before = "fridge" if one.cooling == ICE else "room"
    if one.spun_at is None:
        condition = one.condition if one.condition != "room" else before
        return _phase(asked, rows, "whole_blood", condition, one.collected_at, now, scene)
    first = _phase(asked, rows, "whole_blood", before, one.collected_at, one.spun_at, scene)
    if isinstance(first, Reason):
        return first
    return _phase(asked, rows, "serum_plasma", one.condition, one.spun_at, now, scene)


def _phase(
    asked: Asked,
    rows: Iterable[Stability],
    matrix: str,
    condition: str,
    start: datetime,
    end: datetime,
    scene: Scene,
) -> tuple[datetime, Reason] | Reason:
    what = "unseparated" if matrix == "whole_blood" else "separated"
    how = {"room": "at room temperature", "fridge": "in the cold", "frozen": "frozen"}[condition]
    row = _row(rows, matrix, condition)
    if row is None and matrix == "whole_blood" and condition == "fridge" and asked.cooling == ICE:
        row = _row(rows, matrix, "room")  # what wants ice keeps on ice no shorter than without
    if row is None:
        return scene.catalogue.reason(asked.test, f"no table says how long it keeps {what} {how}")
    if row.keeps_h <= 0:
        return scene.catalogue.reason(row, f"it must not be kept {what} {how}")
    use_by = start + timedelta(hours=row.keeps_h)
    hours = (end - start).total_seconds() / 3600
    if end > use_by:
        sentence = f"{hours:.1f} h {what} {how}, and it keeps {row.keeps_h:g} h"
        return scene.catalogue.reason(row, sentence)
    sentence = f"Keeps {row.keeps_h:g} h {what} {how}; {hours:.1f} h have passed."
    return use_by, scene.catalogue.reason(row, sentence)


def _row(rows: Iterable[Stability], matrix: str, condition: str) -> Stability | None:
    return next((r for r in rows if r.matrix == matrix and r.condition == condition), None)
