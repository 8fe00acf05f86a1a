"""
From a scan to its durable answer, with a hundred chairs at once.

In one run, beside each other on the same disk:

* the bare floor: one writer, an fsync of the bytes of one event;
* the plain floor: as many connections as there are chairs, each a durable INSERT of the same bytes
  into a table with nothing else to it, in the same database;
* cubital: as many chairs, each signed in, each sending one event after another of whole draws to
  the real server, and going on only when it is answered.

Printed: p50, p95, p99 in milliseconds, events per second, errors, and the ratio of cubital's p95 to
the plain INSERT's.  The floor is measured before and after and both halves count.

    python -m benchmarks.events [--chairs 100] [--draws 6] [--vendor sqlite --vendor postgresql]
"""

from __future__ import annotations

import argparse
import asyncio
import json
import os
import sqlite3
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

GOAL = 5.0
"""cubital's p95 should be within this many times the plain INSERT's."""
VENDORS = ("sqlite", "postgresql")


@dataclass
class Measured:
    """Latencies in seconds, the time it all took, and what failed."""

    name: str
    latencies: list[float] = field(default_factory=list)
    seconds: float = 0.0
    errors: int = 0

    def ms(self, share: float) -> float:
        """The latency below which this share lies, in milliseconds."""
        ordered = sorted(self.latencies)
        return ordered[min(len(ordered) - 1, int(len(ordered) * share))] * 1000

    @property
    def rate(self) -> float:
        """Events a second."""
        return len(self.latencies) / self.seconds

    def line(self) -> str:
        """One line of the table."""
        return (
            f"{self.name:<34}{self.ms(0.5):>9.2f}{self.ms(0.95):>9.2f}{self.ms(0.99):>9.2f}"
            f"{self.rate:>10.0f}{self.errors:>8}"
        )


HEAD = f"{'':<34}{'p50 ms':>9}{'p95 ms':>9}{'p99 ms':>9}{'events/s':>10}{'errors':>8}"


