"""
One worklist of the bench, what is lost first on top, and the picture of the next two hours.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from cubital.bench.clocks import Clocks, name_of
from cubital.bench.values import Clock
from cubital.catalogue import Catalogue
from cubital.finding import Reason

LEVELS = ("lost", "now", "soon", "later", "open")
"""How it stands: lost already, within minutes, within the hour, later, no limit known."""


@dataclass(frozen=True, slots=True)
class Line:
    """
    One specimen on the worklist.

    Args:
        specimen: its number.
        level: one of :data:`LEVELS`.
        lost_at: when the first test that can still be saved is lost; None when no limit is known
            or nothing is left to save.
        tests: lost at that moment.
        gone: tests that are lost already.
        ready_at: when it may be spun, None when it waits for no spin.
        clotting: it must stand longer.
        sentence: what to do and by when.
        reason: of the limit.
    """

    specimen: str
    level: str
    lost_at: datetime | None
    tests: tuple[str, ...]
    gone: tuple[str, ...]
    ready_at: datetime | None
    clotting: bool
    sentence: str
    reason: Reason | None


@dataclass(frozen=True, slots=True)
class Segment:
    """
    A stretch of a bar, in minutes from now.

    Its kind is ``coming``, ``clotting``, ``ready`` (to spin), ``safe`` or ``lost``.
    """

    kind: str
    from_min: float
    to_min: float


@dataclass(frozen=True, slots=True)
class Bar:
    """One specimen in the picture."""

    specimen: str
    level: str
    segments: tuple[Segment, ...]


def worklist(found: Iterable[Clocks], catalogue: Catalogue, *, now: datetime) -> tuple[Line, ...]:
    """
    Put specimens in the order in which something is lost.

    Those with a limit still to come stand first, by it; then those that lost all, then those of
    which no limit is known.
    """
    lines = [_line(one, catalogue, now) for one in found]
    far = datetime.max.replace(tzinfo=now.tzinfo)

    def order(line: Line) -> tuple[bool, bool, datetime, str]:
        return line.lost_at is None, line.level == "open", line.lost_at or far, line.specimen

    return tuple(sorted(lines, key=order))


def _line(one: Clocks, catalogue: Catalogue, now: datetime) -> Line:
    losses = _first_of_each_test(one.losses)
    gone = tuple(clock.test for clock in losses if clock.at < now)
    ahead = [clock for clock in losses if clock.at >= now]
    first = ahead[0] if ahead else None
    tests = tuple(clock.test for clock in ahead if first and clock.at == first.at)
    level = _level(first, gone, catalogue, now)
    clots = next((clock.at for clock in one.clocks if clock.kind == "clotting"), None)
    clotting = clots is not None and clots > now
    return Line(
        specimen=one.specimen.code,
        level=level,
        lost_at=first.at if first else None,
        tests=tests,
        gone=gone,
        ready_at=one.ready_at,
        clotting=clotting,
        sentence=_sentence(first, tests, gone, clots if clotting else None, catalogue, now),
        reason=first.reason if first else (losses[0].reason if losses else None),
    )


def _first_of_each_test(losses: Sequence[Clock]) -> list[Clock]:
    """For each test the clock that runs out first, by time."""
    first: dict[str, Clock] = {}
    for clock in losses:
        first.setdefault(clock.test, clock)
    return list(first.values())


def _level(first: Clock | None, gone: tuple[str, ...], catalogue: Catalogue, now: datetime) -> str:
    if first is None:
        return "lost" if gone else "open"
    left = first.at - now
    if left <= timedelta(minutes=catalogue.number("bench_now_min")):
        return "now"
    return "soon" if left <= timedelta(minutes=catalogue.number("bench_soon_min")) else "later"


DO = {"spin_by": "Spin", "separate_by": "Take off the cells", "test_by": "Test"}


def _sentence(
    first: Clock | None,
    tests: tuple[str, ...],
    gone: tuple[str, ...],
    clots: datetime | None,
    catalogue: Catalogue,
    now: datetime,
) -> str:
    parts = [f"Clots until {_clock(clots, now)}." if clots else ""]
    if first is not None:
        left = int((first.at - now) / timedelta(minutes=1))
        what = _names(tests, catalogue)
        is_lost = "is" if len(tests) == 1 else "are"
        parts.append(
            f"{DO[first.kind]} by {_clock(first.at, now)} ({_length(left)} left), or {what}"
            f" {is_lost} lost."
        )
    elif not gone:
        parts.append("How long it keeps is not known.")
    if gone:
        is_lost = "is" if len(gone) == 1 else "are"
        parts.append(f"Too late: {_names(gone, catalogue)} {is_lost} lost.")
    return " ".join(part for part in parts if part)


def _length(minutes: int) -> str:
    return f"{minutes} min" if minutes < 120 else f"{minutes // 60} h {minutes % 60:02d} min"


def _names(tests: tuple[str, ...], catalogue: Catalogue) -> str:
    names = [name_of(catalogue, test) for test in tests]
    if len(names) > 3:
        return f"{', '.join(names[:2])} and {len(names) - 2} more"
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def _clock(moment: datetime, now: datetime) -> str:
    here = moment.astimezone(now.tzinfo)
    days = (here.date() - now.date()).days
    return f"{here:%H:%M}" if days == 0 else f"{here:%H:%M} on {here:%Y-%m-%d}"


def picture(
    lines: Iterable[Line], *, now: datetime, ahead: timedelta = timedelta(hours=2)
) -> tuple[Bar, ...]:
    """
    Give the bars of a plot from now on: clotting, ready to spin, safe, lost.

    Args:
        lines: of the worklist, in its order.
        now: the left edge.
        ahead: how far the picture looks.
    """
    end = ahead / timedelta(minutes=1)
    return tuple(Bar(line.specimen, line.level, tuple(_segments(line, now, end))) for line in lines)


def _segments(line: Line, now: datetime, end: float) -> list[Segment]:
    def at(moment: datetime) -> float:
        return min(max((moment - now) / timedelta(minutes=1), 0.0), end)

    lost = end if line.level == "open" else (at(line.lost_at) if line.lost_at else 0.0)
    ready = min(at(line.ready_at), lost) if line.ready_at else 0.0
    body = "ready" if line.ready_at else "safe"
    found = [
        Segment("clotting" if line.clotting else "coming", 0.0, ready),
        Segment(body, ready, lost),
        Segment("lost", lost, end),
    ]
    return [one for one in found if one.to_min > one.from_min]
