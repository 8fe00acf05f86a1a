"""The tree of a specimen and of a patient, as a page shows it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from cubital.bench import Kin, of_patient, tree_of, way_up
from cubital.custody import Specimen
from cubital.desk import words
from cubital.desk.bench.known import Held, Scene, hold
from cubital.desk.bench.shown import tube_of
from cubital.desk.reception.shown import TubeShown, short_name
from cubital.desk.record import selectors_bench
from cubital.errors import InputError


@dataclass(frozen=True, slots=True)
class KinShown:
    """
    One specimen in its tree.

    Args:
        depth: 0 for what came from the patient.
        place: where it is, in words.
        here: it is the one that the page is about.
    """

    code: str
    depth: int
    tube: TubeShown
    state: str
    place: str
    tests: tuple[str, ...]
    here: bool


def place_words(specimen: Specimen, shelf: str = "") -> str:
    """Where it is, in words: ``in the rotor of big``, ``on shelf A``, ``at the bench``."""
    what, _, code = specimen.place.partition(":")
    said = {
        "box": f"in box {code}",
        "centrifuge": f"in centrifuge {code}",
        "storage": f"on {shelf or code}",
        "chair": "at the chair",
        "reception": "at the reception",
        "bench": "at the bench",
        "waste": "thrown away",
    }
    return said.get(what, words.plain(specimen.place))


def kin_shown(line: Kin, held: Mapping[str, Held], scene: Scene, here: str) -> KinShown:
    """One line of a tree."""
    each, catalogue = held[line.code], scene.here.catalogue
    return KinShown(
        code=line.code,
        depth=line.depth,
        tube=tube_of(each, catalogue),
        state=str(each.specimen.state).replace("_", " "),
        place=place_words(each.specimen, each.shelf.name if each.shelf else ""),
        tests=tuple(short_name(test, catalogue) for test in each.served),
        here=line.code == here,
    )


def tree_shown(held: Held, scene: Scene) -> tuple[tuple[KinShown, ...], tuple[str, ...]]:
    """The whole tree in which a specimen stands, and the way from it up to what was drawn."""
    family = selectors_bench.specimens_of_patient(held.specimen.patient)
    family.setdefault(held.code, held.specimen)
    try:
        tree, way = tree_of(family, held.code), way_up(family, held.code)
    except InputError:
        return (), ()
    lines = tree.lines()
    known = hold([family[line.code] for line in lines], scene)
    return tuple(kin_shown(line, known, scene, held.code) for line in lines), way[1:-1]


def drawn_at(specimen: Specimen) -> datetime:
    """When it was collected, as far as somebody wrote it down."""
    return specimen.collected_at or specimen.received_at or specimen.changed_at


def patient_trees(number: str, scene: Scene, *, most: int) -> tuple[tuple[KinShown, ...], ...]:
    """The trees of a patient, the last drawn first."""
    family = selectors_bench.specimens_of_patient(number)
    try:
        trees = list(of_patient(family, number))
    except InputError:
        return ()
    trees.sort(key=lambda tree: drawn_at(family[tree.code]), reverse=True)
    trees = trees[:most]
    known = hold([family[line.code] for tree in trees for line in tree.lines()], scene)
    return tuple(
        tuple(kin_shown(line, known, scene, "") for line in tree.lines()) for tree in trees
    )
