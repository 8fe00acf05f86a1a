"""The Ostrel laboratory's bench for the tests: two invented rotors, a morning, specimens."""

from __future__ import annotations

import functools
from datetime import datetime, timedelta, timezone
from pathlib import Path

from cubital.bench import BenchSpecimen, Machine
from cubital.catalogue import Catalogue, load_catalogue
from cubital.catalogue.model_bench import Centrifuge

VALLEY = timezone(timedelta(hours=5))
NOW = datetime(2026, 1, 12, 9, 0, tzinfo=VALLEY)
PRACTICE = {"spin-programmes": "common_practice"}


@functools.cache
def ostrel() -> Catalogue:
    """The shipped tables with the Ostrel laboratory's rotors over them."""
    return load_catalogue(Path(__file__).parent / "ostrel")


def rotor(code: str) -> Centrifuge:
    """A rotor of the Ostrel laboratory."""
    return next(row for row in ostrel().rows(Centrifuge) if row.code == code)


def machines() -> list[Machine]:
    """Both rotors, standing still."""
    return [Machine(row) for row in ostrel().rows(Centrifuge)]


def minutes(number: float) -> timedelta:
    """A length of time."""
    return timedelta(minutes=number)


def tube(
    code: str,
    container: str = "gel-5",
    tests: tuple[str, ...] = ("sodium",),
    *,
    drawn: float = -40,
    here: float = -5,
    **more: object,
) -> BenchSpecimen:
    """A blood specimen, its draw and arrival in minutes from 09:00."""
    return BenchSpecimen(
        code=code,
        container=container,
        tests=tests,
        collected_at=NOW + minutes(drawn),
        here_from=NOW + minutes(here),
        **more,  # type: ignore[arg-type]
    )
