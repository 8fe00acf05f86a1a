"""What travels: a temperature log, and what it means for what was in the box."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from cubital.finding import Finding


@dataclass(frozen=True, slots=True)
class Reading:
    """One line of a logger, in degrees Celsius."""

    at: datetime
    celsius: float


@dataclass(frozen=True, slots=True)
class TemperatureLog:
    """
    Readings in the order of time.

    Args:
        name: of the file.
        readings: at least two.
        findings: gaps and other remarks of the reading.
    """

    name: str
    readings: tuple[Reading, ...]
    findings: tuple[Finding, ...] = ()

    @property
    def begin(self) -> datetime:
        """Time of the first reading."""
        return self.readings[0].at

    @property
    def end(self) -> datetime:
        """Time of the last reading."""
        return self.readings[-1].at


@dataclass(frozen=True, slots=True)
class Excursion:
    """
    A stretch outside the band, from crossing to crossing.

    Args:
        begin: when the line between two readings left the band.
        end: when it came back, or the end of the log.
        worst_c: the furthest reading from the band.
        above: too warm (True) or too cold.
        degree_hours: area between the line and the band.
    """

    begin: datetime
    end: datetime
    worst_c: float
    above: bool
    degree_hours: float

    @property
    def length(self) -> timedelta:
        """How long it lasted."""
        return self.end - self.begin


@dataclass(frozen=True, slots=True)
class Flight:
    """What a stretch of temperatures did to one test of one specimen."""

    specimen: str
    test: str
    used_percent: float  # of what it keeps, 100 is the end
    spoils_at: datetime | None  # at the temperature of the log's end; None when nothing is known
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Travelled:
    """A specimen in the box: what it is, since when, for which tests."""

    specimen: str
    collected_at: datetime
    tests: tuple[str, ...]
    spun: bool = False


@dataclass(frozen=True, slots=True)
class Journey:
    """A log, judged against the band of its box."""

    log: TemperatureLog
    condition: str
    low_c: float
    high_c: float
    excursions: tuple[Excursion, ...]
    outside: timedelta
    degree_hours: float
    mean_kinetic_c: float
    flights: tuple[Flight, ...]
    findings: tuple[Finding, ...]
