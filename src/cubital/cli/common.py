"""
What several commands share: where, when and with which tables, and how files are read.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any, BinaryIO, TypeVar
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import click

from cubital.catalogue import Catalogue, load_catalogue, shipped
from cubital.errors import InputError
from cubital.requisition import read_requisitions
from cubital.requisition.read import check_size
from cubital.requisition.values import Requisition

Command = TypeVar("Command", bound=Callable[..., Any])


def with_catalogue(command: Command) -> Command:
    """Add ``--catalogue``."""
    return click.option(
        "--catalogue",
        "folders",
        multiple=True,
        envvar="CUBITAL_CATALOGUE",
        type=click.Path(path_type=Path),
        metavar="DIR",
        help="A laboratory's own tables, laid over the shipped ones; may be given several times.",
    )(command)


def with_choices(command: Command) -> Command:
    """Add ``--choose``."""
    return click.option(
        "--choose",
        "chosen",
        multiple=True,
        metavar="TOPIC=OPTION",
        help="Where sources disagree: the laboratory's choice; may be given several times.",
    )(command)


def with_clock(command: Command) -> Command:
    """Add ``--now`` and ``--time-zone``."""
    command = click.option(
        "--time-zone",
        "zone",
        envvar="CUBITAL_TIME_ZONE",
        metavar="NAME",
        help="Of the place, for times written without one, such as Asia/Kathmandu.",
    )(command)
    return click.option("--now", "moment", metavar="TIME", help="Plan as if it were then.")(command)


def with_place(command: Command) -> Command:
    """Add ``--altitude``, ``--profile`` and ``--route``."""
    command = click.option(
        "--route",
        type=click.Choice(["venous", "capillary"]),
        default=None,
        help="How the blood is taken; the plan proposes when it is not said.",
    )(command)
    command = click.option(
        "--profile", default="", metavar="CODE", help="Order of draw; the route's default if none."
    )(command)
    return click.option(
        "--altitude",
        "altitude_m",
        type=click.IntRange(-430, 9000),
        default=0,
        envvar="CUBITAL_ALTITUDE_M",
        metavar="M",
        help="Metres above sea level at the place of the draw.",
    )(command)


def catalogue_of(folders: tuple[Path, ...]) -> Catalogue:
    """
    The tables.

    Raises:
        CatalogueError: the first row that cannot be used.
    """
    return load_catalogue(*folders) if folders else shipped()


def choices_of(chosen: tuple[str, ...], catalogue: Catalogue) -> dict[str, str]:
    """
    The choices, each looked up.

    Raises:
        InputError: not of the form TOPIC=OPTION.
        CatalogueError: no such topic, or no such option.
    """
    choices = {}
    for item in chosen:
        topic, equals, option = item.partition("=")
        if not equals:
            raise InputError(
                f"“{item}” is no choice", "--choose", "Write it like renin-cooling=ice."
            )
        choices[topic] = option
        catalogue.option(topic, choices)
    return choices


def now_of(moment: str | None, zone: str | None, option: str = "--now") -> datetime:
    """
    The time now, or the time that an option gives, with the zone of the place.

    Raises:
        InputError: the time or the zone cannot be read.
    """
    try:
        place = ZoneInfo(zone) if zone else None
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise InputError(
            f"no time zone is called “{zone}”", "--time-zone", "Write it like Asia/Kathmandu."
        ) from None
    if moment is None:
        return datetime.now(place) if place else datetime.now().astimezone()
    try:
        now = datetime.fromisoformat(moment)
        if now.tzinfo is None:
            return now.replace(tzinfo=place) if place else now.astimezone()
        return now.astimezone(place) if place else now
    except (ValueError, OverflowError):
        raise InputError(
            f"“{moment}” is no time", option, "Write it like 2026-03-02T07:30."
        ) from None


def read_file(path: Path) -> bytes:
    """
    The content of a file of requisitions.

    Raises:
        InputError: it cannot be read, or is too large to be read at once.
    """
    try:
        check_size(path.stat().st_size, path.name)
        return path.read_bytes()
    except OSError as bad:
        raise cannot_read(path, bad) from None


def cannot_read(path: Path, bad: OSError) -> InputError:
    """The sentence for a file that is not there."""
    return InputError(
        f"the file cannot be read ({bad.strerror})", str(path), "Give a requisition in JSON or CSV."
    )


def requisitions_in(path: Path, catalogue: Catalogue, now: datetime) -> tuple[Requisition, ...]:
    """
    All requisitions of a file.

    Raises:
        InputError: the file, or the first field of it that cannot be used.
    """
    return read_requisitions(read_file(path), name=path.name, catalogue=catalogue, now=now)


def write_file(path: Path, data: bytes) -> None:
    """
    Write a file, whole or not at all.

    Raises:
        InputError: it cannot be written.
    """
    with whole_file(path) as sink:
        try:
            sink.write(data)
        except OSError as bad:
            raise cannot_write(path, bad) from None


@contextmanager
def whole_file(path: Path) -> Iterator[BinaryIO]:
    """
    A file that is there only once it is whole; nothing is left of one that failed.

    A link keeps pointing where it does.  What is no plain file (a pipe, a device) is written to as
    it stands: nothing may be put in its place.

    Raises:
        InputError: it cannot be opened, or not be put in its place.
    """
    real = Path(os.path.realpath(path))
    try:
        if real.exists() and not real.is_file():
            with path.open("wb") as sink:
                yield sink
            return
        part = real.with_name(f"{real.name}.{os.getpid()}.part")
        opened = part.open("wb")
    except OSError as bad:
        raise cannot_write(path, bad) from None
    try:
        with opened as sink:
            yield sink
        if real.exists():
            shutil.copymode(real, part)
        part.replace(real)
    except OSError as bad:
        raise cannot_write(path, bad) from None
    finally:
        part.unlink(missing_ok=True)


def cannot_write(path: Path, bad: OSError) -> InputError:
    """The sentence for a file that cannot be written."""
    return InputError(
        f"the file cannot be written ({bad.strerror})", str(path), "Choose another place."
    )
