"""A specimen, a verdict and times as a page shows them. Decides nothing about blood."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from cubital.catalogue import Catalogue
from cubital.catalogue.model_reception import Examination, Material
from cubital.custody import Specimen
from cubital.desk import words
from cubital.desk.draw.page import Said, said
from cubital.desk.transport.known import Known
from cubital.reception import Outcome, Verdict

OUTCOMES = {
    Outcome.ACCEPTED: ("good", "Accept"),
    Outcome.REMARKED: ("note", "Accept with a remark"),
    Outcome.UNDECIDED: ("ask", "Decide"),
    Outcome.REFUSED: ("stop", "Refuse"),
    Outcome.PARTLY: ("stop", "Refuse in part"),
}
"""Outcome -> kind of mark, and what is to be done."""


@dataclass(frozen=True, slots=True)
class TubeShown:
    """What it is: its words, and the colour of its closure (ISO 6710), "" where it has none."""

    name: str
    colour: str = ""
    rgb: str = ""
    ink: str = ""


@dataclass(frozen=True, slots=True)
class TestShown:
    """One test with its verdict."""

    code: str
    name: str
    kind: str
    word: str
    undecided: bool
    refused: bool
    said: tuple[Said, ...]


@dataclass(frozen=True, slots=True)
class SpecimenShown:
    """A specimen on one line."""

    code: str
    patient: str
    number: str
    requisition: str
    tube: TubeShown
    tests: tuple[str, ...]
    age: str


def span(length: timedelta) -> str:
    """A length of time as people say it: ``42 min``, ``3 h 05 min``, ``2 d 4 h``."""
    minutes = max(0, int(length.total_seconds()) // 60)
    hours, rest = divmod(minutes, 60)
    if hours >= 48:
        days, left = divmod(hours, 24)
        return f"{days} d {left} h"
    return f"{hours} h {rest:02d} min" if hours else f"{rest} min"


def since(moment: datetime | None, now: datetime) -> str:
    """How long ago, or that nobody wrote it down."""
    return span(now - moment) if moment is not None else "not known"


def tube_shown(specimen: Specimen, catalogue: Catalogue) -> TubeShown:
    """A tube with its closure colour, or the material of another specimen."""
    row = catalogue.containers.get(specimen.container)
    if row is not None:
        colour = catalogue.colours[catalogue.additives[row.additive].colour]
        return TubeShown(row.name, colour.name, colour.rgb, colour.ink)
    vessel = words.plain(specimen.container)
    material = material_name(specimen.material, catalogue)
    return TubeShown(", ".join(filter(None, (material, vessel))))


def material_name(code: str, catalogue: Catalogue) -> str:
    """A material in words."""
    return next((row.name for row in catalogue.rows(Material) if row.code == code), code)


def test_name(code: str, catalogue: Catalogue) -> str:
    """A test or an examination in words."""
    if code in catalogue.tests:
        return catalogue.tests[code].name
    return next((row.name for row in catalogue.rows(Examination) if row.code == code), code)


def short_name(code: str, catalogue: Catalogue) -> str:
    """The same, as short as the catalogue has it."""
    return catalogue.tests[code].short if code in catalogue.tests else test_name(code, catalogue)


def specimen_shown(known: Known, catalogue: Catalogue, now: datetime) -> SpecimenShown:
    """A specimen on one line."""
    patient = known.requisition.patient
    return SpecimenShown(
        code=known.specimen.code,
        patient=patient.whole_name,
        number=patient.number,
        requisition=known.requisition.number,
        tube=tube_shown(known.specimen, catalogue),
        tests=tuple(short_name(test.code, catalogue) for test in known.tests),
        age=since(known.specimen.collected_at, now),
    )


def tests_shown(verdict: Verdict, catalogue: Catalogue) -> tuple[TestShown, ...]:
    """Each test with its verdict, what was found, and where that comes from."""
    shown = []
    for each in verdict.tests:
        kind, word = OUTCOMES[each.outcome]
        shown.append(
            TestShown(
                code=each.test,
                name=test_name(each.test, catalogue),
                kind=kind,
                word=word,
                undecided=each.outcome is Outcome.UNDECIDED,
                refused=each.outcome is Outcome.REFUSED,
                said=said(each.findings, catalogue),
            )
        )
    return tuple(shown)


def sentences(verdict: Verdict, *, most: int = 2) -> str:
    """What was found, the hardest first, as far as it fits a line."""
    found = list(dict.fromkeys(each.sentence for each in verdict.findings))
    more = f" And {len(found) - most} more." if len(found) > most else ""
    return " ".join(found[:most]) + more


def joined(names: Iterable[str]) -> str:
    """Names as people list them: ``a``, ``a and b``, ``a, b and c``."""
    listed = list(names)
    return " and ".join(filter(None, (", ".join(listed[:-1]), *listed[-1:])))
