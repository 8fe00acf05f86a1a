"""A log of events in memory, made without a desk: the Ostrel valley's laboratory and pass post."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Any

import ibis

from cubital.catalogue import shipped
from cubital.catalogue.model_quality import Indicator
from cubital.custody import Event, Recorded
from cubital.custody.uuid7 import uuid7
from cubital.indicators.ask import Lake
from cubital.indicators.engine import Engine
from cubital.indicators.measures import terms_of
from cubital.indicators.rows import lake_rows
from cubital.indicators.schema import DRAWS, SPECIMENS, arrow
from cubital.indicators.values import LakeRows, LakeSite, Requested

BEGIN = datetime(2026, 3, 2, 7, 0, tzinfo=UTC)
NOW = BEGIN + timedelta(days=60)
SITES = (
    LakeSite("valley", "Ostrel valley laboratory", "Asia/Kathmandu"),
    LakeSite("pass", "Ostrel pass post", "Asia/Kathmandu"),
)
EDTA, GEL, CITRATE = "edta-3", "gel-3.5", "citrate-2.7"


@dataclass
class Log:
    """Records in the order in which they are made; every event is recorded a second later."""

    records: list[Recorded] = field(default_factory=list)
    delay: timedelta = timedelta(seconds=1)

    def add(
        self,
        kind: str,
        subject: str,
        at: datetime,
        *,
        site: str = "valley",
        who: str = "mira",
        corrects: str | None = None,
        delay: timedelta | None = None,
        **payload: Any,
    ) -> Event:
        """One more event."""
        n = len(self.records) + 1
        event = Event(
            id=uuid7(at, n.to_bytes(10, "big")),
            site=site,
            kind=kind,
            happened_at=at,
            who=who,
            subject=subject,
            payload=payload,
            corrects=corrects,
        )
        recorded_at = at + (self.delay if delay is None else delay)
        self.records.append(Recorded(event=event, recorded_at=recorded_at, sent_by=who,
                                     sequence=n, previous="0" * 64, hash="0" * 64))  # fmt: skip
        return event

    def draw(
        self,
        code: str,
        at: datetime = BEGIN,
        *,
        tubes: Mapping[str, str] | Iterable[tuple[str, str]] = (),
        failed: int = 0,
        tourniquet_s: int | None = 40,
        requisition: str = "",
        site: str = "valley",
        who: str = "mira",
        device: str = "straight",
        gauge: int = 21,
        tests: Mapping[str, list[str]] | None = None,
        fills: Mapping[str, str] | None = None,
    ) -> datetime:
        """
        A whole draw: needles that failed, then one that fills the tubes in the order given.

        Gives the time at which it ended; without tubes it ends without blood.
        """
        tubes = list(tubes.items() if isinstance(tubes, Mapping) else tubes)
        here = {"site": site, "who": who}
        subject = f"draw:{code}"
        number = requisition or f"R-{code}"
        self.add("draw_begun", subject, at, patient="P-1", requisition=number, **here)
        self.add("identity_confirmed", subject, at, identifiers=["name"], **here)
        if tourniquet_s is not None:
            self.add("tourniquet_on", subject, at, **here)
            at += timedelta(seconds=tourniquet_s)
            self.add("tourniquet_off", subject, at, **here)
        for n in range(failed + bool(tubes)):
            needle = f"attempt:{code}-{n}"
            self.add("attempt_begun", needle, at, draw=code, device=device, gauge=gauge, **here)
            last = n == failed
            if last:
                for tube, container in tubes:
                    at += timedelta(seconds=10)
                    self.tube(tube, code, container, at, here, tests, fills)
            more = {} if last else {"reason": "no_vein"}
            self.add("attempt_ended", needle, at, draw=code, success=last, **more, **here)
        if tubes:
            self.add("draw_finished", subject, at, **here)
        else:
            self.add("draw_not_obtained", subject, at, reason="no_vein", **here)
        return at

    def tube(
        self,
        code: str,
        draw: str,
        container: str,
        at: datetime,
        here: Mapping[str, str],
        tests: Mapping[str, list[str]] | None = None,
        fills: Mapping[str, str] | None = None,
    ) -> None:
        """One tube, scanned, filled and labelled."""
        subject = f"specimen:{code}"
        more = {"tests": tests[code]} if tests and code in tests else {}
        self.add("tube_scanned", subject, at, draw=draw, patient="P-1", container=container,
                 **more, **here)  # fmt: skip
        fill = (fills or {}).get(code, "full")
        self.add("tube_filled", subject, at, fill=fill, **here)
        if fill != "none":
            self.add("label_matched", subject, at, **here)

    def arrive(
        self,
        tube: str,
        at: datetime,
        *,
        refused: str = "",
        remarks: Iterable[str] = (),
        tests: Iterable[str] = (),
        haemolysis_mg_l: int | None = None,
        site: str = "valley",
    ) -> None:
        """A specimen is received and accepted, or refused."""
        subject = f"specimen:{tube}"
        here = {"site": site, "who": "ilan"}
        self.add("specimen_received", subject, at, **here)
        said: dict[str, Any] = {}
        if list(remarks):
            said["remarks"] = list(remarks)
        if list(tests):
            said["tests"] = list(tests)
        if haemolysis_mg_l is not None:
            said["haemolysis_mg_l"] = haemolysis_mg_l
        if refused:
            self.add("specimen_refused", subject, at, reason=refused, **said, **here)
        else:
            self.add("specimen_accepted", subject, at, **said, **here)

    def spin(self, code: str, tubes: Iterable[str], at: datetime, outcome: str = "done") -> None:
        """A centrifuge run of ten minutes."""
        here = {"site": "valley", "who": "ilan"}
        specimens = list(tubes)
        self.add("spin_begun", f"spin:{code}", at, centrifuge="C-1", specimens=specimens, **here)
        self.add("spin_ended", f"spin:{code}", at + timedelta(minutes=10), outcome=outcome,
                 specimens=specimens, **here)  # fmt: skip

    def rows(
        self,
        *,
        sites: Iterable[LakeSite] = SITES,
        requested: Mapping[str, Requested] | None = None,
        now: datetime = NOW,
    ) -> LakeRows:
        """The rows of the lake."""
        return lake_rows(self.records, shipped(), sites=sites, requested=requested or {}, now=now)


def lake_in_memory(rows: LakeRows, engine: Engine, sites: Iterable[LakeSite] = SITES) -> Lake:
    """A lake without files."""
    catalogue = shipped()
    tables = {SPECIMENS: arrow(SPECIMENS, rows.specimens), DRAWS: arrow(DRAWS, rows.draws)}
    months = {row.month for row in (*rows.specimens, *rows.draws)}
    return Lake(
        engine=engine,
        terms=terms_of(catalogue),
        units={row.indicator: row.unit for row in catalogue.rows(Indicator)},
        tables={name: ibis.memtable(table) for name, table in tables.items()},
        sites={site.code: site for site in sites},
        months=tuple(sorted(months)),
    )


def aged(years: int) -> Requested:
    """What is known of the requisition of a patient of that age, on the ward of the valley."""
    return Requested(ward="ward-1", birth_date=date(BEGIN.year - years, 1, 1))
