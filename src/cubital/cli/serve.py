"""Opening the desk's door: settings from the environment, migrations, static files, the server."""

from __future__ import annotations

import os
import secrets
import socket
import sys
from pathlib import Path

import click

LOCAL = ("127.0.0.1", "localhost")
PATIENCE_S = 10
"""After which a worker that was told to stop, and does not, is stopped."""
THREADS = 32
"""
Requests that one server process works on at the same time.

Most of them wait for a commit, which takes the events of all that wait; so many are good.
"""
SWITCH_S = 0.001
"""How long a thread that computes may keep one waiting that comes back from the database."""


def secret_at(path: Path) -> str:
    """Give the secret key in a file that only its owner reads; make it the first time."""
    path.parent.mkdir(parents=True, exist_ok=True)
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return path.read_text(encoding="utf-8").strip()
    with os.fdopen(handle, "w", encoding="utf-8") as file:
        secret = secrets.token_urlsafe(64)
        file.write(secret)
    return secret


def must_be_free(host: str, port: int) -> None:
    """
    Find out before anything is printed whether the door is taken.

    Raises:
        click.UsageError: another program listens there, or the address is not this machine's.
    """
    with socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as taken:
            raise click.UsageError(
                f"{host}:{port} cannot be opened ({taken.strerror}): choose another with --port."
            ) from taken


def set_up(var: Path) -> None:
    """Load Django with the settings of the environment; make its folders, tables and files."""
    var.mkdir(parents=True, exist_ok=True)
    os.environ.setdefault("CUBITAL_STATIC", str((var / "static").resolve()))
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "cubital.desk.settings")
    from cubital.desk.database import use_bundled_sqlite

    use_bundled_sqlite()
    import django
    from django.core.exceptions import ImproperlyConfigured
    from django.core.management import call_command

    try:
        django.setup()
    except (ImproperlyConfigured, ValueError) as wrong:
        raise click.UsageError(str(wrong)) from wrong
    call_command("migrate", verbosity=0, interactive=False)
    call_command("collectstatic", verbosity=0, interactive=False, clear=True)


def serve(host: str, port: int, tls: tuple[Path, Path] | None = None) -> None:
    """
    Answer until stopped; over TLS where a certificate and its key are given.

    SQLite has one writer at a time, so one process serves it best; on PostgreSQL there are as many
    as the machine has cores, four at most.  CUBITAL_WORKERS and CUBITAL_THREADS say otherwise.
    """
    from django.db import connection, connections
    from granian import Granian
    from granian.constants import Interfaces

    connections.close_all()  # what is open now must not go along into another process
    sys.setswitchinterval(SWITCH_S)
    cores = 1 if connection.vendor == "sqlite" else min(os.cpu_count() or 1, 4)
    Granian(
        "cubital.desk.wsgi:application",
        address=host,
        port=port,
        interface=Interfaces.WSGI,
        workers=int(os.environ.get("CUBITAL_WORKERS") or cores),
        blocking_threads=int(os.environ.get("CUBITAL_THREADS") or THREADS),
        log_access=False,
        websockets=False,
        workers_kill_timeout=PATIENCE_S,
        ssl_cert=tls[0] if tls else None,
        ssl_key=tls[1] if tls else None,
    ).serve()
