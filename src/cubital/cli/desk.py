"""``cubital desk``: the desk of a laboratory."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import click

from cubital.cli.serve import LOCAL, must_be_free, secret_at, serve, set_up
from cubital.errors import InputError

VAR = Path("var")


@click.command("desk")
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option("--port", default=8000, show_default=True, type=click.IntRange(1, 65535))
def desk(host: str, port: int) -> None:
    """
    Open the desk.

    Makes its tables, and asks for the first manager when nobody may sign in yet. Where nobody
    sits at the keyboard, CUBITAL_MANAGER and CUBITAL_MANAGER_PASSWORD name them.
    """
    must_be_free(host, port)
    if not os.environ.get("CUBITAL_SECRET_KEY"):
        os.environ["CUBITAL_SECRET_KEY"] = secret_at(VAR / "secret")
    os.environ.setdefault("CUBITAL_HOSTS", ",".join(dict.fromkeys((*LOCAL, host))))
    set_up(VAR)
    first_manager()
    click.echo(f"The desk is open at http://{host}:{port}/  (stop it with Ctrl+C)")
    serve(host, port)


def first_manager() -> None:
    """
    Let a first manager in when nobody may sign in yet.

    Raises:
        click.UsageError: there is nobody to ask, or the password is easily guessed.
    """
    from cubital.desk.record.models import Person
    from cubital.desk.record.people import person_add

    if Person.objects.filter(is_active=True).exists():
        return
    name = os.environ.get("CUBITAL_MANAGER", "")
    password = os.environ.get("CUBITAL_MANAGER_PASSWORD", "")
    if not (name and password):
        if not sys.stdin.isatty():
            raise click.UsageError(
                "Nobody may sign in yet: run this once at a keyboard, or set CUBITAL_MANAGER and"
                " CUBITAL_MANAGER_PASSWORD."
            )
        click.echo("Nobody may sign in yet. Who is the first manager?")
        name = click.prompt("Sign-in name")
        password = click.prompt("Password", hide_input=True, confirmation_prompt=True)
    try:
        person_add(username=name, password=password, role="manager")
    except InputError as refused:
        raise click.UsageError(str(refused)) from refused
