"""
``cubital indicators``: list them, count them, make the report of a month.
"""

from __future__ import annotations

import csv
import io
import re
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from cubital.cli import common
from cubital.errors import InputError

if TYPE_CHECKING:
    from cubital.indicators.engine import Engine

MONTH = re.compile(r"(\d{4})-(\d{2})")
FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet reads as the beginning of a formula."""

with_lake = click.option(
    "--lake",
    "folder",
    required=True,
    type=click.Path(path_type=Path),
    envvar="CUBITAL_LAKE",
    metavar="DIR",
    help="A lake, as cubital events export writes it.",
)
with_engine = click.option(
    "--engine",
    "engine_name",
    default="duckdb",
    show_default=True,
    type=click.Choice(["duckdb", "spark"]),
    help="What counts; spark wants pyspark and Java.",
)
with_first = click.option("--from", "first", metavar="YYYY-MM", help="First month; all if none.")
with_last = click.option("--to", "last", metavar="YYYY-MM", help="Last month; all if none.")


def month_of(text: str, where: str) -> int:
    """
    A month, ``2026-03`` as ``202603``.

    Raises:
        InputError: it is none.
    """
    shape = MONTH.fullmatch(text)
    if shape is None or not 1 <= int(shape[2]) <= 12:
        raise InputError(f"“{text}” is no month", where, "Write it like 2026-03.")
    return int(shape[1]) * 100 + int(shape[2])


def span_of(first: str | None, last: str | None) -> tuple[int, int] | None:
    """
    The months between two, None for all.

    Raises:
        InputError: one is none, or they stand the wrong way round.
    """
    if first is None and last is None:
        return None
    low = month_of(first, "--from") if first else 100_001
    high = month_of(last, "--to") if last else 899_912
    if low > high:
        raise InputError("the first month comes after the last", "--from", "Swap them.")
    return low, high


@contextmanager
def engine_of(name: str) -> Iterator[Engine]:
    """An engine, closed at the end."""
    from cubital.indicators.engine import SPARK, duckdb_engine, spark_engine

    with tempfile.TemporaryDirectory() as work:
        opened = spark_engine(Path(work)) if name == SPARK else duckdb_engine(spill=Path(work))
        with opened:
            yield opened


@click.group()
def indicators() -> None:
    """Count what goes wrong before the bench, and say how sure a figure is."""


@indicators.command("list")
@common.with_catalogue
def list_them(folders: tuple[Path, ...]) -> None:
    """List the indicators with numerator, denominator, source and published levels."""
    from cubital.catalogue.model_quality import Indicator
    from cubital.indicators.intervals import Interval
    from cubital.indicators.levels import beside

    catalogue = common.catalogue_of(folders)
    for row in catalogue.rows(Indicator):
        source = catalogue.sources[row.source]
        click.echo(f"{row.indicator}  {row.name}")
        click.echo(f"    {row.numerator} / {row.denominator}")
        click.echo(f"    source: {source.key} ({source.basis})")
        for level in beside(row.indicator, None, Interval(0, 1), catalogue):
            click.echo(f"    {level.sentence}")


@indicators.command()
@click.argument("code", nargs=-1)
@click.option(
    "--by",
    default="month,site",
    show_default=True,
    metavar="NAME,…",
    help="month, week, site, ward, collector, hour, device, gauge, age_group; or nothing.",
)
@click.option("--csv", "as_csv", is_flag=True, help="Print CSV.")
@with_first
@with_last
@with_engine
@with_lake
@common.with_catalogue
def count(
    code: tuple[str, ...],
    by: str,
    as_csv: bool,
    first: str | None,
    last: str | None,
    engine_name: str,
    folder: Path,
    folders: tuple[Path, ...],
) -> None:
    """
    Count indicators, by month and place unless told otherwise.

    CODE is one of `cubital indicators list`; all when none is given.  A figure by collector is for
    that person and the quality officer alone.
    """
    from cubital.cli.show_indicators import rows_of
    from cubital.indicators.ask import open_lake
    from cubital.indicators.measures import MEASURES

    names = [name for name in by.split(",") if name]
    with engine_of(engine_name) as engine:
        catalogue = common.catalogue_of(folders)
        lake = open_lake(folder, catalogue, engine, months=span_of(first, last))
        header, rows = rows_of(lake, code or tuple(MEASURES), names, catalogue)
    if as_csv:
        text = io.StringIO()
        writer = csv.writer(text, lineterminator="\n")
        writer.writerows([header, *([_plain_text(cell) for cell in row] for row in rows)])
        click.echo(text.getvalue(), nl=False)
        return
    _table(header, rows)


def _plain_text(cell: Any) -> Any:
    """A cell that a spreadsheet does not take for a formula: a ward may be called ``=1+1``."""
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(FORMULA) else cell


def _table(header: list[str], rows: list[list[Any]]) -> None:
    from rich.box import SIMPLE_HEAD
    from rich.console import Console
    from rich.table import Table

    table = Table(box=SIMPLE_HEAD, pad_edge=False)
    for name in header:
        table.add_column(name)
    for row in rows:
        table.add_row(*("" if cell is None else str(cell) for cell in row))
    Console(highlight=False, markup=False, emoji=False).print(table)


@indicators.command()
@click.option("--month", "wanted", required=True, metavar="YYYY-MM", help="Of the report.")
@click.option("--pdf", type=click.Path(path_type=Path), metavar="FILE.pdf", help="Write it there.")
@click.option(
    "--charts",
    "drawings",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Write the charts there as SVG.",
)
@with_engine
@with_lake
@common.with_catalogue
@common.with_choices
def report(
    wanted: str,
    pdf: Path | None,
    drawings: Path | None,
    engine_name: str,
    folder: Path,
    folders: tuple[Path, ...],
    chosen: tuple[str, ...],
) -> None:
    """Make the report of a month: what changed, and how sure that is."""
    from cubital.cli.show_indicators import sentences_of
    from cubital.indicators.report import report as report_of

    month = month_of(wanted, "--month")
    catalogue = common.catalogue_of(folders)
    choices = common.choices_of(chosen, catalogue)
    with engine_of(engine_name) as engine:
        made = report_of(folder, month, catalogue, engine, choices=choices)
    for sentence in sentences_of(made):
        click.echo(sentence)
    if pdf is not None:
        from cubital.indicators.paper import report_pdf

        common.write_file(pdf, report_pdf(made))
    if drawings is not None:
        from cubital.indicators.plots import charts

        drawings.mkdir(parents=True, exist_ok=True)
        for name, data in charts(made).items():
            common.write_file(drawings / f"{name}.svg", data)


@indicators.command()
@click.option(
    "--with", "factors", default="", metavar="NAME,…",
    help="site, device, gauge, attempt, tourniquet, transport; all if none.",
)  # fmt: skip
@with_first
@with_last
@with_engine
@with_lake
@common.with_catalogue
def haemolysis(
    factors: str,
    first: str | None,
    last: str | None,
    engine_name: str,
    folder: Path,
    folders: tuple[Path, ...],
) -> None:
    """Ask what goes with haemolysis here; with few events the answer is an honest no."""
    from cubital.indicators.ask import open_lake
    from cubital.indicators.drivers import FACTORS, drivers

    names = tuple(name for name in factors.split(",") if name) or FACTORS
    with engine_of(engine_name) as engine:
        catalogue = common.catalogue_of(folders)
        lake = open_lake(folder, catalogue, engine, months=span_of(first, last))
        found = drivers(lake, catalogue, names)
    for effect in found.effects:
        click.echo(effect.sentence)
    for sentence in filter(None, (found.refused, *found.sentences)):
        click.echo(sentence)
