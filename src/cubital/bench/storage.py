"""
Where specimens stand, until when, and what is to be discarded today into which waste stream.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from cubital.bench.programmes import NO_CHOICES
from cubital.catalogue import Catalogue
from cubital.catalogue.model_bench import Discard, Retention, StorageKind
from cubital.catalogue.model_logbook import WasteStream
from cubital.errors import InputError
from cubital.finding import Finding, Reason, Severity


@dataclass(frozen=True, slots=True, kw_only=True)
class Stored:
    """
    A specimen or portion in a store.

    Args:
        code: its number.
        place: where it stands, as written on the shelf.
        storage: code of storage_kinds.csv.
        material: code of materials.csv.
        matrix: serum, plasma, whole_blood, broth, or "" for other materials.
        tests: that it was accepted for.
        since: when it was put there.
        fresh_from: from when its keeping counts: the draw, or the spin once separated.
        last_used_at: when the last test on it was done, else when it was put there.
        until: said by a person when it was put away; None for the laboratory's rule.
        hold: somebody wants it kept; it is never on the list.
    """

    code: str
    place: str
    storage: str
    material: str
    matrix: str
    tests: tuple[str, ...]
    since: datetime
    fresh_from: datetime
    last_used_at: datetime
    until: datetime | None = None
    hold: bool = False


@dataclass(frozen=True, slots=True)
class Standing:
    """
    Where a specimen stands and until when.

    Args:
        place: where.
        keep_until: when it may be discarded.
        tests_until: (test, when it no longer keeps so); None where no figure is known.
        reason: of ``keep_until``.
        findings: a store that is not what its tests want.
    """

    code: str
    place: str
    keep_until: datetime
    tests_until: tuple[tuple[str, datetime | None], ...]
    reason: Reason
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class ToDiscard:
    """A specimen that is due, and the stream it goes into."""

    code: str
    place: str
    due_since: datetime
    stream: WasteStream
    sentence: str
    reason: Reason


def standing(
    one: Stored, catalogue: Catalogue, choices: Mapping[str, str] = NO_CHOICES
) -> Standing:
    """
    Say where a specimen stands and until when.

    Raises:
        InputError: a store or material that the catalogue does not hold.
    """
    kind = _kind(one, catalogue)
    row = _retention(one, catalogue)
    if one.until is not None:
        until = one.until
        reason = Reason("As was said when it was put away.", "bench-common-practice")
    else:
        until = one.last_used_at + timedelta(days=row.days)
        reason = catalogue.reason(row, f"Kept {row.days} days after its last test.")
    keeps = {test: _keeps(one, test, kind.condition, catalogue, choices) for test in one.tests}
    found = tuple(
        Finding(
            "stored-wrongly",
            Severity.ASK,
            f"{catalogue.tests[test].name} must not be kept in the {kind.name}: move {one.code}.",
            reason_.source,
            one.code,
            reason_.layer,
        )
        for test, (hours, reason_) in keeps.items()
        if hours is not None and hours <= 0
    )
    tests = tuple(
        (test, None if hours is None else one.fresh_from + timedelta(hours=hours))
        for test, (hours, _) in keeps.items()
    )
    return Standing(one.code, one.place, until, tests, reason, found)


def discard_today(
    stored: Iterable[Stored],
    catalogue: Catalogue,
    *,
    scheme: str,
    now: datetime,
) -> tuple[ToDiscard, ...]:
    """
    List what may be discarded by the end of today, by waste stream and then by place.

    Args:
        stored: everything in the stores.
        catalogue: of the laboratory.
        scheme: of waste_streams.csv.
        now: with the laboratory's time zone; "today" is its day.

    Raises:
        InputError: a scheme that has no stream for a specimen, or as :func:`standing`.
    """
    tonight = now.replace(hour=0, minute=0, second=0, microsecond=0) + timedelta(days=1)
    found = []
    for one in stored:
        if one.hold:
            continue
        stands = standing(one, catalogue)
        if stands.keep_until < tonight:
            stream, reason = _stream(one, catalogue, scheme)
            first = f"{stream.first}, then " if stream.first else ""
            sentence = (
                f"{one.code} from {one.place}: {first}{stream.colour} {stream.container}"
                f" ({stream.stream.replace('_', ' ')})."
            )
            found.append(
                ToDiscard(one.code, one.place, stands.keep_until, stream, sentence, reason)
            )
    return tuple(sorted(found, key=lambda each: (each.stream.stream, each.place, each.code)))


def _kind(one: Stored, catalogue: Catalogue) -> StorageKind:
    for row in catalogue.rows(StorageKind):
        if row.code == one.storage:
            return row
    known = ", ".join(row.code for row in catalogue.rows(StorageKind))
    raise InputError(f"There is no store {one.storage!r}", one.code, f"Choose one of {known}.")


def _retention(one: Stored, catalogue: Catalogue) -> Retention:
    rows = {(row.material, row.matrix): row for row in catalogue.rows(Retention)}
    row = rows.get((one.material, one.matrix)) or rows.get((one.material, ""))
    if row is None:
        raise InputError(
            f"How long {one.matrix or one.material} is kept is not known",
            one.code,
            "Add a row to retentions.csv.",
        )
    return row


def _keeps(
    one: Stored,
    test: str,
    condition: str,
    catalogue: Catalogue,
    choices: Mapping[str, str],
) -> tuple[float | None, Reason]:
    separated = one.matrix in ("serum", "plasma")
    wanted = "serum_plasma" if separated else "whole_blood"
    if test in catalogue.tests:
        for row in catalogue.stability(test, choices):
            if row.matrix == wanted and row.condition == condition:
                return row.keeps_h, catalogue.reason(row, f"Keeps {row.keeps_h:g} h.")
    return None, Reason("No figure is known.", "bench-memory")


def _stream(one: Stored, catalogue: Catalogue, scheme: str) -> tuple[WasteStream, Reason]:
    rows = {
        (row.material, row.matrix): row for row in catalogue.rows(Discard) if row.scheme == scheme
    }
    row = rows.get((one.material, one.matrix)) or rows.get((one.material, ""))
    streams = {
        stream.stream: stream for stream in catalogue.rows(WasteStream) if stream.scheme == scheme
    }
    if row is None or row.stream not in streams:
        raise InputError(
            f"The waste scheme {scheme!r} has no stream for {one.material}",
            one.code,
            "Add a row to discards.csv.",
        )
    stream = streams[row.stream]
    return stream, catalogue.reason(row, f"{one.material}: {stream.takes}.")
