"""
The server is killed a hundred times in the middle of its work; nothing it acknowledged is lost.

Eight chairs send the events of whole draws, each event in a request of its own, and send again what
they got no answer to, as an outbox does.  The server that answers them is the real one, and is
killed with SIGKILL, workers and all, at a random moment, again and again.
"""

from __future__ import annotations

import time
from random import Random
from threading import Event, Lock, Thread
from typing import Any

from django.db import connection

from cubital.custody import event_to
from cubital.desk.record.models import Event as EventRow
from cubital.desk.record.rebuild import rebuild
from cubital.desk.record.verify import verify
from tests.postgres import free_port
from tests.record.small_desk import draw
from tests.serving import Caller, servers, session_for

KILLS = 100
CHAIRS = 8


class Chair:
    """
    An outbox that keeps sending.

    Args:
        number: of the chair.
        session: of whoever is signed in there.
        street: where the server is now.
    """

    def __init__(self, number: int, session: str, street: Street) -> None:
        self.number = number
        self.session = session
        self.street = street
        self.acknowledged: list[str] = []
        self.made: list[str] = []
        self.cut = 0
        self.wrong: list[Any] = []
        self.outbox: list[dict[str, Any]] = []
        self.thread = Thread(target=self.run)

    def run(self) -> None:
        """Send until told to stop; then until the outbox is empty."""
        turn = 0
        caller: Caller | None = None
        port = 0
        while self.outbox or not self.street.closing.is_set():
            if not self.outbox:
                turn += 1
                self.fill(turn)
            if caller is None or port != self.street.port:
                port = self.street.port
                caller = Caller(port, self.session)
            try:
                (answer,) = caller.send(self.outbox[:1])
            except OSError as error:
                self.cut += not isinstance(error, ConnectionRefusedError)
                caller.close()
                caller = None
                time.sleep(0.005)
                continue
            except AssertionError as error:
                self.wrong.append(error)
                return
            if answer["verdict"] == "refused":
                self.wrong.append(answer)
                return
            self.acknowledged.append(answer["id"])
            self.outbox.pop(0)
        if caller is not None:
            caller.close()

    def fill(self, turn: int) -> None:
        """The next patient."""
        name = f"{self.number}-{turn}"
        events = draw(f"D-{name}", f"S-{name}a", f"S-{name}b")
        self.made += [event.id for event in events]
        self.outbox = [dict(event_to(event)) for event in events]


class Street:
    """Where the server is now, and whether the day is over."""

    def __init__(self) -> None:
        self.port = 0
        self.closing = Event()
        self.lock = Lock()


def answered(chairs: list[Chair]) -> None:
    """Wait for the new server's first answer; every fifth is killed without waiting for one."""
    before = sum(len(chair.acknowledged) for chair in chairs)
    last = time.monotonic() + 20
    while sum(len(chair.acknowledged) for chair in chairs) == before:
        assert time.monotonic() < last, [chair.wrong for chair in chairs]
        time.sleep(0.002)


def stored(ids: list[str]) -> set[str]:
    """Which of these events the record holds."""
    return set(EventRow.objects.filter(uuid__in=ids).values_list("uuid", flat=True))


def test_nothing_acknowledged_is_lost_when_the_server_is_killed(database: str) -> None:
    """
    After every one of the kills each acknowledged event is there; in the end every event that was
    made is there once, in its chair's order, the chain holds, and the projections agree.
    """
    random, street = Random(20261125), Street()
    chairs = [Chair(n, session_for("mira"), street) for n in range(CHAIRS)]
    checked: list[int] = [0] * CHAIRS
    with servers(database) as starter:
        for kill in range(KILLS):
            street.port = free_port()
            group = starter.start(street.port)
            if kill == 0:
                for chair in chairs:
                    chair.thread.start()
            if kill % 5:
                answered(chairs)
            time.sleep(random.uniform(0, 0.15))
            starter.kill(group)
            for n, chair in enumerate(chairs):
                fresh = chair.acknowledged[checked[n] :]
                assert stored(fresh) == set(fresh)
                checked[n] += len(fresh)
            assert [chair.wrong for chair in chairs] == [[]] * CHAIRS
        street.port = free_port()
        starter.start(street.port)
        street.closing.set()
        for chair in chairs:
            chair.thread.join(60)
    assert [chair.wrong for chair in chairs] == [[]] * CHAIRS
    assert sum(checked) > 2 * KILLS, "the kills fell into an idle server"
    assert sum(chair.cut for chair in chairs) > KILLS, "the kills cut nothing off"
    rows = list(EventRow.objects.order_by("position").values_list("uuid", flat=True))
    for chair in chairs:
        mine = set(chair.made)
        assert [uuid for uuid in rows if uuid in mine] == chair.made == chair.acknowledged
    assert len(rows) == sum(len(chair.made) for chair in chairs)
    assert verify().holds
    assert rebuild(only_compare=True).equal
    assert connection.vendor in database
