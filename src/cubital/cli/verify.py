"""``cubital verify``: whether the record is as it was written."""

from __future__ import annotations

import click

from cubital.cli.record import database_option, open_record
from cubital.errors import ChainBroken


@click.command("verify")
@database_option
def verify(database: str) -> None:
    """
    Walk the chain of events of every site, from the first to the last.

    Exit code 0: every byte is as it was written. 1: the first event that is not is named.
    """
    open_record(database)
    from cubital.desk.record.verify import verify as walk

    found = walk()
    for chain in found.chains:
        if chain.holds:
            click.echo(f"{chain.site}: {chain.count} events, the chain holds")
        else:
            name = chain.event or "the end of the chain"
            click.echo(f"{chain.site}: {name} (number {chain.sequence}): {chain.sentence}")
    for trigger in found.triggers_missing:
        click.echo(f"The guard {trigger} is missing in the database.")
    if not found.holds:
        raise ChainBroken("The record does not hold. Keep this database as it is; tell a manager.")
    if not found.chains:
        click.echo("No event has been recorded yet.")
