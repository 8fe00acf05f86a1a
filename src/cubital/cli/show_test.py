"""
A test, or a panel, of the catalogue on a terminal, each line with its source and layer.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from cubital.catalogue import Catalogue
from cubital.catalogue.model import Row
from cubital.cli.show_plan import need_words

Line = tuple[str, str, Row]


def _console() -> Console:
    return Console(highlight=False, markup=False, emoji=False)


def show_test(catalogue: Catalogue, code: str, choices: Mapping[str, str]) -> None:
    """Print what a test needs under the choices."""
    test = catalogue.tests[code]
    console = _console()
    console.print(Text(f"{test.name}  ({code})", "bold"))
    if test.aliases:
        console.print(f"also {', '.join(test.aliases.split(';'))}", style="dim")
    table = Table(box=SIMPLE_HEAD, pad_edge=False)
    for name in ("", "what", "source", "layer"):
        table.add_column(name)
    for label, what, row in _lines(catalogue, code, choices):
        source = catalogue.sources[row.source]
        table.add_row(label, Text(what), f"{source.key} ({source.basis})", row.layer)
    console.print(table)


def _lines(catalogue: Catalogue, code: str, choices: Mapping[str, str]) -> Iterator[Line]:
    test = catalogue.tests[code]
    bench = catalogue.benches[test.bench]
    station = catalogue.stations[bench.station]
    yield "LOINC", test.loinc or "none looked up", test
    yield "on the label", test.short, test
    yield "bench", bench.name, bench
    yield "station", f"{station.name}, at most {station.max_tests_per_tube} tests a tube", station
    alone = ", in a tube of its own" if test.own_tube else ""
    needed = f", {test.containers_needed} containers" if test.containers_needed > 1 else ""
    yield "done on", f"{_matrix(test.matrix)}{alone}{needed}", test
    yield "volume", f"{catalogue.volume_ul(code)} µL", catalogue.volumes[code]
    for accepted in catalogue.accepted(code):
        additive = catalogue.additives[accepted.additive]
        colour = catalogue.colours[additive.colour].name
        yield (
            "preferred" if accepted.rank == 0 else "accepted",
            f"{additive.name}, {colour}",
            (accepted),
        )
    for need in catalogue.handling(code, choices):
        yield "handling", need_words(need.need, need.value), need
    for before in catalogue.preparation(code, choices):
        yield f"patient ({before.severity})", before.sentence, before
    for keeps in catalogue.stability(code, choices):
        where = f"{_matrix(keeps.matrix)}, {keeps.condition}"
        long = f"{keeps.keeps_h:g} h" if keeps.keeps_h else "not at all"
        yield "keeps", f"{where}: {long}", keeps


def _matrix(matrix: str) -> str:
    return "serum or plasma" if matrix == "serum_plasma" else matrix.replace("_", " ")


def show_panel(catalogue: Catalogue, code: str) -> None:
    """Print the tests of a panel and the panels they come through."""
    panel = catalogue.panels[code]
    console = _console()
    console.print(Text(f"{panel.name}  ({code}, panel)", "bold"))
    console.print(f"source {panel.source}, layer {panel.layer}", style="dim")
    table = Table(box=SIMPLE_HEAD, pad_edge=False)
    for name in ("test", "name", "through"):
        table.add_column(name)
    for test, path in catalogue.expand(code):
        table.add_row(test, Text(catalogue.tests[test].name), " → ".join(path[1:]))
    console.print(table)