def fsync_floor(folder: Path, content: bytes, times: int) -> Measured:
    """Append the bytes of one event and wait for the disk, again and again."""
    found = Measured("fsync, one writer")
    handle = os.open(folder / "floor", os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    begin = time.perf_counter()
    for _ in range(times):
        start = time.perf_counter()
        os.write(handle, content)
        os.fsync(handle)
        found.latencies.append(time.perf_counter() - start)
    found.seconds = time.perf_counter() - begin
    os.close(handle)
    return found


def insert_floor(found: Measured, url: str, content: str, chairs: int, each: int) -> None:
    """As many connections as chairs, each inserting durably; adds to what was found before."""
    connect = sqlite_inserter if url.startswith("sqlite") else postgres_inserter
    barrier = threading.Barrier(chairs + 1)
    lock = threading.Lock()

    def work() -> None:
        insert = connect(url, content)
        barrier.wait()
        mine: list[float] = []
        failed = 0
        for _ in range(each):
            start = time.perf_counter()
            try:
                insert()
            except Exception:  # noqa: BLE001 - counted
                failed += 1
            mine.append(time.perf_counter() - start)
        with lock:
            found.latencies += mine
            found.errors += failed

    threads = [threading.Thread(target=work) for _ in range(chairs)]
    for thread in threads:
        thread.start()
    barrier.wait()
    begin = time.perf_counter()
    for thread in threads:
        thread.join()
    found.seconds += time.perf_counter() - begin


def sqlite_inserter(url: str, content: str) -> Callable[[], None]:
    """A connection with the desk's own settings; each call is a transaction."""
    connection = sqlite3.connect(url.removeprefix("sqlite:///"), timeout=20, isolation_level=None)
    for pragma in ("journal_mode=WAL", "synchronous=FULL"):
        connection.execute(f"PRAGMA {pragma}")
    connection.execute("CREATE TABLE IF NOT EXISTS floor (id INTEGER PRIMARY KEY, body TEXT)")

    def insert() -> None:
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("INSERT INTO floor (body) VALUES (?)", (content,))
        connection.execute("COMMIT")

    return insert


def postgres_inserter(url: str, content: str) -> Callable[[], None]:
    """A connection in autocommit; each call is a transaction."""
    import psycopg

    connection = psycopg.connect(url, autocommit=True)

    def insert() -> None:
        connection.execute("INSERT INTO floor (body) VALUES (%s)", (content,))

    return insert


def floor_table(url: str) -> None:
    """Make the plain table."""
    if not url.startswith("sqlite"):
        import psycopg

        with psycopg.connect(url, autocommit=True) as connection:
            connection.execute("CREATE TABLE IF NOT EXISTS floor (id BIGSERIAL PRIMARY KEY,"
                               " body TEXT)")  # fmt: skip


# ------------------------------------------------------------------ the chairs


async def chair(
    port: int, session: str, bodies: list[bytes], start: asyncio.Event, found: Measured
) -> None:
    """One chair: sends an event, waits for the answer, sends the next."""
    from tests.serving import TOKEN

    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    head = (
        "POST /api/events HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\n"
        f"Cookie: sessionid={session}; csrftoken={TOKEN}\r\nX-CSRFToken: {TOKEN}\r\n"
        "Content-Length: "
    ).encode()
    await start.wait()
    for body in bodies:
        begin = time.perf_counter()
        writer.write(b"%b%d\r\n\r\n%b" % (head, len(body), body))
        status = await reader.readline()
        length = 0
        while (line := await reader.readline()) not in (b"\r\n", b""):
            if line.lower().startswith(b"content-length:"):
                length = int(line.split(b":")[1])
        answer = await reader.readexactly(length)
        found.latencies.append(time.perf_counter() - begin)
        if b" 200 " not in status or b'"verdict": "stored"' not in answer:
            found.errors += 1
    writer.close()


async def all_chairs(
    port: int, sessions: list[str], work: list[list[bytes]], found: Measured
) -> None:
    """Let every chair begin at the same moment, and wait for the last."""
    start = asyncio.Event()
    tasks = [
        asyncio.create_task(chair(port, session, each, start, found))
        for session, each in zip(sessions, work, strict=True)
    ]
    await asyncio.sleep(0.3)
    begin = time.perf_counter()
    start.set()
    await asyncio.gather(*tasks)
    found.seconds += time.perf_counter() - begin


def bodies(chairs: int, draws: int, prefix: str) -> list[list[bytes]]:
    """For each chair the requests of its draws, four tubes each, one event a request."""
    from tests.record.small_desk import draw

    from cubital.custody import event_to

    work = []
    for number in range(chairs):
        events = []
        for turn in range(draws):
            name = f"{prefix}{number}-{turn}"
            events += draw(f"D-{name}", *(f"S-{name}-{tube}" for tube in range(4)))
        work.append([json.dumps({"events": [event_to(each)]}).encode() for each in events])
    return work


def measure(vendor: str, url: str, chairs: int, draws: int, threads: int | None) -> float:
    """Measure one database and print its part of the table; gives the ratio of the p95s."""
    from tests.postgres import default_database, free_port
    from tests.record.small_desk import fill
    from tests.serving import servers, session_for

    with default_database(url):
        fill()
        sessions = [session_for("mira") for _ in range(chairs)]
    floor_table(url)
    content = bodies(1, 1, "x")[0][5].decode()
    floor = Measured(f"{vendor}: plain INSERT x {chairs}")
    desk = Measured(f"{vendor}: cubital, {chairs} chairs")
    each = max(10, draws * 10)
    with servers(url, threads) as starter:
        port = free_port()
        starter.start(port)
        asyncio.run(all_chairs(port, sessions, bodies(chairs, 1, "w"), Measured("warm")))
        insert_floor(floor, url, content, chairs, each)
        asyncio.run(all_chairs(port, sessions, bodies(chairs, draws, "m"), desk))
        insert_floor(floor, url, content, chairs, each)
    print(floor.line())
    print(desk.line())
    ratio = desk.ms(0.95) / floor.ms(0.95)
    print(f"{'':<34}p95 ratio {ratio:.2f}, p50 ratio {desk.ms(0.5) / floor.ms(0.5):.2f}"
          f" (goal: p95 within {GOAL:.0f})")  # fmt: skip
    return ratio


def main(arguments: list[str] | None = None) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("--chairs", type=int, default=100)
    parser.add_argument("--draws", type=int, default=3, help="draws of four tubes a chair")
    parser.add_argument("--threads", type=int, default=None, help="of the server")
    parser.add_argument("--vendor", action="append", choices=VENDORS)
    asked = parser.parse_args(arguments)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    import django

    django.setup()
    from tests.postgres import Databases, postgres

    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="cubital-events-")))
        started: list[str] = []

        def server() -> str:
            if not started:
                started.append(stack.enter_context(postgres(durable=True)))
            return started[0]

        made = Databases(folder, server)
        print(HEAD)
        print(fsync_floor(folder, bodies(1, 1, "x")[0][5], 500).line())
        for vendor in asked.vendor or VENDORS:
            measure(vendor, made.new(vendor), asked.chairs, asked.draws, asked.threads)


def table(rows: list[dict[str, Any]]) -> str:
    """The rows as JSON lines, for keeping."""
    return "\n".join(json.dumps(row) for row in rows)


if __name__ == "__main__":
    from cubital.desk.database import use_bundled_sqlite

    use_bundled_sqlite()
    main(sys.argv[1:])
