"""What the record knows of the bench of a place, as the bench room takes it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from django.utils import timezone

from cubital.bench import BenchSpecimen, Early, Stored, spin_of
from cubital.catalogue.model_bench import StorageKind
from cubital.custody import Specimen, State
from cubital.desk.bench.facts import Facts, facts_of
from cubital.desk.record import selectors_bench, selectors_way
from cubital.desk.record.models import Patient, Place, Shelf
from cubital.desk.transport.known import Here, here_at, known_of
from cubital.errors import InputError

ANTICOAGULANT = "anticoagulant"
"""The condition of a patient whose serum clots slowly."""
BLOOD, RACK, ROOM = "blood", "rack", "room"


@dataclass(frozen=True, slots=True)
class Held:
    """
    A specimen with everything that the bench wants to know.

    Args:
        specimen: as it stands.
        root: what came from the patient: itself, or what it was poured from.
        facts: of its events.
        tests: still to be done from it.
        served: tests that it serves itself, done or not.
        bench: the bench room's own value.
        timed: somebody wrote down when it was collected; else its clocks count from the reception.
        matrix: serum, plasma, whole_blood, broth, "" for other materials.
        patient: its row, None when nobody registered them.
        shelf: where it stands, None when it is in no store, or in one that is not on the list.
        storage: kind of that store.
    """

    specimen: Specimen
    root: Specimen
    facts: Facts
    tests: tuple[str, ...]
    served: tuple[str, ...]
    bench: BenchSpecimen
    timed: bool
    matrix: str
    patient: Patient | None
    shelf: Shelf | None
    storage: str

    @property
    def code(self) -> str:
        """Its number."""
        return self.specimen.code

    @property
    def is_portion(self) -> bool:
        """Whether it was poured from another."""
        return bool(self.specimen.parent)

    @property
    def is_blood(self) -> bool:
        """Whether it is blood, or comes from blood."""
        return self.root.material == BLOOD

    @property
    def taken_off_ul(self) -> int:
        """What was poured into portions."""
        return sum(each.volume_ul for each in self.facts.portions)

    def stored(self) -> Stored:
        """As the bench room's stores take it."""
        since = self.facts.stored_at or self.specimen.changed_at
        return Stored(
            code=self.code,
            place=self.shelf.name if self.shelf is not None else self.facts.shelf,
            storage=self.storage,
            material=self.root.material,
            matrix=self.matrix,
            tests=tuple(dict.fromkeys((*self.served, *self.facts.done))),
            since=since,
            fresh_from=self.bench.spun_at or self.bench.collected_at,
            last_used_at=max(since, self.facts.used_at or since),
            until=self.facts.until,
        )


@dataclass(frozen=True, slots=True)
class Scene:
    """The place whose bench it is, and now by its clock."""

    here: Here
    now: datetime

    @property
    def place(self) -> Place:
        """The row of the place."""
        return self.here.row

    @property
    def choices(self) -> Mapping[str, str]:
        """What it chose where sources disagree."""
        return self.here.place.choices


def scene_at(place: Place) -> Scene:
    """
    Take a place now.

    Raises:
        CatalogueError: its own tables cannot be used.
    """
    here = here_at(place)
    return Scene(here, timezone.now().astimezone(here.zone))


def hold(
    specimens: Iterable[Specimen], scene: Scene, coming: Mapping[str, datetime] | None = None
) -> dict[str, Held]:
    """
    Load what the bench wants to know of specimens, in a fixed number of queries.

    Args:
        specimens: as they stand.
        scene: the place, now.
        coming: number -> when one that is on its way will be here.
    """
    several = list(specimens)
    loader = _Loader(several, scene, coming or {})
    return {one.code: loader.held(one) for one in several}


