"""A test of the catalogue as a page shows it: each fact with its source in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from cubital.catalogue import Catalogue
from cubital.catalogue.model import Row, Test
from cubital.desk import words
from cubital.desk.draw.page import HANDLING, Why, why

MATRICES = {
    "serum": "serum",
    "plasma": "plasma",
    "serum_plasma": "serum or plasma",
    "whole_blood": "whole blood",
    "broth": "broth",
}
CONDITIONS = {"room": "at room temperature", "fridge": "in the fridge", "frozen": "frozen"}


@dataclass(frozen=True, slots=True)
class Line:
    """A test or panel in the list."""

    code: str
    name: str
    kind: str
    loinc: str
    bench: str


@dataclass(frozen=True, slots=True)
class TestPage:
    """What the page of a test shows."""

    test: Test
    bench: str
    facts: tuple[tuple[str, tuple[Why, ...]], ...]
    panels: tuple[tuple[str, str], ...]


def lines(catalogue: Catalogue, q: str) -> list[Line]:
    """Tests and panels that fit what was typed, or all of them."""
    if q:
        codes = [code for code, _, _ in catalogue.search(q, limit=60)]
    else:
        codes = [*catalogue.panels, *catalogue.tests]
    return [line(code, catalogue) for code in codes]


def line(code: str, catalogue: Catalogue) -> Line:
    """One line of the list."""
    test = catalogue.tests.get(code)
    if test is None:
        panel = catalogue.panels[code]
        return Line(code, panel.name, "panel", panel.loinc, "")
    return Line(code, test.name, "test", test.loinc, catalogue.benches[test.bench].name)


def test_page(test: Test, catalogue: Catalogue, choices: Mapping[str, str]) -> TestPage:
    """Everything that the catalogue says about a test, under a place's choices."""

    def fact(row: Row, sentence: str) -> Why:
        return why(catalogue.reason(row, sentence), catalogue)

    code = test.code
    volume = catalogue.volumes[code]
    accepted = tuple(
        fact(row, catalogue.additives[row.additive].name) for row in catalogue.accepted(code)
    )
    needs = tuple(
        fact(row, HANDLING.get(row.need, words.plain(row.need)).format(row.value))
        for row in catalogue.handling(code, choices)
    )
    prepared = tuple(fact(row, row.sentence) for row in catalogue.preparation(code, choices))
    keeps = tuple(
        fact(
            row,
            f"{MATRICES[row.matrix]} {CONDITIONS[row.condition]}: "
            + (words.hours(row.keeps_h) if row.keeps_h else "must not be kept so"),
        )
        for row in catalogue.stability(code, choices)
    )
    own: tuple[Why, ...] = ()
    if test.own_tube:
        own = (fact(test, "It needs a container of its own."),)
    if test.containers_needed > 1:
        own += (fact(test, f"A whole set of {test.containers_needed} containers is drawn."),)
    takes = f"{words.ml(volume.volume_ul)} mL of {MATRICES[test.matrix]} on the analyser"
    facts = (
        ("Accepted additives, preferred first", accepted),
        ("Volume", (fact(volume, takes), *own)),
        ("Handling", needs),
        ("The patient", prepared),
        ("Keeps", keeps),
    )
    inside = tuple(
        (panel.code, panel.name)
        for panel in catalogue.panels.values()
        if code in {each for each, _ in catalogue.expand(panel.code)}
    )
    return TestPage(
        test=test,
        bench=catalogue.benches[test.bench].name,
        facts=tuple(pair for pair in facts if pair[1]),
        panels=inside,
    )
