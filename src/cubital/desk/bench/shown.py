"""Lines of the worklist, runs and clocks as a page shows them. Decides nothing about blood."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from cubital.bench import Clock, Clocks, Line, RunPlan
from cubital.catalogue import Catalogue
from cubital.desk import words
from cubital.desk.bench.known import Held, Scene
from cubital.desk.draw.page import Why, why
from cubital.desk.reception.shown import (
    TubeShown,
    joined,
    short_name,
    span,
    test_name,
    tube_shown,
)

LEVELS = {
    "lost": "Lost",
    "now": "Now",
    "soon": "Soon",
    "later": "Later",
    "open": "No limit known",
}
CLOCKS = {
    "clotting": "clots until",
    "spin_by": "begin the spin by",
    "separate_by": "off the cells by",
    "test_by": "test by",
}
MATRICES = {
    "serum": "serum",
    "plasma": "plasma",
    "whole_blood": "whole blood",
    "broth": "broth",
    "": "",
}


@dataclass(frozen=True, slots=True)
class TestChip:
    """A test on a line: its short name, and whether it is lost already."""

    short: str
    name: str
    gone: bool


@dataclass(frozen=True, slots=True)
class LineShown:
    """One specimen on the worklist."""

    held: Held
    line: Line
    word: str
    at: str
    left: str
    tube: TubeShown
    patient: str
    tests: tuple[TestChip, ...]
    stands: str
    run: str
    link: str

    @property
    def code(self) -> str:
        """Its number."""
        return self.line.specimen


def clock_words(moment: datetime, now: datetime) -> str:
    """A time by the clock on the wall, with the day where it is another."""
    here = moment.astimezone(now.tzinfo)
    return f"{here:%H:%M}" if here.date() == now.date() else f"{here:%Y-%m-%d %H:%M}"


def left_words(moment: datetime, now: datetime) -> str:
    """How long there is still, or how long it is over."""
    if moment >= now:
        return f"in {span(moment - now)}"
    return f"{span(now - moment)} ago"


def tube_of(held: Held, catalogue: Catalogue) -> TubeShown:
    """A specimen with its closure colour; a portion with what it was poured from."""
    first = tube_shown(held.root, catalogue)
    if not held.is_portion:
        return first
    what = MATRICES.get(held.matrix) or words.plain(held.specimen.material)
    volume = held.specimen.volume_ul
    much = f", {words.ml(volume)} mL" if volume else ""
    return TubeShown(f"portion of {what}{much}, from {first.name}", first.colour, first.rgb)


def runs_by_specimen(plan: RunPlan | None, now: datetime) -> dict[str, str]:
    """Specimen -> the run that it is planned for, in words."""
    if plan is None:
        return {}
    return {
        code: f"run {run.number} at {clock_words(run.start, now)}"
        for run in plan.runs
        if not run.begun
        for code in run.specimens
    }


def stands(held: Held, coming: Mapping[str, str]) -> str:
    """Why it is not at the bench yet, "" when it is."""
    return coming.get(held.code, "")


def line_shown(
    held: Held,
    line: Line,
    scene: Scene,
    runs: Mapping[str, str],
    coming: Mapping[str, str],
    link: str,
) -> LineShown:
    """One line."""
    catalogue, now = scene.here.catalogue, scene.now
    patient = held.patient
    return LineShown(
        held=held,
        line=line,
        word=LEVELS[line.level],
        at=clock_words(line.lost_at, now) if line.lost_at is not None else "",
        left=left_words(line.lost_at, now) if line.lost_at is not None else "",
        tube=tube_of(held, catalogue),
        patient=patient.shown_name if patient is not None else held.specimen.patient,
        tests=chips(held.tests, line.gone, catalogue),
        stands=stands(held, coming),
        run=runs.get(held.code, ""),
        link=link,
    )


def chips(tests: Iterable[str], gone: Iterable[str], catalogue: Catalogue) -> tuple[TestChip, ...]:
    """Tests as short names."""
    lost = set(gone)
    return tuple(
        TestChip(short_name(test, catalogue), test_name(test, catalogue), test in lost)
        for test in tests
    )


@dataclass(frozen=True, slots=True)
class ClockShown:
    """A clock of a specimen: for which tests, until when, and by which row."""

    what: str
    tests: str
    at: str
    left: str
    over: bool
    why: Why


def clocks_shown(clocks: Clocks, scene: Scene) -> tuple[ClockShown, ...]:
    """The clocks of one specimen by time, tests of one limit on one line."""
    lines: dict[tuple[str, datetime, object], list[Clock]] = {}
    for clock in clocks.clocks:
        lines.setdefault((clock.kind, clock.at, clock.reason), []).append(clock)
    catalogue, now = scene.here.catalogue, scene.now
    return tuple(
        ClockShown(
            what=CLOCKS[kind],
            tests=joined(test_name(each.test, catalogue) for each in several if each.test),
            at=clock_words(at, now),
            left=left_words(at, now),
            over=at < now and kind != "clotting",
            why=why(several[0].reason, catalogue),
        )
        for (kind, at, _), several in lines.items()
    )
