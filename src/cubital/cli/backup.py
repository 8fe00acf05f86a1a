"""``cubital backup``: the record in one file."""

from __future__ import annotations

from pathlib import Path

import click

from cubital.cli.record import database_option, open_record


@click.command("backup")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--overwrite", is_flag=True, help="Replace a file of that name.")
@database_option
def backup(file: Path, *, overwrite: bool, database: str) -> None:
    """
    Write the whole record to FILE while the desk goes on.

    The file holds patients' data: keep it as you keep those. It restores to SQLite and PostgreSQL.
    """
    open_record(database)
    from cubital.desk.record.backup import backup as write

    done = write(file, overwrite=overwrite)
    click.echo(
        f"{file}: {done.events} events, {done.rows} rows of {done.tables} tables,"
        f" {done.size / 1_000_000:.1f} MB."
    )
