"""Stores and waste streams of a place, as the bench room judges them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime

from django.utils import timezone

from cubital.bench import Standing, ToDiscard, discard_today, standing
from cubital.catalogue.model_bench import StorageKind
from cubital.catalogue.model_logbook import WasteStream
from cubital.desk import words
from cubital.desk.bench.dividing import storage_name
from cubital.desk.bench.known import Held, Scene
from cubital.desk.bench.shown import clock_words, left_words
from cubital.desk.draw.page import Said, Why, said, why
from cubital.desk.reception.shown import test_name
from cubital.desk.record import bench, selectors_bench
from cubital.desk.record.bench import NOTHING_ASKS, Past
from cubital.desk.record.models import Person, Shelf
from cubital.errors import InputError
from cubital.finding import Finding


@dataclass(frozen=True, slots=True)
class ShelfShown:
    """A shelf with its kind of store in words, and how many stand on it."""

    row: Shelf
    kind: str
    count: int


def shelves_shown(scene: Scene, stored: Iterable[Held] = ()) -> list[ShelfShown]:
    """The shelves of the place."""
    counts = Counter(each.facts.shelf for each in stored)
    return [
        ShelfShown(row, storage_name(row.kind, scene.here.catalogue), counts[row.code])
        for row in selectors_bench.shelves(scene.place)
    ]


def shelf_named(code: str, scene: Scene) -> Shelf:
    """
    The shelf of that code.

    Raises:
        InputError: there is none here.
    """
    row = selectors_bench.shelves(scene.place).filter(code__iexact=code.strip()[:64]).first()
    if row is None:
        what = f"There is no shelf {code.strip()[:64]!r} here" if code.strip() else "No shelf"
        raise InputError(what, mend="Choose a shelf, or scan its code.")
    return row


def kind_of(shelf: Shelf, scene: Scene) -> StorageKind:
    """
    The kind of store that a shelf is.

    Raises:
        InputError: the place's tables hold no such kind any more.
    """
    for row in scene.here.catalogue.rows(StorageKind):
        if row.code == shelf.kind:
            return row
    raise InputError(
        f"The tables hold no store {shelf.kind!r}", shelf.name, "A manager mends the shelf."
    )


def wrongly_stored(held: Held, shelf: Shelf, scene: Scene) -> Finding | None:
    """What asks whether it may stand there, for the tests that are still to be done."""
    kind = kind_of(shelf, scene)
    there = replace(held.stored(), storage=kind.code, place=shelf.name, tests=held.tests)
    found = standing(there, scene.here.catalogue, scene.choices).findings
    return found[0] if found else None


def put_away(
    held: Held,
    shelf: Shelf,
    scene: Scene,
    by: Person,
    *,
    until: datetime | None = None,
    past: Past = NOTHING_ASKS,
) -> None:
    """
    Write that it stands on a shelf.

    Raises:
        InputError: the shelf is of no kind.
        EventRefused: the record refuses it.
    """
    bench.specimen_store(
        code=held.code, shelf=shelf, condition=kind_of(shelf, scene).condition,
        place=scene.place, by=by, now=timezone.now(), until=until, past=past,
    )  # fmt: skip


# ---------------------------------------------------------------- until when, and whereto


@dataclass(frozen=True, slots=True)
class Keeping:
    """Where a specimen stands, until when it is kept, and how long its tests keep so."""

    place: str
    kind: str
    until: str
    left: str
    why: Why
    tests: tuple[tuple[str, str], ...]
    findings: tuple[Said, ...]


def keeping(stands: Standing, held: Held, scene: Scene) -> Keeping:
    """How long a specimen stands where it is, as a page shows it."""
    catalogue, now = scene.here.catalogue, scene.now
    wanted = set(held.tests)
    return Keeping(
        place=stands.place,
        kind=storage_name(held.storage, catalogue),
        until=clock_words(stands.keep_until, now),
        left=left_words(stands.keep_until, now),
        why=why(stands.reason, catalogue),
        tests=tuple(
            (test_name(test, catalogue), clock_words(at, now) if at else "not known")
            for test, at in stands.tests_until
        ),
        findings=said([f for f in stands.findings if wanted], catalogue),
    )


def due_today(stored: Iterable[Held], scene: Scene) -> tuple[list[ToDiscard], list[str]]:
    """What is to be discarded by tonight; and sentences of what cannot be said."""
    found: list[ToDiscard] = []
    unsaid: list[str] = []
    for each in stored:
        try:
            found += discard_today(
                [each.stored()], scene.here.catalogue, scheme=scene.place.waste_scheme,
                now=scene.now,
            )  # fmt: skip
        except InputError as refused:
            unsaid.append(str(refused))
    found.sort(key=lambda each: (each.stream.stream, each.place, each.code))
    return found, unsaid


def stream_of(held: Held, scene: Scene) -> WasteStream:
    """
    The waste stream of a specimen, whenever it is thrown away.

    Raises:
        InputError: the place's scheme has none for it.
    """
    over = replace(held.stored(), until=held.bench.collected_at)
    found = discard_today(
        [over], scene.here.catalogue, scheme=scene.place.waste_scheme, now=scene.now
    )
    return found[0].stream


def stream_words(stream: WasteStream) -> str:
    """A stream in words: ``red bag, plastic``."""
    return f"{stream.colour} {stream.container}, {words.plain(stream.stream)}"
