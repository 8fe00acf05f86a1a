"""
The real server, started fast and killed hard.

One process loads the desk and then forks a server each time it is asked: so a server is there in a
tenth of a second, and is the same one that ``cubital desk`` opens.  Run as a module it is that
process: it reads ``start PORT`` lines and answers each with the new server's process group.
"""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

TOKEN = "a" * 32
"""A CSRF token: the cookie and the header must agree."""


class Servers:
    """
    Starts servers on one database.

    Args:
        url: of the database, migrated.
        threads: requests that one server works on at the same time; None for the desk's own.
    """

    def __init__(self, url: str, threads: int | None = None) -> None:
        settings = {
            "CUBITAL_DATABASE": url,
            "CUBITAL_SECRET_KEY": "only-for-the-tests-0123456789-abcdefghij-klmnop",
            "CUBITAL_HOSTS": "127.0.0.1",
            "DJANGO_SETTINGS_MODULE": "tests.settings",
            "CUBITAL_THREADS": "" if threads is None else str(threads),
        }
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.serving"],
            env={**os.environ, **settings},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def start(self, port: int) -> int:
        """Start a server; gives its process group, once it takes connections."""
        assert self.process.stdin
        assert self.process.stdout
        self.process.stdin.write(f"start {port}\n")
        self.process.stdin.flush()
        group = int(self.process.stdout.readline())
        last = time.monotonic() + 30
        while time.monotonic() < last:
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 1):
                return group
            time.sleep(0.005)
        raise AssertionError("The server does not open its door.")

    def kill(self, group: int) -> None:
        """Kill a server and its workers at once; they get no chance to finish anything."""
        os.killpg(group, signal.SIGKILL)

    def close(self) -> None:
        """End the process that starts servers, and any that still runs."""
        assert self.process.stdin
        self.process.stdin.close()
        self.process.wait(20)
        assert self.process.stdout
        self.process.stdout.close()


@contextmanager
def servers(url: str, threads: int | None = None) -> Iterator[Servers]:
    """Servers on this database, none of which outlives the block."""
    starter = Servers(url, threads)
    try:
        yield starter
    finally:
        starter.close()


class Caller:
    """
    A device that is signed in and sends events.

    Args:
        port: of the server.
        session: key of a session that is in the database.
    """

    def __init__(self, port: int, session: str) -> None:
        self.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
        self.headers = {
            "Content-Type": "application/json",
            "Cookie": f"sessionid={session}; csrftoken={TOKEN}",
            "X-CSRFToken": TOKEN,
        }

    def send(self, shapes: Sequence[Any]) -> list[dict[str, Any]]:
        """
        Send events and give the answers.

        Raises:
            OSError: the server is gone, or answered no whole answer.
            AssertionError: it answered, but not with 200.
        """
        body = json.dumps({"events": shapes})
        try:
            self.connection.request("POST", "/api/events", body, self.headers)
            response = self.connection.getresponse()
            content = response.read()
        except http.client.HTTPException as cut:
            raise OSError(str(cut)) from cut
        assert response.status == 200, (response.status, content[:300])
        answers: list[dict[str, Any]] = json.loads(content)["answers"]
        return answers

    def close(self) -> None:
        """Hang up."""
        self.connection.close()


def session_for(username: str) -> str:
    """Sign somebody in by hand: the key of a new session in the database that Django works on."""
    from django.conf import settings
    from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY

    from cubital.desk.people.sessions import SessionStore
    from cubital.desk.record.models import Person

    person = Person.objects.get(username=username)
    session = SessionStore()
    session[SESSION_KEY] = str(person.pk)
    session[BACKEND_SESSION_KEY] = settings.AUTHENTICATION_BACKENDS[0]
    session[HASH_SESSION_KEY] = person.get_session_auth_hash()
    session.create()
    return str(session.session_key)


def main() -> None:
    """Load the desk once, then fork servers on demand until standard input ends."""
    from cubital.desk.database import use_bundled_sqlite

    use_bundled_sqlite()
    import cubital.cli.serve
    import cubital.desk.wsgi
    from cubital.desk.catalogue.load import catalogue_at
    from cubital.desk.urls import urlpatterns

    assert cubital.desk.wsgi.application
    assert urlpatterns
    catalogue_at("").number("event_ahead_s")
    children: list[int] = []
    for line in sys.stdin:
        child = os.fork()
        if child == 0:
            os.setsid()
            null = os.open(os.devnull, os.O_RDWR)
            for number in (0, 1, 2):
                os.dup2(null, number)
            cubital.cli.serve.serve("127.0.0.1", int(line.split()[1]))
            os._exit(0)
        children.append(child)
        print(child, flush=True)
    for child in children:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(child, signal.SIGKILL)
        with contextlib.suppress(ChildProcessError):
            os.waitpid(child, 0)


if __name__ == "__main__":
    main()
