"""``cubital demo``: the desk with an invented clinic in it."""

from __future__ import annotations

import os
from datetime import UTC, datetime
from pathlib import Path

import click

from cubital.cli.serve import LOCAL, must_be_free, secret_at, serve, set_up

VAR = Path("var") / "demo"


@click.command("demo")
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option("--port", default=8000, show_default=True, type=click.IntRange(1, 65535))
def demo(host: str, port: int) -> None:
    """
    Open the desk with an invented clinic in it, to try it with.

    Everything lies in var/demo; delete that folder to begin anew.
    """
    must_be_free(host, port)
    VAR.mkdir(parents=True, exist_ok=True)
    os.environ["CUBITAL_DEMO"] = "1"
    os.environ["CUBITAL_DATABASE"] = f"sqlite:///{(VAR / 'cubital.sqlite3').resolve()}"
    os.environ["CUBITAL_STATIC"] = str((VAR / "static").resolve())
    os.environ["CUBITAL_SECRET_KEY"] = secret_at(VAR / "secret")
    os.environ["CUBITAL_HOSTS"] = ",".join(dict.fromkeys((*LOCAL, host)))
    os.environ["CUBITAL_CATALOGUE"] = ""
    os.environ["CUBITAL_LAKE"] = str((VAR / "lake").resolve())
    set_up(VAR)
    fill()
    click.echo(f"The demo is open at http://{host}:{port}/  (stop it with Ctrl+C)")
    serve(host, port)


def fill() -> None:
    """Put the invented clinic in, and say who may sign in."""
    from cubital.desk.demo.badges import PIN, SECOND, WITH_BADGE, badge_code, demo_badges
    from cubital.desk.demo.bench_day import bench_fill
    from cubital.desk.demo.fill import demo_fill
    from cubital.desk.demo.past import past_fill
    from cubital.desk.demo.valley import PASSWORD, PEOPLE
    from cubital.desk.demo.way import way_fill
    from cubital.desk.indicators.lake import lake_make

    now = datetime.now(UTC)
    demo_fill(now=now)
    demo_badges()
    first = past_fill(now=now)
    bench_fill(now=now)
    way_fill(now=now)
    if first:  # last, so that the figures hold everything there is
        lake_make(now=now, tell=lambda words: None)
    click.echo("An invented clinic in the invented Ostrel valley; nobody in it is real.")
    click.echo(f"Sign in with the password {PASSWORD} as")
    everybody = (*PEOPLE, SECOND)
    for username, given, family, role, _ in everybody:
        click.echo(f"  {username:<8} {role:<10} ({given} {family})")
    click.echo(f"At the chair, by badge and the PIN {PIN},")
    for username, given, family, role, _ in everybody:
        if username in WITH_BADGE:
            click.echo(f"  {badge_code(username):<12} {role:<10} ({given} {family})")
