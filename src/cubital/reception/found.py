"""What one rule found: its code, its sentence, and the tests that it concerns."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from cubital.catalogue import Catalogue
from cubital.catalogue.model import Additive, Container, Station
from cubital.catalogue.model_reception import Examination, Material, ReceptionRule
from cubital.draw.scene import Scene
from cubital.errors import InputError
from cubital.reception.values import Arrival, Expected


@dataclass(frozen=True, slots=True)
class Found:
    """
    A finding before its severity is known.

    Args:
        code: of ``reception_rules.csv``.
        sentence: for the receiver.
        tests: codes concerned.
        source: of the number that decided, "" for the rule's own.
    """

    code: str
    sentence: str
    tests: tuple[str, ...]
    source: str = ""


@dataclass(frozen=True)
class Bench:
    """Everything a rule may look at."""

    arrival: Arrival
    expected: Expected
    scene: Scene

    @property
    def catalogue(self) -> Catalogue:
        """Whose rules hold."""
        return self.scene.catalogue

    @property
    def tests(self) -> tuple[str, ...]:
        """All tests asked from the specimen."""
        return tuple(test.code for test in self.expected.tests)

    @cached_property
    def container(self) -> Container | None:
        """The container as it arrived; None for other specimens than blood."""
        code = self.arrival.container or self.expected.container
        if not code:
            return None
        if code not in self.catalogue.containers:
            raise InputError(
                f"There is no container {code!r}",
                self.expected.accession,
                "Choose one of the list.",
            )
        return self.catalogue.containers[code]

    @cached_property
    def additive(self) -> Additive | None:
        """What is in the container as it arrived."""
        return self.catalogue.additives[self.container.additive] if self.container else None

    @cached_property
    def blood_ul(self) -> int | None:
        """How much blood is in it; None when it looks right or is no blood."""
        if self.container is None or self.arrival.fill_percent is None:
            return None
        if self.arrival.volume_ul is not None:  # to the µL: a whole percent may lose a test
            return self.arrival.volume_ul
        return self.container.nominal_ul * self.arrival.fill_percent // 100

    @cached_property
    def examinations(self) -> dict[str, Examination]:
        """Examinations of other specimens by code."""
        return {row.code: row for row in self.catalogue.rows(Examination)}

    def station(self, test: str) -> Station:
        """Where a blood test's tube stands."""
        bench = self.catalogue.benches[self.catalogue.tests[test].bench]
        return self.catalogue.stations[bench.station]

    def is_blood_test(self, test: str) -> bool:
        """Whether a test of this specimen is one of blood."""
        return test in self.catalogue.tests

    def name(self, test: str) -> str:
        """A test in words."""
        if test in self.catalogue.tests:
            return self.catalogue.tests[test].name
        return self.examinations[test].name if test in self.examinations else test


def rule_rows(catalogue: Catalogue) -> dict[str, ReceptionRule]:
    """The rules by code."""
    return {row.code: row for row in catalogue.rows(ReceptionRule)}


def materials(catalogue: Catalogue) -> dict[str, Material]:
    """The materials by code."""
    return {row.code: row for row in catalogue.rows(Material)}
