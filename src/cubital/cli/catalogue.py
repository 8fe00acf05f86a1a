"""
``cubital catalogue``: check the tables, look at a test, list the sources.
"""

from __future__ import annotations

from pathlib import Path

import click

from cubital.catalogue import check_catalogue
from cubital.cli import common
from cubital.errors import InputError


@click.group()
def catalogue() -> None:
    """Check and look at the tables of tests, tubes, needles, orders and limits."""


@catalogue.command()
@common.with_catalogue
def check(folders: tuple[Path, ...]) -> None:
    """
    Check the shipped tables, and a laboratory's own laid over them.

    Every problem is told with its file, row and field and what to write instead; exit code 2 when
    there is one.
    """
    problems = check_catalogue(*folders)
    for problem in problems:
        click.echo(str(problem), err=True)
    if problems:
        some = "1 problem" if len(problems) == 1 else f"{len(problems)} problems"
        raise InputError(some, mend="Mend them and check again.")
    sound = common.catalogue_of(folders)
    rows = sum(map(len, sound.tables.values()))
    tables = sum(map(bool, sound.tables.values()))
    click.echo(
        f"sound: {rows} rows in {tables} tables, {len(sound.sources)} sources, "
        f"layers {', '.join(sound.layers)}, edition {sound.edition}"
    )


@catalogue.command()
@click.argument("test")
@common.with_catalogue
@common.with_choices
def show(test: str, folders: tuple[Path, ...], chosen: tuple[str, ...]) -> None:
    """
    Show what a test or panel needs, each line with its source and layer.

    TEST is a code, LOINC code, name, short name or alias.
    """
    from cubital.cli.show_test import show_panel, show_test

    tables = common.catalogue_of(folders)
    choices = common.choices_of(chosen, tables)
    code = tables.find(test)
    if code is None:
        close = tables.suggest(test)
        mend = f"Did you mean {' or '.join(close)}?" if close else "Look its code up."
        raise InputError(f"no test or panel is called “{test}”", "cubital catalogue show", mend)
    if code in tables.tests:
        show_test(tables, code, choices)
    else:
        show_panel(tables, code)


@catalogue.command()
@click.option("--markdown", is_flag=True, help="Print the page docs/sources.md.")
@click.option("--out", type=click.Path(path_type=Path), help="Write there.", metavar="FILE.md")
@common.with_catalogue
def sources(markdown: bool, out: Path | None, folders: tuple[Path, ...]) -> None:
    """
    List the sources of all rows, and how much of each table is published.
    """
    from cubital.cli.show_sources import show_sources, sources_page

    tables = common.catalogue_of(folders)
    if out is not None:
        common.write_file(out, sources_page(tables).encode())
    elif markdown:
        click.echo(sources_page(tables), nl=False)
    else:
        show_sources(tables)
