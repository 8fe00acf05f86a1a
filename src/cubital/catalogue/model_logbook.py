"""The rows that the logbook reads: log kinds, waste streams, disinfectants."""

from __future__ import annotations

from dataclasses import dataclass

from cubital.catalogue.row import Row


@dataclass(frozen=True, slots=True, kw_only=True)
class LogKind(Row):
    """How an event stands in the logbook."""

    FILE = "log_kinds.csv"
    KEY = ("event",)
    event: str  # kind of custody event
    heading: str  # incident, non_conformance, refusal, override, prick
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WasteStream(Row):
    """Where waste goes, in one scheme; the place chooses its scheme."""

    FILE = "waste_streams.csv"
    KEY = ("scheme", "stream")
    scheme: str  # local, who_2014, india_2016
    stream: str
    colour: str  # in words
    container: str  # bag, box
    takes: str  # what goes in, in words
    close_at_percent: int = 75
    first: str = ""  # what must be done before, "" for nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class Disinfectant(Row):
    """A use of hypochlorite: strength, contact time, and when the dilution goes stale."""

    FILE = "disinfectants.csv"
    KEY = ("use",)
    use: str
    name: str
    strength_percent: float
    contact_min: int
    contact_max_min: int
    stale_after_h: int


LOGBOOK_ROWS: tuple[type[Row], ...] = (LogKind, WasteStream, Disinfectant)
