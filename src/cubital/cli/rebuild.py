"""``cubital rebuild``: the projections made again from the events."""

from __future__ import annotations

import click

from cubital.cli.record import database_option, open_record
from cubital.errors import RecordError

SHOWN = 20


@click.command("rebuild")
@click.option("--check", is_flag=True, help="Only compare; exit code 1 when they differ.")
@database_option
def rebuild(*, check: bool, database: str) -> None:
    """
    Make what the screens read again from the events, and say whether it was the same.

    Scans wait while this runs.
    """
    open_record(database)
    from cubital.desk.record.rebuild import rebuild as again

    found = again(only_compare=check)
    click.echo(f"{found.events} events give {found.items} items.")
    for subject in found.different[:SHOWN]:
        click.echo(f"  not as the events say: {subject}")
    if len(found.different) > SHOWN:
        click.echo(f"  and {len(found.different) - SHOWN} more")
    if found.touches_different:
        click.echo(f"  {found.touches_different} lines of the list of subjects")
    if found.equal:
        click.echo("Everything is as the events say.")
    elif check:
        raise RecordError("It differs; 'cubital rebuild' puts it right.")
    else:
        click.echo("It is put right.")
