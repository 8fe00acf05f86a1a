"""
Where the tables' facts come from: on a terminal, and as the page ``docs/sources.md``.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table

from cubital.catalogue import Catalogue
from cubital.catalogue.model import ROWS, Source
from cubital.catalogue.sources import BASES, SEEN

HEAD = """# Sources of the tables

This page is made by `cubital catalogue sources --markdown` from the tables of edition {edition}.
Do not write in it.

Every row of every table names its source. A source is `published` (a document that can be looked
up), `common practice` (what trained people do, with no document behind it) or `from memory` (nobody
looked it up yet). Of the published ones the column *seen* says how: `primary` (the document itself
was read), `secondary` (a page that quotes it was read) or `computed` (worked out from a stated
formula).

The laboratory checks and signs off the tables before use on patients, those from memory first.
"""


def uses(catalogue: Catalogue) -> dict[str, Counter[str]]:
    """How many rows of each table (by file) cite each source."""
    return {
        cls.FILE: Counter(row.source for row in catalogue.rows(cls))
        for cls in ROWS
        if catalogue.rows(cls)
    }


def shares(catalogue: Catalogue) -> Iterator[tuple[str, int, dict[str, int]]]:
    """Each table with its rows and how many of them stand on each basis; all tables last."""
    whole: Counter[str] = Counter()
    for file, counts in uses(catalogue).items():
        by_basis: Counter[str] = Counter()
        for key, count in counts.items():
            by_basis[catalogue.sources[key].basis] += count
        whole += by_basis
        yield file, by_basis.total(), {basis: by_basis[basis] for basis in BASES}
    yield "all tables", whole.total(), {basis: whole[basis] for basis in BASES}


def cited(catalogue: Catalogue) -> list[tuple[Source, int]]:
    """Every source with the rows that cite it: by basis, by how it was seen, most cited first."""
    counts: Counter[str] = Counter()
    for one in uses(catalogue).values():
        counts += one
    order = {word: at for at, word in enumerate((*BASES, *SEEN))}
    rows = [(source, counts[source.key]) for source in catalogue.sources.values()]
    return sorted(rows, key=lambda r: (order[r[0].basis], order[r[0].seen], -r[1], r[0].key))


def _percent(count: int, rows: int) -> str:
    return f"{100 * count / rows:.0f} %" if rows else "–"


def show_sources(catalogue: Catalogue) -> None:
    """Print sources and shares."""
    console = Console(highlight=False, markup=False, emoji=False)
    table = Table(box=SIMPLE_HEAD, pad_edge=False)
    for name in ("source", "title", "basis", "seen", "rows"):
        table.add_column(name, justify="right" if name == "rows" else "left")
    for source, count in cited(catalogue):
        table.add_row(source.key, _title(source), source.basis, source.seen, str(count))
    console.print(table)
    share = Table(box=SIMPLE_HEAD, pad_edge=False)
    for name in ("table", "rows", *BASES):
        share.add_column(name, justify="left" if name == "table" else "right")
    for file, rows, by_basis in shares(catalogue):
        share.add_row(file, str(rows), *(_percent(by_basis[basis], rows) for basis in BASES))
    console.print(share)


def _title(source: Source) -> str:
    year = str(source.year) if source.year else ""
    return ", ".join(filter(None, (source.title, year, source.part)))


def _cell(text: str) -> str:
    """A text in a Markdown table."""
    return " ".join(text.split()).replace("|", "\\|")


def sources_page(catalogue: Catalogue) -> str:
    """The page ``docs/sources.md``."""
    lines = [HEAD.format(edition=catalogue.edition.partition("+")[0])]
    lines += ["## How much is published", ""]
    lines += ["| table | rows | published | common practice | from memory |"]
    lines += ["|---|---:|---:|---:|---:|"]
    for file, rows, by_basis in shares(catalogue):
        cells = (f"{by_basis[basis]} ({_percent(by_basis[basis], rows)})" for basis in BASES)
        lines.append(f"| {file} | {rows} | {' | '.join(cells)} |")
    lines += ["", "## Where sources disagree", ""]
    lines += ["The first option of each question is the shipped default; a laboratory chooses.", ""]
    lines += ["| question | option | meaning | source |", "|---|---|---|---|"]
    for topic, options in catalogue.options.items():
        for option in sorted(options.values(), key=lambda row: not row.default):
            lines.append(
                f"| {topic} | {option.option} | {_cell(option.meaning)} | {option.source} |"
            )
    lines += ["", "## Sources", ""]
    lines += ["| key | title, year, part | basis | seen | rows | address |"]
    lines += ["|---|---|---|---|---:|---|"]
    for source, count in cited(catalogue):
        lines.append(
            f"| {source.key} | {_cell(_title(source))} | {source.basis} | {source.seen} | {count} |"
            f" {_cell(source.address)} |"
        )
    return "\n".join(lines) + "\n"
