"""The desk's own lake: made anew from the record in the background, telling how far it is."""

from __future__ import annotations

import json
import logging
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from threading import Lock, Thread

from django.conf import settings
from django.db import DatabaseError, connection

from cubital.custody import Recorded
from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.record import selectors_quality as quality
from cubital.errors import CubitalError
from cubital.indicators.lake import SITES, write_lake
from cubital.indicators.rows import lake_rows

log = logging.getLogger(__name__)
STAMP = "made.json"
EVERY = 5000
"""Events between two words of how far it is."""
Tell = Callable[[str], None]


def folder() -> Path:
    """Where the lake lies."""
    return Path(settings.LAKE)


@dataclass(frozen=True, slots=True)
class Made:
    """
    What the lake was made from.

    Args:
        at: when.
        upto: place of the last event that went in.
        edition: of the tables.
    """

    at: datetime
    upto: int
    edition: str

    @property
    def stamp(self) -> str:
        """Tells one making from another."""
        return f"{self.at.isoformat()} {self.upto} {self.edition}"


def made() -> Made | None:
    """
    When the lake was made last by the desk, None when it never was or nobody can tell.

    A lake that was exported by hand since then is another one.
    """
    try:
        if (folder() / SITES).stat().st_mtime_ns > (folder() / STAMP).stat().st_mtime_ns:
            return None
        said = json.loads((folder() / STAMP).read_text("utf-8"))
        return Made(datetime.fromisoformat(said["at"]), int(said["upto"]), str(said["edition"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None


def lake_make(*, now: datetime, tell: Tell) -> Made:
    """
    Make the lake anew from everything on record.

    Args:
        now: a specimen on its way for too long by now is not received.
        tell: hears how far it is, in words.

    Raises:
        InputError: the folder holds something else, or cannot be written.
    """
    catalogue = catalogue_at("")
    upto = quality.last_position()
    sites = quality.lake_sites()
    rows = lake_rows(
        counted(quality.recorded_all(), upto, tell),
        catalogue,
        sites=sites,
        requested=quality.lake_requested(),
        now=now,
    )
    tell(f"Writing {len(rows.specimens):,} specimens and {len(rows.draws):,} draws.")
    write_lake(folder(), rows, sites=sites, edition=catalogue.edition)
    result = Made(now, upto, catalogue.edition)
    said = {"at": now.isoformat(), "upto": upto, "edition": catalogue.edition}
    unfinished = folder() / f".{STAMP}"
    unfinished.write_text(json.dumps(said), "utf-8")
    unfinished.replace(folder() / STAMP)
    return result


def counted(records: Iterator[Recorded], upto: int, tell: Tell) -> Iterator[Recorded]:
    """The records, telling of every five thousand."""
    for nth, record in enumerate(records):
        if nth % EVERY == 0:
            tell(f"Reading the record: {nth:,} of {upto:,} events.")
        yield record


class Maker:
    """Makes the lake in the background, once at a time."""

    def __init__(self) -> None:
        self.lock = Lock()
        self.running = False
        self.words = ""
        self.failed = ""

    def begin(self, now: datetime) -> bool:
        """Begin; gives False where it is under way already."""
        with self.lock:
            if self.running:
                return False
            self.running, self.words, self.failed = True, "Beginning.", ""
        if settings.LAKE_IN_BACKGROUND:
            Thread(target=self.work_apart, args=(now,), daemon=True, name="lake").start()
        else:
            self.work(now)
        return True

    def work_apart(self, now: datetime) -> None:
        """Do it in a thread of its own, with a connection of its own."""
        try:
            self.work(now)
        finally:
            connection.close()

    def work(self, now: datetime) -> None:
        """Do it, and keep why it failed where it did."""
        try:
            lake_make(now=now, tell=self.tell)
        except (CubitalError, DatabaseError) as error:
            self.failed = str(error)
        except Exception:
            log.exception("The figures could not be made")
            self.failed = "The figures could not be made; the desk’s log says why."
        finally:
            self.running = False

    def tell(self, words: str) -> None:
        """Hear how far it is."""
        self.words = words


MAKER = Maker()
"""The one of this process."""
