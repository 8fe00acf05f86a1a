"""
Trays of forty tubes at the reception, each scan answered by the real server, beside busy chairs.

Several receivers scan at once, each tube after tube; in every tray one tube is too short and one is
scanned twice.  Beside them chairs send the events of whole draws.  Three mornings:

* quiet: one receiver, no chair;
* busy: receivers with a third of a second between two scans, a dozen chairs, each with an event
  every half second, which is more than hands can do;
* no pause: receivers and chairs go on as soon as they are answered.

Printed and kept in ``benchmarks/results/reception.md``: p50, p95, p99 and the worst answer of a
scan in milliseconds, scans and events a second, and whether every answer was the right one.

    python -m benchmarks.reception [--trays 3] [--receivers 3] [--chairs 12]
"""

from __future__ import annotations

import argparse
import asyncio
import json
import os
import platform
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

GOAL_MS = 100
TUBES = 40
PAUSE_S = 0.3
CHAIR_PAUSE_S = 0.5
RESULTS = Path(__file__).parent / "results" / "reception.md"
HEAD = (
    f"{'':<30}{'scans':>7}{'p50 ms':>9}{'p95 ms':>9}{'p99 ms':>9}{'worst':>9}{'scans/s':>9}"
    f"{'events/s':>10}{'wrong':>7}"
)


@dataclass(frozen=True, slots=True)
class Scan:
    """One scan, and the kind of answer that it must get."""

    code: str
    kind: str


@dataclass
class Measured:
    """Answers to scans, and what the chairs sent meanwhile."""

    name: str
    latencies: list[float] = field(default_factory=list)
    wrong: Counter[str] = field(default_factory=Counter)
    events: int = 0
    seconds: float = 0.0

    def ms(self, share: float) -> float:
        """The latency below which this share lies, in milliseconds."""
        ordered = sorted(self.latencies)
        return ordered[min(len(ordered) - 1, int(len(ordered) * share))] * 1000

    def cells(self) -> list[str]:
        """The figures of one line."""
        return [
            str(len(self.latencies)),
            f"{self.ms(0.5):.1f}",
            f"{self.ms(0.95):.1f}",
            f"{self.ms(0.99):.1f}",
            f"{max(self.latencies) * 1000:.1f}",
            f"{len(self.latencies) / self.seconds:.1f}",
            f"{self.events / self.seconds:.1f}",
            str(sum(self.wrong.values())),
        ]

    def line(self) -> str:
        """One line of the table."""
        widths = (7, 9, 9, 9, 9, 9, 10, 7)
        cells = zip(self.cells(), widths, strict=True)
        return f"{self.name:<30}" + "".join(f"{cell:>{width}}" for cell, width in cells)


# ------------------------------------------------------------------ what is scanned


def fill() -> None:
    """The invented clinic."""
    from django.conf import settings
    from django.utils import timezone

    from cubital.desk.demo.fill import demo_fill

    settings.DEMO = True
    demo_fill(now=timezone.now())


def trays(count: int) -> list[list[Scan]]:
    """Trays of forty tubes; in each one is too short, and one is scanned twice."""
    from tests.desk.way import drawn, requisition

    kinds = (
        ("gel-3.5", ["sodium", "potassium", "creatinine", "crp", "alt"]),
        ("edta-3", ["fbc"]),
        ("fluoride-2", ["glucose"]),
        ("citrate-2.7", ["pt-inr"]),
    )
    made = []
    for number in range(count):
        row = requisition(1 + number % 2)
        ago = timedelta(minutes=20)
        good = drawn(row, *[kinds[n % 4] for n in range(TUBES - 1)], ago=ago)
        (short,) = drawn(row, kinds[3], fill="short", volume_ul=1200, ago=ago)
        tray = [Scan(code, "good") for code in good]
        tray.insert(17, Scan(short, "stop"))
        tray.insert(25, Scan(good[3], "twice"))
        made.append(tray)
    return made


