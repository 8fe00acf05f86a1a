"""``cubital events``: the log itself, for other programs."""

from __future__ import annotations

import json

import click

from cubital.cli.lake import export
from cubital.cli.record import database_option, open_record


@click.group("events")
def events() -> None:
    """The log of everything that happened."""


events.add_command(export)


@events.command("list")
@click.option("--site", default="", help="Only of this place.")
@click.option("--kind", default="", help="Only of this kind; 'cubital events kinds' names them.")
@click.option("--subject", default="", help="Only what happened to this, e.g. specimen:OL26-0001.")
@click.option("--refused", is_flag=True, help="What was refused, instead of what was recorded.")
@database_option
def list_events(*, site: str, kind: str, subject: str, refused: bool, database: str) -> None:
    """Print events as JSON lines, in the order in which they were recorded."""
    open_record(database)
    from cubital.desk.record.log import events_logged, refusals_logged

    logged = refusals_logged if refused else events_logged
    for line in logged(site=site, kind=kind, subject=subject):
        click.echo(json.dumps(line, ensure_ascii=False))


@events.command("kinds")
@click.option("--markdown", is_flag=True, help="As the table of docs/events.md.")
def kinds(*, markdown: bool) -> None:
    """Name the kinds of event, what they happen to and who may write them."""
    if markdown:
        click.echo(kinds_table())
        return
    from cubital.custody import KINDS

    for kind in KINDS.values():
        click.echo(f"{kind.code:<22} {'/'.join(kind.about):<34} {kind.meaning}")
        fields = ", ".join(f.name if f.required else f"[{f.name}]" for f in kind.fields)
        click.echo(f"{'':<22} by {', '.join(sorted(kind.roles))}; holds {fields or 'nothing more'}")


def kinds_table() -> str:
    """The kinds as a Markdown table."""
    from cubital.custody import KINDS

    lines = ["| kind | happens to | meaning | payload | written by |", "|---|---|---|---|---|"]
    for kind in KINDS.values():
        fields = ", ".join(f"`{f.name}`" if f.required else f"[`{f.name}`]" for f in kind.fields)
        about = ", ".join(kind.about) if len(kind.about) < 8 else "anything"
        roles = "everybody" if len(kind.roles) == 4 else ", ".join(sorted(kind.roles))
        lines.append(f"| `{kind.code}` | {about} | {kind.meaning} | {fields} | {roles} |")
    return "\n".join(lines)
