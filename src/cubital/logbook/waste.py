"""Waste bags and sharps containers: opened, closed at three quarters, weighed, handed over."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, tzinfo

from cubital.catalogue import Catalogue
from cubital.catalogue.model_logbook import WasteStream
from cubital.errors import InputError
from cubital.finding import Finding, Severity
from cubital.logbook.values import Bag

MOST_G = 100_000
"""A bag of more than 100 kg is a slip of the pen."""


@dataclass(frozen=True, slots=True)
class WasteDay:
    """One line of the daily or yearly table."""

    period: str
    stream: str
    bags: int
    weight_g: int
    unweighed: int


def stream_of(catalogue: Catalogue, scheme: str, stream: str) -> WasteStream:
    """
    Give a stream of a scheme.

    Raises:
        InputError: no such scheme or stream.
    """
    rows = [row for row in catalogue.rows(WasteStream) if row.scheme == scheme]
    for row in rows:
        if row.stream == stream:
            return row
    if not rows:
        known = sorted({row.scheme for row in catalogue.rows(WasteStream)})
        raise InputError(f"There is no waste scheme {scheme!r}", mend=f"Choose one of {known}.")
    raise InputError(
        f"The scheme {scheme} has no stream {stream!r}",
        mend=f"Choose one of {', '.join(row.stream for row in rows)}.",
    )


def open_bag(
    catalogue: Catalogue, *, code: str, scheme: str, stream: str, at: datetime, who: str
) -> Bag:
    """Open a bag or box; its code is its bar code."""
    stream_of(catalogue, scheme, stream)
    return Bag(code, scheme, stream, at, who)


def filled(bag: Bag, percent: int, catalogue: Catalogue) -> tuple[Bag, tuple[Finding, ...]]:
    """
    Note how full it is; at its limit a finding says to close it.

    Raises:
        InputError: not a percentage, or a bag that is closed.
    """
    if not 0 <= percent <= 100:
        raise InputError(f"{percent} % cannot be", bag.code, "Write 0 to 100.")
    if bag.closed_at is not None:
        raise InputError("It is closed: nothing more goes in", bag.code, "Open a new one.")
    row = stream_of(catalogue, bag.scheme, bag.stream)
    found: tuple[Finding, ...] = ()
    if percent >= row.close_at_percent:
        found = (
            Finding(
                "close-it",
                Severity.ASK,
                f"{row.colour} {row.container} {bag.code} is {percent} % full: close it and open a"
                " new one.",
                row.source,
                bag.code,
                row.layer,
            ),
        )
    return replace(bag, fill_percent=percent), found


def close(bag: Bag, at: datetime) -> Bag:
    """
    Close it.

    Raises:
        InputError: closed already, or before it was opened.
    """
    if bag.closed_at is not None:
        raise InputError("It is closed already", bag.code)
    if at < bag.opened_at:
        raise InputError("It cannot be closed before it was opened", bag.code)
    return replace(bag, closed_at=at)


def weigh(bag: Bag, weight_g: int) -> Bag:
    """
    Weigh a closed bag.

    Raises:
        InputError: still open, or no weight of a bag.
    """
    if bag.closed_at is None:
        raise InputError("It is still open", bag.code, "Close it before weighing.")
    if not 0 < weight_g <= MOST_G:
        raise InputError(f"{weight_g} g is no weight of a bag", bag.code, "Write grams.")
    return replace(bag, weight_g=weight_g)


def hand_over(bag: Bag, at: datetime, to: str) -> Bag:
    """
    Hand a closed bag over.

    Raises:
        InputError: still open, handed over already, or to nobody.
    """
    if bag.closed_at is None:
        raise InputError("It is still open", bag.code, "Close it before it goes.")
    if bag.handed_over_at is not None:
        raise InputError("It was handed over already", bag.code)
    if not to.strip():
        raise InputError("Nobody is named", bag.code, "Write who takes it.")
    return replace(bag, handed_over_at=at, handed_to=to.strip())


def waste_table(bags: Iterable[Bag], zone: tzinfo, *, by: str = "day") -> tuple[WasteDay, ...]:
    """
    The daily, monthly or yearly table of closed bags, by stream.

    Args:
        bags: any.
        zone: of the place.
        by: ``day``, ``month`` or ``year``.
    """
    forms: Mapping[str, str] = {"day": "%Y-%m-%d", "month": "%Y-%m", "year": "%Y"}
    if by not in forms:
        raise InputError(f"A table by {by!r} cannot be made", mend="Write day, month or year.")
    groups: dict[tuple[str, str], list[Bag]] = defaultdict(list)
    for bag in bags:
        if bag.closed_at is not None:
            groups[bag.closed_at.astimezone(zone).strftime(forms[by]), bag.stream].append(bag)
    return tuple(
        WasteDay(
            period,
            stream,
            len(own),
            sum(bag.weight_g or 0 for bag in own),
            sum(1 for bag in own if bag.weight_g is None),
        )
        for (period, stream), own in sorted(groups.items())
    )


def kept_too_long(bags: Iterable[Bag], now: datetime, limit_h: int) -> tuple[Bag, ...]:
    """Closed bags that have stood here longer than the laboratory's limit."""
    return tuple(
        bag
        for bag in bags
        if bag.closed_at is not None
        and bag.handed_over_at is None
        and (now - bag.closed_at).total_seconds() > limit_h * 3600
    )
