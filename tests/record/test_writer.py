"""Many senders' events in one commit."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from threading import Barrier, Thread
from typing import Any

import pytest
from django.db import DatabaseError, connections, transaction

from cubital.custody import Answer, Offer
from cubital.desk.record import writer
from cubital.desk.record.events import append_offers
from cubital.desk.record.models import ChainHead
from cubital.desk.record.models import Event as EventRow
from cubital.desk.record.verify import verify
from cubital.desk.record.writer import Writer
from tests.record.small_desk import draw

pytestmark = pytest.mark.usefixtures("database")


def offers(number: int) -> list[Offer]:
    """A whole draw as one sender's events."""
    return [Offer(event, "mira") for event in draw(f"D-{number}", f"S-{number}")]


def at_once(count: int, work: Any) -> list[BaseException]:
    """Run ``work(n)`` in so many threads that start together; gives what went wrong."""
    failed: list[BaseException] = []
    barrier = Barrier(count)

    def run(number: int) -> None:
        try:
            barrier.wait()
            work(number)
        except BaseException as error:  # noqa: BLE001 - shown by the caller's assert
            failed.append(error)
        finally:
            connections.close_all()

    threads = [Thread(target=run, args=(n,)) for n in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return failed


def until(true: Callable[[], bool]) -> None:
    """Wait for something that another thread does."""
    last = time.monotonic() + 10
    while not true():
        assert time.monotonic() < last
        time.sleep(0.001)


def test_each_sender_gets_the_answers_to_its_own_events() -> None:
    """Sixteen senders at once: every answer is there when the call returns, and the chain holds."""
    group = Writer()

    def send(number: int) -> None:
        mine = offers(number)
        answers = group.write(mine)
        assert [a.id for a in answers] == [o.event.id for o in mine]
        assert {str(a.verdict) for a in answers} == {"stored"}
        stored = EventRow.objects.filter(uuid__in=[a.id for a in answers])
        assert dict(stored.values_list("uuid", "sequence")) == {a.id: a.sequence for a in answers}

    assert at_once(16, send) == []
    assert ChainHead.objects.get(site="valley").sequence == 16 * 8
    assert verify().holds


def test_those_who_wait_go_together(monkeypatch: pytest.MonkeyPatch) -> None:
    """While the first commit is under way four more senders come; the next takes all four."""
    sizes: list[int] = []
    group = Writer()

    def counted(batches: Sequence[Sequence[Offer]]) -> list[tuple[Answer, ...]]:
        sizes.append(len(batches))
        if len(sizes) == 1:
            until(lambda: len(group.waiting) == 4)
        return append_offers(batches)

    monkeypatch.setattr(writer, "append_offers", counted)

    def send(number: int) -> None:
        if number:
            until(lambda: bool(sizes))
        group.write(offers(number))

    assert at_once(5, send) == []
    assert sizes == [1, 4]
    assert verify().count == 5 * 8


def test_one_senders_failure_is_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    """A commit fails because of one sender: the others' events are stored all the same."""
    group = Writer()
    poison = offers(2)

    def fails(batches: Sequence[Sequence[Offer]]) -> list[tuple[Answer, ...]]:
        if any(batch is poison for batch in batches):
            raise DatabaseError("the disk is full")
        return append_offers(batches)

    monkeypatch.setattr(writer, "append_offers", fails)
    tickets = [writer.Ticket(offers(1)), writer.Ticket(poison), writer.Ticket(offers(3))]
    group.together(tickets)
    assert all(ticket.done for ticket in tickets)
    assert [bool(ticket.answers) for ticket in tickets] == [True, False, True]
    with pytest.raises(DatabaseError, match="disk is full"):
        group.write(poison)
    assert not EventRow.objects.filter(uuid=poison[0].event.id).exists()


def test_a_commit_that_is_broken_off_acknowledges_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """The thread that commits is torn away: the other, whose events it took along, is told so."""
    group = Writer()

    def torn(_: Sequence[Sequence[Offer]]) -> list[tuple[Answer, ...]]:
        raise SystemExit

    monkeypatch.setattr(writer, "append_offers", torn)
    group.commit.acquire()
    release = Thread(
        target=lambda: (until(lambda: len(group.waiting) == 2), group.commit.release())
    )
    release.start()
    failed = at_once(2, lambda number: group.write(offers(number)))
    release.join()
    assert {type(each) for each in failed} == {SystemExit, DatabaseError}


def test_inside_a_transaction_the_callers_commit_counts() -> None:
    """Nothing is handed to another thread's transaction."""
    group = Writer()
    with transaction.atomic():
        group.write(offers(1))
        transaction.set_rollback(True)
    assert not EventRow.objects.exists()
