"""Labels of portions and of shelves, out of the labels room."""

from __future__ import annotations

from collections.abc import Sequence

from cubital.catalogue.model_bench import StorageKind
from cubital.desk import words
from cubital.desk.bench.asked import One
from cubital.desk.bench.dividing import storage_for, storage_name
from cubital.desk.bench.known import Held, Scene
from cubital.desk.bench.shown import MATRICES
from cubital.desk.reception.shown import short_name
from cubital.desk.record.models import Shelf
from cubital.errors import LabelError
from cubital.labels.from_plan import identifiers
from cubital.labels.sheet import print_labels
from cubital.labels.shelf import ShelfLabel, print_shelf_labels
from cubital.labels.values import Label


def portion_labels(one: One, portions: Sequence[Held], who: str) -> bytes:
    """
    Print the labels of portions, in their order.

    Args:
        one: what they were poured from.
        portions: at least one.
        who: poured them.

    Raises:
        LabelError: there is none, or something cannot be printed.
    """
    if not portions:
        raise LabelError("It has no portion", one.held.code, "Divide it first.")
    catalogue, row = one.scene.here.catalogue, one.scene.place
    labels = [label_of(one, each, who) for each in portions]
    return print_labels(labels, catalogue.label_sizes[row.label_size])


def label_of(one: One, portion: Held, who: str) -> Label:
    """The label of one portion."""
    scene, patient = one.scene, one.requisition.patient
    collected = one.held.root.collected_at
    volume = portion.specimen.volume_ul or 0
    store = storage_name(storage_for(portion.served, one), scene.here.catalogue)
    what = (MATRICES.get(portion.matrix) or portion.specimen.material, f"{words.ml(volume)} mL",
            store)  # fmt: skip
    return Label(
        accession=portion.code,
        name=patient.whole_name,
        identifiers=identifiers(patient),
        collected=f"drawn {collected.astimezone(scene.here.zone):%Y-%m-%d %H:%M}"
        if collected is not None
        else "",
        collector=who,
        container=" · ".join(filter(None, what)),
        tests=tuple(short_name(test, scene.here.catalogue) for test in portion.served),
    )


def shelf_labels(shelves: Sequence[Shelf], scene: Scene) -> bytes:
    """
    Print the labels of shelves, in their order.

    Raises:
        LabelError: there is none, or something cannot be printed.
    """
    if not shelves:
        raise LabelError("No shelf is on the list", mend="A manager puts them on it.")
    catalogue, place = scene.here.catalogue, scene.place
    kinds = {
        row.code: f"{row.name}, {row.low_c:g} to {row.high_c:g} °C"
        for row in catalogue.rows(StorageKind)
    }
    labels = [
        ShelfLabel(row.code, row.name, kinds.get(row.kind, words.plain(row.kind)), place.name)
        for row in shelves
    ]
    return print_shelf_labels(labels, catalogue.label_sizes[place.label_size])
