"""What went wrong and has no event of its own: a box outside its band, a tube nobody knows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from cubital.logbook.values import Entry

HEADING = "non_conformance"
UNKNOWN = "not-registered"


@dataclass(frozen=True, slots=True)
class Unknown:
    """
    Something that arrived and that the record did not know.

    Args:
        key: names its entry.
        text: as scanned.
        why: it was kept, in a sentence.
        at: when it arrived.
        who: scanned it.
        site: where.
        became: what became of it, in words with who and when; "" while it is open.
    """

    key: str
    text: str
    why: str
    at: datetime
    who: str
    site: str
    became: str = ""


@dataclass(frozen=True, slots=True)
class Outside:
    """
    A log of a box with readings outside its band.

    Args:
        key: names its entry.
        box: its code.
        log: name of the file.
        band: name of the band.
        low_c, high_c: its ends.
        coldest_c, warmest_c: of the readings.
        at: first reading outside.
        who: read the log.
        site: where.
    """

    key: str
    box: str
    log: str
    band: str
    low_c: float
    high_c: float
    coldest_c: float
    warmest_c: float
    at: datetime
    who: str
    site: str


def unknown_entry(unknown: Unknown) -> Entry:
    """The entry of something that nobody knew; what was scanned stands for its number."""
    return Entry(
        event=unknown.key,
        at=unknown.at,
        site=unknown.site,
        who=unknown.who,
        heading=HEADING,
        what=f"Arrived, and nobody knew it: {unknown.text}",
        code=UNKNOWN,
        subject=f"specimen:{unknown.text}",
        note=" ".join(filter(None, (unknown.why, unknown.became))),
        actions=(unknown.became,) if unknown.became else (),
    )


def outside_entry(outside: Outside) -> Entry | None:
    """The entry of a box that left its band, None where no reading lies outside."""
    warm = outside.warmest_c > outside.high_c
    ends = [
        *([f"up to {outside.warmest_c:.1f} °C"] if warm else []),
        *([f"down to {outside.coldest_c:.1f} °C"] if outside.coldest_c < outside.low_c else []),
    ]
    if not ends:
        return None
    band = f"{outside.low_c:g} to {outside.high_c:g} °C"
    return Entry(
        event=outside.key,
        at=outside.at,
        site=outside.site,
        who=outside.who,
        heading=HEADING,
        what=f"Box {outside.box} left its band of {band}: {' and '.join(ends)}",
        code="too-warm" if warm else "too-cold",
        subject=f"box:{outside.box}",
        note=f"First reading outside; log {outside.log}, {outside.band}.",
    )