def draws(count: int, prefix: str) -> list[list[bytes]]:
    """For each chair the requests of its draws, four tubes each, one event a request."""
    from tests.desk.way import VALLEY, made

    from cubital.custody import event_to
    from cubital.desk.record.models import Requisition

    row = Requisition.objects.select_related("patient").get(number__endswith="D01")
    work = []
    for chair in range(count):
        bodies = []
        for turn in range(12):
            at = datetime.now().astimezone()
            code = f"{prefix}-{chair}-{turn}"
            common: dict[str, Any] = {"site": VALLEY, "who": "mira", "at": at}
            events = [
                made("draw_begun", f"draw:{code}", patient=row.patient.number,
                     requisition=row.number, **common),
                made("identity_confirmed", f"draw:{code}", identifiers=["name"], **common),
                made("attempt_begun", f"attempt:{code}", draw=code, gauge=21, **common),
            ]  # fmt: skip
            for tube in range(4):
                subject = f"specimen:{code}-{tube}"
                events += [
                    made("tube_scanned", subject, draw=code, patient=row.patient.number,
                         container="edta-3", tests=["fbc"], **common),
                    made("tube_filled", subject, fill="full", **common),
                    made("label_matched", subject, **common),
                ]  # fmt: skip
            events += [
                made("attempt_ended", f"attempt:{code}", draw=code, success=True, **common),
                made("draw_finished", f"draw:{code}", **common),
            ]
            bodies += [json.dumps({"events": [event_to(each)]}).encode() for each in events]
        work.append(bodies)
    return work


# ------------------------------------------------------------------ who sends it


class Line:
    """A connection that is kept open."""

    def __init__(self, port: int, session: str) -> None:
        from tests.serving import TOKEN

        self.port = port
        self.head = (
            "Host: 127.0.0.1\r\n"
            f"Cookie: sessionid={session}; csrftoken={TOKEN}\r\nX-CSRFToken: {TOKEN}\r\n"
        )

    async def open(self) -> None:
        """Connect."""
        self.reader, self.writer = await asyncio.open_connection("127.0.0.1", self.port)

    async def post(self, path: str, body: bytes, more: str) -> tuple[bytes, bytes]:
        """Send a request; gives the status line and the content."""
        head = f"POST {path} HTTP/1.1\r\n{self.head}{more}Content-Length: {len(body)}\r\n\r\n"
        self.writer.write(head.encode() + body)
        status = await self.reader.readline()
        length = 0
        while (line := await self.reader.readline()) not in (b"\r\n", b""):
            if line.lower().startswith(b"content-length:"):
                length = int(line.split(b":")[1])
        return status, await self.reader.readexactly(length)


FORM = "Content-Type: application/x-www-form-urlencoded\r\nHX-Request: true\r\n"
JSON = "Content-Type: application/json\r\n"


async def receiver(
    line: Line, work: Sequence[Scan], pause_s: float, start: asyncio.Event, found: Measured
) -> None:
    """One receiver: scans a tube, waits for the answer, takes the next."""
    await line.open()
    await start.wait()
    for each in work:
        body = urlencode({"text": each.code}).encode()
        begin = time.perf_counter()
        status, content = await line.post("/reception/scan/", body, FORM)
        found.latencies.append(time.perf_counter() - begin)
        if b" 200 " not in status or f'data-kind="{each.kind}"'.encode() not in content:
            found.wrong[f"{each.kind}: {content[:200].decode(errors='replace')}"] += 1
        await asyncio.sleep(pause_s)


async def chair(
    line: Line, bodies: Sequence[bytes], pause_s: float, start: asyncio.Event, found: Measured
) -> None:
    """One chair: sends an event, waits for the answer, sends the next, until it is stopped."""
    await line.open()
    await start.wait()
    for body in bodies:
        status, content = await line.post("/api/events", body, JSON)
        if b" 200 " not in status or b'"verdict": "stored"' not in content:
            found.wrong[f"chair: {content[:200].decode(errors='replace')}"] += 1
        found.events += 1
        await asyncio.sleep(pause_s)


