"""``cubital desk``: the desk of a laboratory."""

from __future__ import annotations

import os
import sys
from datetime import UTC, datetime
from pathlib import Path

import click

from cubital.cli.serve import LOCAL, must_be_free, secret_at, serve, set_up
from cubital.errors import InputError

VAR = Path("var")


@click.command("desk")
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option("--port", default=8000, show_default=True, type=click.IntRange(1, 65535))
@click.option(
    "--lan",
    is_flag=True,
    help="Serve the laboratory's own network over HTTPS, with a certificate authority in var/ca.",
)
@click.option(
    "--name",
    "names",
    multiple=True,
    metavar="NAME",
    help="With --lan: a further name or address of this machine; may be given several times.",
)
@click.option(
    "--trust-port",
    default=8080,
    show_default=True,
    type=click.IntRange(1, 65535),
    help="With --lan: where tablets fetch the certificate, over plain HTTP.",
)
@click.pass_context
def desk(
    context: click.Context,
    host: str,
    port: int,
    lan: bool,
    names: tuple[str, ...],
    trust_port: int,
) -> None:
    """
    Open the desk.

    Makes its tables, and asks for the first manager when nobody may sign in yet. Where nobody
    sits at the keyboard, CUBITAL_MANAGER and CUBITAL_MANAGER_PASSWORD name them.

    Tablets need HTTPS to work with the network cut: --lan makes a small certificate authority of
    the laboratory's own, serves with it, and says how to trust it on a device.
    """
    given = context.get_parameter_source("host") is not click.core.ParameterSource.DEFAULT
    if lan and not given:
        host = "0.0.0.0"  # noqa: S104 - a desk for the laboratory's own network
    must_be_free(host, port)
    if not os.environ.get("CUBITAL_SECRET_KEY"):
        os.environ["CUBITAL_SECRET_KEY"] = secret_at(VAR / "secret")
    if lan:
        open_to_lan(host, port, names, trust_port)
        return
    os.environ.setdefault("CUBITAL_HOSTS", ",".join(dict.fromkeys((*LOCAL, host))))
    set_up(VAR)
    first_manager()
    click.echo(f"The desk is open at http://{host}:{port}/  (stop it with Ctrl+C)")
    serve(host, port)


def open_to_lan(host: str, port: int, more: tuple[str, ...], trust_port: int) -> None:
    """
    Serve the laboratory's network over HTTPS, and say how a device comes to trust it.

    Raises:
        InputError: the authority cannot sign for this machine's names.
        click.UsageError: a port is taken.
    """
    from cubital.desk.lan import names_here, serve_with
    from cubital.desk.lan_page import open_trust_page

    must_be_free(host, trust_port)
    here = [name for name in names_here() if ":" not in name or ":" in host]
    names = tuple(dict.fromkeys((*here, *(name.lower() for name in more))))
    served = serve_with(VAR / "ca", names, datetime.now(UTC))
    os.environ["CUBITAL_HTTPS"] = "1"
    os.environ["CUBITAL_HOSTS"] = ",".join(names)
    set_up(VAR)
    first_manager()
    shown = [f"[{name}]" if ":" in name else name for name in names]
    addresses = tuple(f"https://{name}:{port}/" for name in shown)
    open_trust_page(host, trust_port, served, addresses)
    click.echo("The desk is open on this network at")
    for address in addresses:
        click.echo(f"  {address}")
    click.echo(f"Its certificate holds until {served.until:%Y-%m-%d} and is renewed at a start.")
    click.echo("Once on each tablet: fetch the certificate and trust it. It lies at")
    for name in shown:
        click.echo(f"  http://{name}:{trust_port}/")
    click.echo(f"or in {served.authority}. Compare its SHA-256 fingerprint there and here:")
    click.echo(f"  {served.fingerprint}")
    click.echo("(stop it with Ctrl+C)")
    serve(host, port, (served.certificate, served.key))


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
