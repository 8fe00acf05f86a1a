"""Writes: wrong attempts at the doors of the desk, and how long one must wait after them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction

from cubital.catalogue import Catalogue
from cubital.desk.record.models import Knock

LONGEST_NAME = 255


@dataclass(frozen=True, slots=True)
class Patience:
    """
    How a door answers wrong attempts in a row.

    Args:
        free: so many cost nothing; after each further one the wait doubles, from one second.
        lock_after: so many lock the door.
        lock: for so long.
    """

    free: int
    lock_after: int
    lock: timedelta

    def wait(self, wrong: int) -> timedelta:
        """How long one waits after so many wrong attempts."""
        if wrong >= self.lock_after:
            return self.lock
        if wrong < self.free:
            return timedelta(0)
        return min(timedelta(seconds=2 ** (wrong - self.free)), self.lock)


def patience(catalogue: Catalogue, *, pin: bool = False) -> Patience:
    """The policy of settings.csv, for PINs or for passwords."""
    return Patience(
        free=catalogue.number("wrong_free"),
        lock_after=catalogue.number("pin_lock_after" if pin else "wrong_lock_after"),
        lock=timedelta(seconds=catalogue.number("wrong_lock_s")),
    )


def knock(*, doors: Sequence[str], policy: Patience, now: datetime) -> timedelta:
    """
    Try these doors: count the attempt as wrong until it proves right.

    Counted before anybody looks whether it is right, so that many attempts at once are no way
    round; after a lock that is over the count begins anew.

    Returns:
        How long one must still wait, and then nothing was counted; zero when one may try.
    """
    with transaction.atomic():
        rows = []
        for door in doors:
            row, _ = Knock.objects.select_for_update().get_or_create(
                door=name(door), defaults={"last_at": now}
            )
            rows.append(row)
        waits = [row.last_at + policy.wait(row.wrong) - now for row in rows]
        wait = max([timedelta(0), *waits])
        if wait:
            return wait
        for row in rows:
            over = row.last_at + policy.lock <= now
            row.wrong = 1 if over else row.wrong + 1
            row.last_at = now
            row.save(update_fields=["wrong", "last_at"])
    return timedelta(0)


def knock_right(*, doors: Sequence[str]) -> None:
    """Forget the wrong attempts at these doors."""
    Knock.objects.filter(door__in=[name(door) for door in doors]).delete()


def name(door: str) -> str:
    """A door's name as its column takes it."""
    return door[:LONGEST_NAME]
