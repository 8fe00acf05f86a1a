"""``cubital restore``: the record out of a backup."""

from __future__ import annotations

from pathlib import Path

import click

from cubital.cli.record import database_option, open_record


@click.command("restore")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--overwrite", is_flag=True, help="Set aside what the database holds now.")
@click.option("--broken", is_flag=True, help="Go on although a chain in the backup does not hold.")
@database_option
def restore(file: Path, *, overwrite: bool, broken: bool, database: str) -> None:
    """
    Put the record from FILE into the database, and walk its chains.

    Stop the desk first. Everybody signs in again afterwards.
    """
    open_record(database, must_exist=False)
    from cubital.desk.record.restore import restore as put

    done = put(file, overwrite=overwrite, broken=broken)
    if done.kept:
        click.echo(f"What was there before is kept as {done.kept}.")
    click.echo(f"{done.rows} rows of {done.made_at} are restored.")
    click.echo(
        f"{done.verified.count} events: every chain holds."
        if done.verified.holds
        else done.verified.sentence
    )
