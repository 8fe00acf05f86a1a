"""
From a scan to its durable answer, with a hundred chairs at once.

In one run, beside each other on the same disk:

* the bare floor: one writer, an fsync of the bytes of one event;
* the plain floor: as many connections as there are chairs, each a durable INSERT of the same bytes
  into a table with nothing else to it, in the same database;
* cubital: as many chairs, each signed in, each sending one event after another of whole draws to
  the real server, and going on only when it is answered.

Twice: at a pace (every chair scans once a second, which no hand does for long; a late answer counts
from the moment of the scan), and flat out (nobody waits between scans: what the machine can bear).
The floor is measured before and after cubital, and both halves count.  The page lands in
``benchmarks/results/events.md``.

Flat out on SQLite, read the plain INSERT's p99 and its rate: a writer that meets a lock sleeps
while another goes on, so most of its INSERTs are fast and some wait for seconds.

    python -m benchmarks.events [--chairs 100] [--seconds 10] [--draws 2] [--vendor sqlite]
"""

from __future__ import annotations

import argparse
import asyncio
import json
import os
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

RESULTS = Path(__file__).parent / "results" / "events.md"
GOAL = 5.0
"""cubital's p95 should be within this many times the plain INSERT's."""
PACE_S = 1.0
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
            f"{self.name:<44}{self.ms(0.5):>9.2f}{self.ms(0.95):>9.2f}{self.ms(0.99):>9.2f}"
            f"{self.rate:>10.0f}{self.errors:>8}"
        )


HEAD = f"{'':<44}{'p50 ms':>9}{'p95 ms':>9}{'p99 ms':>9}{'events/s':>10}{'errors':>8}"


@dataclass(frozen=True)
class Load:
    """
    How the chairs work.

    Args:
        name: in the table.
        chairs: at once.
        each: events that each sends.
        pace_s: from one scan to the next, 0 for as fast as answers come.
    """

    name: str
    chairs: int
    each: int
    pace_s: float

    def due(self, number: int) -> list[float]:
        """When each scan of a chair is due, in seconds after the beginning; empty flat out."""
        if not self.pace_s:
            return []
        first = Random(number).uniform(0, self.pace_s)
        return [first + turn * self.pace_s for turn in range(self.each)]


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


# ------------------------------------------------------------------ the plain INSERT


def insert_floor(found: Measured, url: str, content: str, load: Load) -> None:
    """As many connections as chairs, each inserting durably; adds to what was found before."""
    connect = sqlite_inserter if url.startswith("sqlite") else postgres_inserter
    barrier = threading.Barrier(load.chairs + 1)
    lock = threading.Lock()

    def work(number: int) -> None:
        insert = connect(url, content)
        barrier.wait()
        begin, due = time.perf_counter(), load.due(number)
        mine: list[float] = []
        failed = 0
        for turn in range(load.each):
            start = time.perf_counter()
            if due:
                start = begin + due[turn]
                time.sleep(max(0.0, start - time.perf_counter()))
            try:
                insert()
            except Exception:  # noqa: BLE001 - counted
                failed += 1
            mine.append(time.perf_counter() - start)
        with lock:
            found.latencies += mine
            found.errors += failed

    threads = [threading.Thread(target=work, args=(n,)) for n in range(load.chairs)]
    for thread in threads:
        thread.start()
    barrier.wait()
    begin = time.perf_counter()
    for thread in threads:
        thread.join()
    found.seconds += time.perf_counter() - begin


def sqlite_inserter(url: str, content: str) -> Callable[[], None]:
    """A connection with the desk's own settings; each call is a transaction."""
    import sqlite3  # the bundled one, which the desk's settings have put in its place

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
    """Make the plain table, where an inserter does not make it itself."""
    if not url.startswith("sqlite"):
        import psycopg

        with psycopg.connect(url, autocommit=True) as connection:
            connection.execute("CREATE TABLE floor (id BIGSERIAL PRIMARY KEY, body TEXT)")


# ------------------------------------------------------------------ the chairs


async def chair(
    port: int, session: str, work: list[bytes], due: list[float], start: asyncio.Event,
    found: Measured,
) -> None:  # fmt: skip
    """One chair: sends an event, waits for the answer, sends the next when it is due."""
    from tests.serving import TOKEN

    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    head = (
        "POST /api/events HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\n"
        f"Cookie: sessionid={session}; csrftoken={TOKEN}\r\nX-CSRFToken: {TOKEN}\r\n"
        "Content-Length: "
    ).encode()
    await start.wait()
    beginning = time.perf_counter()
    for turn, body in enumerate(work):
        begin = time.perf_counter()
        if due:
            begin = beginning + due[turn]
            await asyncio.sleep(begin - time.perf_counter())
        writer.write(b"%b%d\r\n\r\n%b" % (head, len(body), body))
        status = await reader.readline()
        length = 0
        while (line := await reader.readline()) not in (b"\r\n", b""):
            if line.lower().startswith(b"content-length:"):
                length = int(line.split(b":")[1])
        answer = await reader.readexactly(length)
        found.latencies.append(time.perf_counter() - begin)
        if b" 200 " not in status or b'"stored"' not in answer:
            found.errors += 1
    writer.close()


