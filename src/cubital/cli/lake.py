"""
``cubital events export``: the record as a lake of Parquet files, for the indicators.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from cubital.catalogue import Catalogue
from cubital.cli import common
from cubital.cli.record import database_option, open_record
from cubital.errors import InputError


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--moved",
    multiple=True,
    metavar="OLD=NEW",
    help="A place that got another code: what is on record under OLD counts as NEW.",
)
@common.with_catalogue
@database_option
def export(folder: Path, moved: tuple[str, ...], folders: tuple[Path, ...], database: str) -> None:
    """
    Write the lake in FOLDER anew from everything on record.

    One row a specimen and one row a draw, by year, month and place.  No name and no patient
    number goes along; sign-in names of collectors do, so keep the folder as closely as the desk.
    """
    pairs = moves(moved)
    catalogue = common.catalogue_of(folders)
    open_record(database)
    specimens, draws = export_lake(folder, catalogue, now=datetime.now(UTC), moved=pairs)
    click.echo(f"{specimens:,} specimens and {draws:,} draws are in {folder}")


def moves(words: tuple[str, ...]) -> dict[str, str]:
    """
    Old code -> new code.

    Raises:
        InputError: not of the form OLD=NEW.
    """
    found = {}
    for word in words:
        old, equals, new = word.partition("=")
        if not (old and equals and new):
            raise InputError(f"“{word}” names no two places", "--moved", "Write it like old=new.")
        found[old] = new
    return found


def export_lake(
    folder: Path, catalogue: Catalogue, *, now: datetime, moved: dict[str, str] | None = None
) -> tuple[int, int]:
    """
    Write the lake from the record; Django is set up.

    Args:
        folder: of the lake.
        catalogue: by which volumes, orders and groups are told.
        now: a specimen on its way for too long by now is not received.
        moved: old code of a place -> its new one.

    Returns:
        How many specimens and draws.

    Raises:
        InputError: the folder holds something else, a place is not known, or there is no record.
    """
    from dataclasses import replace

    from django.db import DatabaseError

    from cubital.desk.record.rebuild import records
    from cubital.desk.record.selectors_quality import lake_requested, lake_sites, recorded_all
    from cubital.indicators.lake import write_lake
    from cubital.indicators.rows import lake_rows
    from cubital.indicators.values import LakeSite

    try:
        sites = {site.code: site for site in lake_sites()}
        for old, new in (moved or {}).items():
            if new not in sites:
                raise InputError(f"no place is called {new}", "--moved", "Look its code up.")
            sites[old] = replace(sites.get(old, LakeSite(old, old)), now=new)
        rows = lake_rows(
            recorded_all(),
            catalogue,
            sites=sites.values(),
            requested=lake_requested(),
            now=now,
            mends=[record for _, record in records(only_mending=True)],
        )
    except DatabaseError as bad:
        raise InputError(
            f"there is no record to read ({bad})", "CUBITAL_DATABASE", "Open the desk once."
        ) from None
    write_lake(folder, rows, sites=sites.values(), edition=catalogue.edition)
    return len(rows.specimens), len(rows.draws)
