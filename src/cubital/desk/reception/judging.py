"""The verdict on a specimen as it was seen: what is known goes to the rules of the core."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from cubital.catalogue import Catalogue
from cubital.custody import Specimen
from cubital.desk.reception.seen import Seen
from cubital.desk.record import selectors_way
from cubital.desk.transport.known import Here, Known
from cubital.reception import (
    Expected,
    SaidAtChair,
    Verdict,
    fill_percent,
    is_irreplaceable,
    receive,
    said_at_chair,
    used_percent,
    what_lacks,
)


def expected_of(known: Known, here: Here, at: datetime) -> Expected:
    """What the rules expect."""
    specimen, catalogue, choices = known.specimen, here.catalogue, here.place.choices
    codes = [test.code for test in known.tests]
    drawn = specimen.collected_at
    spun = specimen.spins > 0
    lacking = what_lacks(known.requisition, catalogue) if known.row is not None else ()
    return Expected(
        accession=specimen.code,
        requisition=known.requisition.number,
        material=specimen.material,
        container=specimen.container if specimen.material == "blood" else "",
        tests=known.tests,
        collected_at=drawn.astimezone(here.zone) if drawn is not None else None,
        irreplaceable=is_irreplaceable(
            known.requisition.patient,
            codes,
            (drawn or at).astimezone(here.zone).date(),
            catalogue,
            choices,
        ),
        incomplete=lacking,
        used_percent=tuple(
            (test, used_percent(percent, end, at, test, catalogue, choices, spun=spun))
            for test, (percent, end) in known.flights.items()
            if test in codes
        ),
        spun=spun,
        said_at_chair=identity_said(specimen, catalogue, lacks=bool(lacking)),
    )


def identity_said(specimen: Specimen, catalogue: Catalogue, *, lacks: bool) -> SaidAtChair | None:
    """What the chair said of the identifiers of its draw, with the name as people know it."""
    if not specimen.draw:
        return None
    drawn = selectors_way.events_of(f"draw:{specimen.draw}")
    said = said_at_chair(drawn, catalogue, lacks=lacks)
    if said is None:
        return None
    names = selectors_way.shown_names([said.who])
    return replace(said, who=names.get(said.who, said.who))


def judge(known: Known, here: Here, seen: Seen, *, at: datetime, now: datetime) -> Verdict:
    """
    Have the rules judge a specimen as it was seen.

    What the chair said of its fill and its expiry counts where the receiver says nothing else.

    Args:
        known: of the record.
        here: where it is judged.
        seen: what the receiver saw.
        at: when it arrived.
        now: the time of the verdict.

    Raises:
        InputError: a value that cannot be read, or a collection that is still to come.
    """
    specimen = known.specimen
    arrival = seen.arrival(specimen.code, at.astimezone(here.zone), material=specimen.material)
    if arrival.fill_percent is None and specimen.material == "blood":
        said = fill_percent(specimen.container, specimen.fill, specimen.volume_ul, here.catalogue)
        measured = None if said is None else specimen.volume_ul
        arrival = replace(arrival, fill_percent=said, volume_ul=measured)
    if arrival.expires_on is None:
        arrival = replace(arrival, expires_on=known.expires_on)
    if arrival.volume_ul is None and specimen.material != "blood":
        arrival = replace(arrival, volume_ul=specimen.volume_ul)
    return receive(
        arrival,
        expected_of(known, here, at),
        known.requisition,
        here.catalogue,
        here.place,
        now=now.astimezone(here.zone),
    )