async def all_chairs(
    port: int, sessions: list[str], work: list[list[bytes]], load: Load, found: Measured
) -> None:
    """Let every chair begin at the same moment, and wait for the last."""
    start = asyncio.Event()
    tasks = [
        asyncio.create_task(chair(port, session, each, load.due(n), start, found))
        for n, (session, each) in enumerate(zip(sessions, work, strict=True))
    ]
    await asyncio.sleep(0.3)
    begin = time.perf_counter()
    start.set()
    await asyncio.gather(*tasks)
    found.seconds += time.perf_counter() - begin


def bodies(load: Load, prefix: str) -> list[list[bytes]]:
    """For each chair its requests: one event each, of draws of four tubes."""
    from tests.record.small_desk import draw

    from cubital.custody import event_to

    work = []
    for number in range(load.chairs):
        events, turn = [], 0
        while len(events) < load.each:
            turn += 1
            name = f"{prefix}{number}-{turn}"
            events += draw(f"D-{name}", *(f"S-{name}-{tube}" for tube in range(4)))
        chosen = events[: load.each]
        work.append([json.dumps({"events": [event_to(each)]}).encode() for each in chosen])
    return work


# ------------------------------------------------------------------ both, beside each other


def measure(vendor: str, url: str, loads: list[Load], threads: int | None) -> list[str]:
    """Measure one database and print its part of the table; gives its lines."""
    from tests.postgres import default_database, free_port
    from tests.record.small_desk import fill
    from tests.serving import servers, session_for

    with default_database(url):
        fill()
        sessions = [session_for("mira") for _ in range(max(load.chairs for load in loads))]
    floor_table(url)
    content = bodies(Load("", 1, 6, 0), "x")[0][5].decode()
    lines: list[str] = []
    with servers(url, threads) as starter:
        port = free_port()
        starter.start(port)
        warm = Load("warm", loads[0].chairs, 17, 0)
        asyncio.run(all_chairs(port, sessions, bodies(warm, "w"), warm, Measured("warm")))
        for number, load in enumerate(loads):
            floor = Measured(f"{vendor}, {load.name}: plain INSERT")
            desk = Measured(f"{vendor}, {load.name}: cubital")
            insert_floor(floor, url, content, load)
            asyncio.run(all_chairs(port, sessions, bodies(load, f"m{number}-"), load, desk))
            insert_floor(floor, url, content, load)
            lines += show(floor, desk)
    return lines


def show(floor: Measured, desk: Measured) -> list[str]:
    """Print the two lines and their ratios."""
    ratios = ", ".join(
        f"p{share * 100:.0f} {desk.ms(share) / floor.ms(share):.2f}" for share in (0.5, 0.95, 0.99)
    )
    rates = f"events/s {desk.rate / floor.rate:.2f} (goal: p95 within {GOAL:.0f})"
    lines = [floor.line(), desk.line(), f"  cubital / plain INSERT: {ratios}, {rates}"]
    print("\n".join(lines), flush=True)
    return lines


def main(arguments: list[str] | None = None) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description="From a scan to its durable answer.")
    parser.add_argument("--chairs", type=int, default=100)
    parser.add_argument("--seconds", type=int, default=10, help="at a pace of one scan a second")
    parser.add_argument("--draws", type=int, default=2, help="draws of four tubes, flat out")
    parser.add_argument("--threads", type=int, default=None, help="of the server")
    parser.add_argument("--vendor", action="append", choices=VENDORS)
    asked = parser.parse_args(arguments)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    from cubital.desk.database import use_bundled_sqlite

    use_bundled_sqlite()
    import django

    django.setup()
    from tests.postgres import Databases, postgres

    loads = [
        Load(f"{asked.chairs} chairs at a pace", asked.chairs, asked.seconds, PACE_S),
        Load(f"{asked.chairs} flat out", asked.chairs, asked.draws * 17, 0),
    ]
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="cubital-events-")))
        started: list[str] = []

        def server() -> str:
            if not started:
                started.append(stack.enter_context(postgres(durable=True)))
            return started[0]

        made = Databases(folder, server)
        bare = fsync_floor(folder, bodies(Load("", 1, 6, 0), "x")[0][5], 500).line()
        print(HEAD, bare, sep="\n", flush=True)
        lines = [HEAD, bare]
        for vendor in asked.vendor or VENDORS:
            lines += measure(vendor, made.new(vendor), loads, asked.threads)
    RESULTS.parent.mkdir(exist_ok=True)
    RESULTS.write_text(page(lines, asked.chairs), encoding="utf-8")


def page(lines: list[str], chairs: int) -> str:
    """The results as a page."""
    table = "\n".join(lines)
    return f"""# From a scan to its durable answer

Written by `python -m benchmarks.events`: {chairs} chairs at once against the real server, beside as
many connections that each make a plain durable INSERT of the same bytes in the same database, and
beside the bare fsync. At a pace: one scan a second a chair. Flat out: the next scan at once.

```
{table}
```
"""


if __name__ == "__main__":
    main(sys.argv[1:])
