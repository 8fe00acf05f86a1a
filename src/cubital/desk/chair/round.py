"""
A round: today's waiting requisitions of a place, as a chair keeps them for when the network is cut.

JSON shape ``cubital.round/1``: who is at the chair, who may take over, the cards, and each draw
with its sheet.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.utils import timezone

from cubital.catalogue import Catalogue
from cubital.chair.cards import cards_to, source_words
from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.chair.given import Given, Ready, given, ready, shown
from cubital.desk.draw.planning import Scene, planned, scene_at, twice_within
from cubital.desk.people.badge import me
from cubital.desk.record import selectors, selectors_chair, sheets
from cubital.desk.record.answers import answers_of
from cubital.desk.record.models import Person, Place, Requisition
from cubital.desk.record.overrides import overrides_of
from cubital.draw import Lot, plan_to
from cubital.errors import InputError

SCHEMA = "cubital.round/1"

Json = dict[str, Any]


def round_of(place: Place, person: Person) -> Json:
    """
    Load a round: number its containers, keep its sheets, and give it all as JSON.

    Raises:
        CatalogueError: the place's own tables cannot be used.
    """
    scene = scene_at(place)
    day = timezone.localdate()
    rows = selectors_chair.waiting(place=place, day=day)
    prepared, refused = _ready(rows, scene, day)
    made = _given(prepared, scene, place, day)
    shapes = sheets.sheets_keep(
        given=[(g.ready.row, g.sheet, plan_to(g.ready.plan, scene.catalogue)) for g in made]
    )
    for shape in shapes:
        del shape["others"]  # the same for every draw of the round, but for its own
    by_number = {g.sheet.requisition: (g, shape) for g, shape in zip(made, shapes, strict=True)}
    return {
        "schema": SCHEMA,
        "at": timezone.now().isoformat(),
        "day": day.isoformat(),
        "place": {"code": place.code, "name": place.name, "labels": place.label_when},
        "me": me(person),
        "people": selectors_chair.collectors_with_badge(),
        "limits": limits(scene.catalogue),
        "cards": cards_to(scene.catalogue, dict(place.phone_numbers)),
        "sources": _sources(shapes, scene.catalogue),
        "earlier": selectors_chair.attempts_of_day(place=place, day=day),
        "begun": selectors_chair.draws_begun(place=place, requisitions=rows),
        "others": [list(each) for each in selectors_chair.codes_of(rows)],
        "draws": [
            _draw(row, by_number.get(row.number), refused.get(row.number, ""), scene)
            for row in rows
        ],
    }


def limits(catalogue: Catalogue) -> Json:
    """Times that the page itself keeps, in seconds; the screen's lock is the whole desk's."""
    return {
        "idle_s": catalogue_at("").number("lock_idle_s"),
        "skew_s": catalogue.number("clock_skew_warn_s"),
        "ahead_s": catalogue.number("event_ahead_s"),
        "pause_s": catalogue.number("tourniquet_pause_s"),
    }


def _ready(
    rows: Sequence[Requisition], scene: Scene, day: date
) -> tuple[list[Ready], dict[str, str]]:
    """Every requisition planned and numbered, or the sentence why it cannot be drawn."""
    near = selectors.others_near(rows, twice_within(scene.catalogue))
    overrides, said = overrides_of(rows), answers_of(rows)
    made: list[Ready] = []
    refused: dict[str, str] = {}
    for row in rows:
        try:
            others, answered = near.get(row.patient_id, []), overrides.get(row.number, {})
            plan = planned(row, scene, others, answered, said.get(row.number))
            made.append(ready(row, plan, scene, day))
        except InputError as bad:
            refused[row.number] = str(bad)
    return made, refused


def _given(prepared: Sequence[Ready], scene: Scene, place: Place, day: date) -> list[Given]:
    """The sheet of each."""
    lots: list[Lot] = [lot.to_domain() for lot in selectors.lots(place)]
    patients = [row.patient.to_domain() for row in selectors_chair.of_day(place=place, day=day)]
    return [
        given(each, scene, lots=lots, others=(), patients=patients, day=day) for each in prepared
    ]


def _draw(row: Requisition, made: tuple[Given, Json] | None, refused: str, scene: Scene) -> Json:
    head = {
        "requisition": row.number,
        "patient": row.patient.number,
        "name": row.patient.shown_name,
        "at": timezone.localtime(row.collect_at).strftime("%H:%M"),
        "urgent": row.urgent,
        "ward": row.ward,
        "refused": refused,
        "sheet": None,
        "show": None,
    }
    if made is None:
        return head
    each, shape = made
    return {**head, "sheet": shape, "show": shown(each, scene)}


def _sources(shapes: Sequence[Json], catalogue: Catalogue) -> dict[str, str]:
    """Words for each source that a sentence of these sheets names."""
    keys: set[str] = set()

    def walk(value: Any) -> None:
        if isinstance(value, dict):
            if isinstance(value.get("source"), str) and value["source"]:
                keys.add(value["source"])
            for inner in value.values():
                walk(inner)

    for shape in shapes:
        walk(shape["said"])
    return {key: source_words(catalogue, key) for key in sorted(keys)}
