"""Writes: places of draw and their policy."""

from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from django.db import transaction

from cubital.catalogue.model import Option, OrderProfile
from cubital.catalogue.model_logbook import WasteStream
from cubital.desk.catalogue.load import catalogue_checked
from cubital.desk.record.checking import checked
from cubital.desk.record.models import Place
from cubital.errors import InputError


def place_add(*, code: str, letters: str, name: str, **policy: Any) -> Place:
    """
    Add a place; ``policy`` as for :func:`place_change`.

    Raises:
        InputError: what is wrong, where, and what to do.
    """
    place = Place(code=code, letters=letters.upper(), name=name, **policy)
    check_place(place)
    with transaction.atomic():
        place.save(force_insert=True)
    return place


def place_change(*, place: Place, **policy: Any) -> None:
    """
    Change the name or policy of a place; its code and letters stay, for numbers hang on them.

    Args:
        place: as it stands.
        policy: any of name, altitude_m, time_zone, order_profile, choices, devices,
            catalogue_folder, label_size, keeps_stock, waste_scheme, label_when, phone_numbers.

    Raises:
        InputError: what is wrong, where, and what to do.
    """
    fixed = {"code", "letters"} & policy.keys()
    if fixed:
        raise InputError("The code and letters of a place cannot change", ", ".join(sorted(fixed)))
    for key, value in policy.items():
        setattr(place, key, value)
    check_place(place)
    with transaction.atomic():
        place.save()


def check_place(place: Place) -> None:
    """Refuse what the draw room could not use later: profile, options, label size, folder."""
    checked(place)
    if not place.name.isprintable():
        raise InputError("The name of a place stands on one line", "name", "Write it again.")
    try:
        ZoneInfo(place.time_zone)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise InputError(
            f"{place.time_zone!r} is no time zone", "time zone", "Write one such as Europe/Zurich."
        ) from error
    catalogue = catalogue_checked(place.catalogue_folder)
    profiles = {row.code for row in catalogue.rows(OrderProfile)}
    if place.order_profile and place.order_profile not in profiles:
        raise InputError(f"{place.order_profile!r} is no order of draw", "order of draw")
    if not all(len(pair) == 2 and all(pair) for pair in place.phone_numbers):
        raise InputError("A telephone number has a name and a number", "telephone numbers")
    if place.label_size not in catalogue.label_sizes:
        raise InputError(f"{place.label_size!r} is no label size", "label size")
    if place.waste_scheme not in {row.scheme for row in catalogue.rows(WasteStream)}:
        raise InputError(f"{place.waste_scheme!r} is no waste scheme", "waste scheme")
    for device in place.devices or ():
        if device not in catalogue.devices:
            raise InputError(f"{device!r} is no device of the catalogue", "devices on hand")
    known = {(row.topic, row.option) for row in catalogue.rows(Option)}
    for topic, option in place.choices.items():
        if (topic, option) not in known:
            raise InputError(f"{option!r} is no option", topic)