class _Loader:
    """Everything that several specimens need, read at once."""

    def __init__(
        self, specimens: list[Specimen], scene: Scene, coming: Mapping[str, datetime]
    ) -> None:
        self.scene = scene
        self.coming = coming
        self.all = selectors_bench.with_parents(specimens)
        events = selectors_bench.events_by_subject(f"specimen:{code}" for code in self.all)
        self.facts = {code: facts_of(code, events[f"specimen:{code}"]) for code in self.all}
        self.gone = selectors_bench.portions_gone(
            code for code, facts in self.facts.items() if facts.portions
        )
        early = {facts.early.by for facts in self.facts.values() if facts.early is not None}
        self.names = selectors_way.shown_names(early) if early else {}
        self.spoils = selectors_bench.spoiling(self.all)
        numbers = {one.patient for one in self.all.values()}
        self.patients = selectors_bench.patients_named(numbers)
        self.slow = selectors_bench.having(numbers, ANTICOAGULANT)
        self.shelves = {row.code: row for row in selectors_bench.shelves(scene.place)}
        self.kinds = {row.code: row for row in scene.here.catalogue.rows(StorageKind)}

    def root(self, one: Specimen) -> Specimen:
        """What came from the patient."""
        seen = set()
        while one.parent and one.parent in self.all and one.code not in seen:
            seen.add(one.code)
            one = self.all[one.parent]
        return one

    def held(self, one: Specimen) -> Held:
        """One of them."""
        facts, root = self.facts[one.code], self.root(one)
        poured = {
            test for each in facts.portions if each.code not in self.gone for test in each.tests
        }
        whole = dict.fromkeys((*self.asked(one, facts), *facts.added))
        served = tuple(test for test in whole if test not in poured)
        shelf = self.shelves.get(facts.shelf) if one.state is State.STORED else None
        storage = self.storage(facts, shelf)
        bench = self.bench(one, root, served, storage)
        return Held(
            specimen=one,
            root=root,
            facts=facts,
            tests=tuple(test for test in served if test not in facts.done),
            served=served,
            bench=bench,
            timed=root.collected_at is not None,
            matrix=self.matrix(one, root, bench),
            patient=self.patients.get(one.patient),
            shelf=shelf,
            storage=storage,
        )

    def asked(self, one: Specimen, facts: Facts) -> tuple[str, ...]:
        """The tests it was accepted for, else those it was drawn for."""
        if facts.accepted is not None:
            return facts.accepted
        return facts.named or tuple(test.code for test in known_of(one).tests)

    def storage(self, facts: Facts, shelf: Shelf | None) -> str:
        """The kind of the store where it stands."""
        if shelf is not None and shelf.kind in self.kinds:
            return shelf.kind
        fits = [row.code for row in self.kinds.values() if row.condition == facts.condition]
        return fits[0] if fits else RACK

    def bench(
        self, one: Specimen, root: Specimen, served: tuple[str, ...], storage: str
    ) -> BenchSpecimen:
        """The bench room's own value."""
        facts, above = self.facts[one.code], self.facts[root.code]
        blood = root.material == BLOOD
        arrived = one.received_at or facts.made_at or facts.accepted_at or one.changed_at
        collected = root.collected_at or min(root.received_at or arrived, arrived)
        here_from = max(self.coming.get(one.code, arrived), collected)
        spins = one.spins if one is root else one.spins + root.spins
        spun_at = facts.spun_at or above.spun_at
        kind = self.kinds.get(storage)
        stored = one.state is State.STORED and kind is not None
        container = root.container if blood else ""
        return BenchSpecimen(
            code=one.code,
            container=container,
            material=root.material,
            tests=tuple(test for test in served if test not in facts.done),
            collected_at=collected,
            here_from=here_from,
            volume_ul=one.volume_ul,
            spins=spins,
            spun_at=max(spun_at, collected) if spun_at is not None else None,
            separated=bool(one.parent) or (spins > 0 and self.has_gel(container, served)),
            condition=kind.condition if kind is not None and stored else ROOM,
            anticoagulated=one.patient in self.slow,
            spoils=self.spoils.get(root.code, {}),
            portion=bool(one.parent),
            early=self.early(facts.early or above.early),
        )

    def early(self, said: Early | None) -> Early | None:
        """Who let it be spun before it had clotted, by the name and the clock of people here."""
        if said is None:
            return None
        at = said.at.astimezone(self.scene.here.zone)
        return replace(said, by=self.names.get(said.by, said.by), at=at)

    def has_gel(self, container: str, served: tuple[str, ...]) -> bool:
        """Whether a barrier keeps what was spun off the cells."""
        try:
            return spin_of(self.scene.here.catalogue, container, served, self.scene.choices).gel
        except InputError:
            return False

    def matrix(self, one: Specimen, root: Specimen, bench: BenchSpecimen) -> str:
        """What it gives as it stands."""
        row = self.scene.here.catalogue.containers.get(root.container)
        if root.material != BLOOD or row is None:
            return ""
        yields = self.scene.here.catalogue.additives[row.additive].yields
        if yields == "broth" or bench.spins or one.parent:
            return yields
        return "whole_blood"
