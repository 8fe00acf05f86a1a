"""
Writes: many senders' events in one commit.

A commit waits for the disk, and the next cannot begin before it.  So whoever comes while one is
under way waits at the door, and the first of those who waited takes all their events along in the
next.  Each answer is given after the commit that made it durable.
"""

from __future__ import annotations

import logging
from collections import deque
from collections.abc import Sequence
from threading import Lock

from django.db import DatabaseError, connection

from cubital.custody import Answer, Offer
from cubital.desk.record.events import append_offers

log = logging.getLogger(__name__)

MOST = 500
"""Events that go into one commit, beyond which the next takes over."""


class Ticket:
    """One sender's events, and what became of them."""

    __slots__ = ("answers", "done", "error", "offers", "taken")

    def __init__(self, offers: Sequence[Offer]) -> None:
        self.offers = offers
        self.taken = False
        self.done = False
        self.answers: tuple[Answer, ...] = ()
        self.error: Exception | None = None


class Writer:
    """Gathers events of several threads into one transaction after another."""

    def __init__(self) -> None:
        self.waiting: deque[Ticket] = deque()
        self.commit = Lock()

    def write(self, offers: Sequence[Offer]) -> tuple[Answer, ...]:
        """
        Record events; return when they are durable.

        Raises:
            django.db.Error: the database failed; sending the same events again is safe.
        """
        if connection.in_atomic_block:
            return append_offers([offers])[0]
        ticket = Ticket(offers)
        self.waiting.append(ticket)
        with self.commit:
            if not ticket.taken:
                self.together(self.gathered())
        if ticket.error is not None:
            raise ticket.error
        if not ticket.done:
            raise DatabaseError("The commit was broken off; send the events again.")
        return ticket.answers

    def gathered(self) -> list[Ticket]:
        """Take the tickets that wait, oldest first; the caller's own is among them."""
        tickets: list[Ticket] = []
        count = 0
        while self.waiting and (not tickets or count < MOST):
            ticket = self.waiting.popleft()
            ticket.taken = True
            tickets.append(ticket)
            count += len(ticket.offers)
        return tickets

    def together(self, tickets: list[Ticket]) -> None:
        """Record several tickets in one transaction; if that fails, each in one of its own."""
        try:
            for ticket, answers in zip(
                tickets, append_offers([t.offers for t in tickets]), strict=True
            ):
                ticket.answers = answers
        except Exception as error:  # noqa: BLE001 - handed to whoever sent the events
            if len(tickets) == 1:
                tickets[0].error = error
            else:
                log.warning("A commit of %d senders failed; each is tried alone.", len(tickets))
                for ticket in tickets:
                    self.together([ticket])
        for ticket in tickets:
            ticket.done = True


WRITER = Writer()
"""The one of this process: the chains grow one commit after another anyway."""


def offer_events(*, offers: Sequence[Offer]) -> tuple[Answer, ...]:
    """
    Record events, together with those that others send at the same time.

    Use this where many may write at once; :func:`cubital.desk.record.events.append_events` where
    other rows are written in the same transaction.
    """
    return WRITER.write(offers)
