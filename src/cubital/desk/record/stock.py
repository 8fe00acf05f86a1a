"""Writes: containers on hand."""

from __future__ import annotations

from datetime import date

from django.db import transaction

from cubital.catalogue import Catalogue
from cubital.desk.record.checking import checked
from cubital.desk.record.models import Place, StockLot
from cubital.errors import InputError


def lot_add(
    *,
    place: Place,
    container: str,
    number: str,
    expires_on: date,
    count: int,
    catalogue: Catalogue,
    recalled: bool = False,
) -> StockLot:
    """
    Put a lot on the list of a place.

    Raises:
        InputError: a container that the catalogue does not know, or a lot already on the list.
    """
    if container not in catalogue.containers:
        raise InputError(f"{container!r} is no container of the catalogue", "container")
    if not number.strip():
        raise InputError("The lot has no number", "lot", "Write or scan it from the box.")
    lot = StockLot(
        place=place,
        container=container,
        number=number.strip(),
        expires_on=expires_on,
        count=count,
        recalled=recalled,
    )
    if StockLot.objects.filter(place=place, container=container, number=lot.number).exists():
        raise InputError(
            f"Lot {lot.number} is already on the list of {place.name}",
            "lot",
            "Change its count there.",
        )
    checked(lot)
    with transaction.atomic():
        lot.save(force_insert=True)
    return lot


def lot_change(*, lot: StockLot, count: int, recalled: bool) -> None:
    """
    Count again, recall, or take a recall back.

    Raises:
        InputError: a negative count.
    """
    if count < 0:
        raise InputError(f"{count} cannot be counted", "count", "Write 0 or more.")
    lot.count, lot.recalled = count, recalled
    with transaction.atomic():
        lot.save(update_fields=["count", "recalled"])