async def morning(
    port: int,
    sessions: dict[str, str],
    work: Sequence[Sequence[Scan]],
    chairs: Sequence[Sequence[bytes]],
    pauses: tuple[float, float],
    found: Measured,
) -> None:
    """Let everybody begin at once; the chairs stop when the last tray is done."""
    start = asyncio.Event()
    receivers = [
        asyncio.create_task(receiver(Line(port, sessions["joren"]), each, pauses[0], start, found))
        for each in work
    ]
    sitting = [
        asyncio.create_task(chair(Line(port, sessions["mira"]), each, pauses[1], start, found))
        for each in chairs
    ]
    await asyncio.sleep(0.5)
    begin = time.perf_counter()
    start.set()
    await asyncio.gather(*receivers)
    found.seconds = time.perf_counter() - begin
    for each in sitting:
        each.cancel()
    await asyncio.gather(*sitting, return_exceptions=True)


# ------------------------------------------------------------------ the table


def measure(url: str, asked: argparse.Namespace) -> list[Measured]:
    """Measure the three mornings."""
    from tests.postgres import default_database, free_port
    from tests.serving import servers, session_for

    count = asked.receivers * asked.trays
    with default_database(url):
        fill()
        sessions = {name: session_for(name) for name in ("joren", "mira")}
        warm = trays(1)
        plan = {
            "quiet": (trays(asked.trays), draws(0, "q"), (0.0, 0.0), 1),
            "busy": (trays(count), draws(asked.chairs, "b"), (PAUSE_S, CHAIR_PAUSE_S), 0),
            "no pause": (trays(count), draws(asked.chairs, "n"), (0.0, 0.0), 0),
        }
    found = []
    with servers(url) as starter:
        port = free_port()
        starter.start(port)
        asyncio.run(morning(port, sessions, warm, [], (0.0, 0.0), Measured("warm")))
        for name, (work, chairs, pauses, alone) in plan.items():
            people = 1 if alone else asked.receivers
            each = [[scan for tray in work[n::people] for scan in tray] for n in range(people)]
            one = Measured(f"{name}: {people} receivers, {len(chairs)} chairs")
            asyncio.run(morning(port, sessions, each, chairs, pauses, one))
            print(one.line(), flush=True)
            for said, times in one.wrong.most_common(3):
                print(f"    wrong {times} times: {said}")
            found.append(one)
    return found


def kept(found: Sequence[Measured], load: float) -> str:
    """The page that is kept; ``load`` is what else the machine did when it began."""
    busy = found[1]
    verdict = "kept" if busy.ms(0.95) < GOAL_MS else "NOT kept"
    rows = "\n".join(f"| {each.name} | " + " | ".join(each.cells()) + " |" for each in found)
    return f"""# Trays at the reception

Made by `python -m benchmarks.reception` on {datetime.now().astimezone():%Y-%m-%d}, Python
{platform.python_version()}, {os.cpu_count()} cores, the real server with its own settings on SQLite
(WAL, synchronous=FULL); load average before it began: {load:.1f}.  Every scan is received, judged
and accepted in one durable transaction; one tube of each tray is too short, one is scanned twice.

| | scans | p50 ms | p95 ms | p99 ms | worst ms | scans/s | chairs' events/s | wrong answers |
|---|---|---|---|---|---|---|---|---|
{rows}

Goal: p95 under {GOAL_MS} ms under the load of a busy morning: {verdict}.  "Busy" leaves {PAUSE_S} s
between two scans of a receiver and {CHAIR_PAUSE_S} s between two events of a chair; in "no pause"
everybody goes on as soon as they are answered, which no hand can do.
"""


def main(arguments: list[str] | None = None) -> None:
    """Print the table and keep it."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("--trays", type=int, default=3, help="of forty tubes, for each receiver")
    parser.add_argument("--receivers", type=int, default=3)
    parser.add_argument("--chairs", type=int, default=12)
    parser.add_argument("--keep", default=RESULTS, type=Path, help="the page to write")
    asked = parser.parse_args(arguments)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    import django

    django.setup()
    from tests.postgres import Databases

    with tempfile.TemporaryDirectory(prefix="cubital-reception-") as folder:
        made = Databases(Path(folder), lambda: "")
        print(HEAD)
        before = os.getloadavg()[0]
        found = measure(made.new("sqlite"), asked)
    asked.keep.write_text(kept(found, before), "utf-8")


if __name__ == "__main__":
    from cubital.desk.database import use_bundled_sqlite

    use_bundled_sqlite()
    main(sys.argv[1:])
