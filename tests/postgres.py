"""
A PostgreSQL of the tests' own, started and thrown away with them; and a test on both databases.

Runs as any user, and as root (then the server runs as ``postgres``, for it refuses to be root).
"""

from __future__ import annotations

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from django.core.management import call_command
from django.db import connections

from cubital.desk.database import database_from


def binaries() -> Path:
    """
    The folder of PostgreSQL's own programs.

    Raises:
        RuntimeError: it is not installed.
    """
    found = shutil.which("initdb")
    folders = [Path(found).resolve().parent] if found else []
    folders += sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    for folder in folders:
        if (folder / "initdb").exists() and (folder / "postgres").exists():
            return folder
    raise RuntimeError("PostgreSQL is not installed: run 'make system' as root, then again.")


def free_port() -> int:
    """A port that nobody listens on now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@contextmanager
def postgres(*, durable: bool = False) -> Iterator[str]:
    """
    Run a server in a folder of its own; gives the start of its address, up to the database's name.

    Args:
        durable: whether it waits for the disk at each commit; a test that kills only the desk
            need not.
    """
    programs = binaries()
    base = Path(tempfile.mkdtemp(prefix="cubital-pg-"))
    run_as: dict[str, object] = {"cwd": base}
    if os.geteuid() == 0:
        owner = pwd.getpwnam("postgres")
        os.chown(base, owner.pw_uid, owner.pw_gid)
        run_as |= {"user": owner.pw_uid, "group": owner.pw_gid, "extra_groups": []}

    def run(program: str, *arguments: str) -> None:
        subprocess.run([str(programs / program), *arguments], check=True,
                       stdout=subprocess.DEVNULL, **run_as)  # type: ignore[call-overload]  # fmt: skip

    port, data = free_port(), str(base / "data")
    options = f"-p {port} -k {base} -c listen_addresses=127.0.0.1 -c max_connections=250"
    options += "" if durable else " -c fsync=off"
    watch = watchdog(programs / "pg_ctl", data, base, run_as)
    try:
        run("initdb", "-D", data, "-U", "postgres", "-A", "trust", "--no-sync", "-E", "UTF8",
            "--locale=C.UTF-8")  # fmt: skip
        run("pg_ctl", "-D", data, "-w", "-l", str(base / "log"), "-o", options, "start")
        yield f"postgresql://postgres@127.0.0.1:{port}/"
    finally:
        # Not by closing the watchdog's input: a process started meanwhile may hold it open too.
        watch.kill()
        watch.wait(60)
        subprocess.run([str(programs / "pg_ctl"), "-D", data, "-w", "-m", "immediate", "stop"],
                       check=False, stdout=subprocess.DEVNULL, **run_as)  # type: ignore[call-overload]  # fmt: skip
        shutil.rmtree(base, ignore_errors=True)


def watchdog(
    stopper: Path, data: str, base: Path, run_as: dict[str, object]
) -> subprocess.Popen[bytes]:
    """
    Stop the server and remove its folder when this process is done, however it ends.

    It waits for the end of its standard input, which comes even when this process is killed.
    """
    script = 'cat; "$1" -D "$2" -w -m immediate stop; cd /; rm -rf "$3"'
    return subprocess.Popen(
        ["/bin/sh", "-c", script, "watchdog", str(stopper), data, str(base)],
        stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        start_new_session=True, **run_as,
    )  # type: ignore[call-overload]  # fmt: skip


def use_database(url: str) -> None:
    """Point Django's default connection, in every thread that opens one from now on, to it."""
    let_go()
    wanted = connections.configure_settings({"default": database_from(url)})["default"]
    connections.settings["default"] = wanted


def let_go() -> None:
    """Close this thread's connection and the pool behind it."""
    connection = connections["default"]
    connection.close()
    if connection.vendor == "postgresql":
        connection.close_pool()  # type: ignore[attr-defined]
    del connections["default"]


@contextmanager
def default_database(url: str) -> Iterator[None]:
    """Work on this database, and afterwards on the one before."""
    before = connections.settings["default"]
    use_database(url)
    try:
        yield
    finally:
        let_go()
        connections.settings["default"] = before


class Databases:
    """
    New databases with the desk's tables in them, made fast: migrated once, then copied.

    Args:
        folder: for SQLite files.
        server: start of a PostgreSQL server's address.
    """

    def __init__(self, folder: Path, server: Callable[[], str]) -> None:
        self.folder = folder
        self.server = server
        self.count = 0
        self.ready: set[str] = set()

    def new(self, vendor: str) -> str:
        """The address of a new database of ``sqlite`` or ``postgresql``, migrated and empty."""
        self.count += 1
        if vendor not in self.ready:
            self.template(vendor)
            self.ready.add(vendor)
        if vendor == "sqlite":
            path = self.folder / f"desk-{self.count}.sqlite3"
            shutil.copy(self.folder / "template.sqlite3", path)
            return f"sqlite:///{path}"
        return self.create(f"desk_{self.count}", "template_desk")

    def empty(self, vendor: str) -> str:
        """The address of a new database with nothing in it."""
        self.count += 1
        if vendor == "sqlite":
            return f"sqlite:///{self.folder / f'empty-{self.count}.sqlite3'}"
        return self.create(f"empty_{self.count}", "template1")

    def template(self, vendor: str) -> None:
        """Migrate the database that the others are copied from."""
        url = f"sqlite:///{self.folder / 'template.sqlite3'}"
        if vendor == "postgresql":
            url = self.create("template_desk", "template1")
        with default_database(url):
            call_command("migrate", verbosity=0)
            if vendor == "sqlite":
                with connections["default"].cursor() as cursor:
                    cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")

    def create(self, name: str, template: str) -> str:
        """Create a PostgreSQL database."""
        import psycopg

        with psycopg.connect(f"{self.server()}postgres", autocommit=True) as server:
            server.execute(f'CREATE DATABASE "{name}" TEMPLATE "{template}"')
        return f"{self.server()}{name}"
