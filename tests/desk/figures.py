"""A lake of the invented clinic's past weeks, made without a database."""

from __future__ import annotations

import json
from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from cubital.catalogue import shipped
from cubital.custody import Head, Recorded, seal
from cubital.custody.chain import head_after
from cubital.desk.demo.past import SUNDAY, Book
from cubital.desk.demo.past_day import Asked
from cubital.desk.demo.past_people import patient
from cubital.desk.demo.valley import PLACES
from cubital.desk.indicators.lake import STAMP
from cubital.indicators.lake import write_lake
from cubital.indicators.rows import lake_rows
from cubital.indicators.values import LakeSite, Requested

UTC_ZONE = ZoneInfo("UTC")
TODAY = date(2026, 12, 2)
MONTH = "2026-11"
"""The last whole month; of September and December there is one day each."""
WEEKS = 9


class Loose(Book):
    """A past whose requisitions nobody stores."""

    def __init__(self) -> None:
        super().__init__(UTC_ZONE, TODAY, TODAY - timedelta(days=7 * WEEKS))
        self.asked: list[Asked] = []

    def store(self, several: list[Asked], site: str) -> None:
        """Only kept in mind."""
        self.asked += several


def figures(folder: Path) -> Path:
    """Write the lake; gives its folder."""
    book, records = Loose(), []
    heads: dict[str, Head] = {}
    for back in range(7 * WEEKS, 0, -1):
        day = TODAY - timedelta(days=back)
        if day.weekday() == SUNDAY:
            continue
        evening = datetime(day.year, day.month, day.day, 23, tzinfo=UTC_ZONE)
        for event in book.day(day).events:
            head = heads.get(event.site, Head(event.site))
            record: Recorded = seal(event, head, recorded_at=evening, sent_by=event.who)
            heads[event.site] = head_after(record)
            records.append(record)
    born = {nth: date.fromisoformat(patient(nth)["birth_date"]) for nth in range(1, 41)}
    requested = {each.number: Requested(each.ward, born[each.patient]) for each in book.asked}
    sites = [LakeSite(each.code, each.name) for each in PLACES]
    now = datetime(TODAY.year, TODAY.month, TODAY.day, 8, tzinfo=UTC_ZONE)
    rows = lake_rows(records, shipped(), sites=sites, requested=requested, now=now)
    write_lake(folder, rows, sites=sites, edition=shipped().edition)
    said = {"at": now.isoformat(), "upto": len(records), "edition": shipped().edition}
    (folder / STAMP).write_text(json.dumps(said), "utf-8")
    return folder
