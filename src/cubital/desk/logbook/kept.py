"""Entries of the logbook that come out of what is kept beside the events."""

from __future__ import annotations

from datetime import datetime

from cubital.catalogue import Catalogue
from cubital.catalogue.model_way import TemperatureBand
from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.record import selectors
from cubital.desk.record import selectors_kept as kept
from cubital.desk.record.models import Place
from cubital.logbook import Entry, outside_entry, unknown_entry


def kept_entries(
    catalogue: Catalogue, *, site: str, start: datetime, end: datetime
) -> tuple[Entry, ...]:
    """Boxes that left their band in a time, and what arrived and nobody knew; "" is every place."""
    bands = catalogue.rows(TemperatureBand)
    outside = kept.outside_between(bands, site=site, start=start, end=end)
    unknown = kept.unknown_between(site=site, start=start, end=end)
    left = (outside_entry(each) for each in outside)
    return (*(each for each in left if each is not None), *map(unknown_entry, unknown))


def kept_entry(key: str) -> tuple[Entry, Place] | None:
    """The entry that a key names, with its place; None where it names none."""
    entry = None
    unknown, log = kept.unknown_by_key(key), kept.log_by_key(key)
    if unknown is not None:
        entry = unknown_entry(unknown)
    elif log is not None:
        place = selectors.place_by_code(log.site)
        tables = catalogue_at(place.catalogue_folder if place is not None else "")
        outside = kept.outside_by_key(key, tables.rows(TemperatureBand))
        entry = outside_entry(outside) if outside is not None else None
    place = selectors.place_by_code(entry.site) if entry is not None else None
    return (entry, place) if entry is not None and place is not None else None
