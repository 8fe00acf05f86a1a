"""Writes: what stands on the bench of a place, and when a box is expected there."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from typing import Any

from cubital.desk.record.checking import checked
from cubital.desk.record.models import (
    BoxExpected,
    BoxNow,
    Centrifuge,
    Person,
    Place,
    Shelf,
    SpinNow,
)
from cubital.errors import InputError


def box_expect(*, box: BoxNow, at: datetime, by: Person, now: datetime) -> None:
    """
    Say when a box that has left is expected.

    Raises:
        InputError: it is not on its way, or the time is before it left.
    """
    if box.sent_at is None or box.state != "sent":
        raise InputError(f"Box {box.code} is not on its way")
    if at < box.sent_at:
        raise InputError(f"Box {box.code} left after that", mend="Write when it will be here.")
    BoxExpected.objects.update_or_create(
        box=box.code, defaults={"sent_at": box.sent_at, "at": at, "by": by.username}
    )


# ---------------------------------------------------------------- machines and shelves


def centrifuge_add(*, place: Place, code: str, **facts: Any) -> Centrifuge:
    """
    Add a centrifuge to a place.

    Args:
        place: where it stands.
        code: of its own there.
        facts: name, places, radius_mm, swing, cooled, warmed, lowest_rpm, highest_rpm, step_rpm,
            run_up_s, brake_s.

    Raises:
        InputError: what is wrong, where, and what to do.
    """
    row = Centrifuge(place=place, code=code.strip(), **facts)
    if Centrifuge.objects.filter(place=place, code=row.code).exists():
        raise InputError(f"{place.name} has a centrifuge {row.code} already", "code")
    _check_centrifuge(row)
    row.save(force_insert=True)
    return row


def centrifuge_change(*, row: Centrifuge, **facts: Any) -> None:
    """
    Change what is known of a centrifuge; its code stays, for runs hang on it.

    Raises:
        InputError: what is wrong, where, and what to do.
    """
    if "code" in facts:
        raise InputError("The code of a centrifuge cannot change", "code")
    for name, value in facts.items():
        setattr(row, name, value)
    _check_centrifuge(row)
    row.save()


def _check_centrifuge(row: Centrifuge) -> None:
    checked(row)
    if row.lowest_rpm > row.highest_rpm:
        raise InputError(
            f"The lowest speed {row.lowest_rpm} is above the highest {row.highest_rpm}", "speeds"
        )
    if row.step_rpm > row.highest_rpm:
        raise InputError(f"A step of {row.step_rpm} is above the highest speed", "speed step")


def centrifuge_out(*, row: Centrifuge, why: str, by: Person, now: datetime) -> None:
    """
    Put a centrifuge out of order.

    Raises:
        InputError: nobody says why.
    """
    if not why.strip():
        raise InputError(f"What is wrong with {row.name}?", mend="Write it in a few words.")
    row.out_since, row.out_why, row.out_by = now, why.strip()[:200], by.username
    row.save(update_fields=["out_since", "out_why", "out_by"])


def centrifuge_back(*, row: Centrifuge) -> None:
    """Put a centrifuge back in order."""
    row.out_since, row.out_why, row.out_by = None, "", ""
    row.save(update_fields=["out_since", "out_why", "out_by"])


def centrifuge_remove(*, row: Centrifuge) -> None:
    """
    Take a centrifuge off the list; its past runs keep its code.

    Raises:
        InputError: it runs.
    """
    site = row.place.code
    if SpinNow.objects.filter(site=site, centrifuge=row.code, state="running").exists():
        raise InputError(f"{row.name} runs", mend="Say first that its run has ended.")
    row.delete()


def shelf_add(*, place: Place, code: str, name: str, kind: str, kinds: Collection[str]) -> Shelf:
    """
    Add a shelf to a place.

    Args:
        place: where it stands.
        code: as its bar code says.
        name: in words.
        kind: of store.
        kinds: that the place's catalogue holds.

    Raises:
        InputError: what is wrong, where, and what to do.
    """
    row = Shelf(place=place, code=code.strip(), name=name.strip(), kind=kind)
    if kind not in kinds:
        raise InputError(f"{kind!r} is no kind of store", "kind")
    if Shelf.objects.filter(place=place, code__iexact=row.code).exists():
        raise InputError(f"{place.name} has a shelf {row.code} already", "code")
    checked(row)
    row.save(force_insert=True)
    return row


def shelf_remove(*, row: Shelf, stands: int) -> None:
    """
    Take a shelf off the list.

    Args:
        row: the shelf.
        stands: how many specimens stand on it.

    Raises:
        InputError: something stands on it.
    """
    if stands:
        many = "1 specimen" if stands == 1 else f"{stands} specimens"
        raise InputError(f"{row.name} holds {many}", mend="Move them first.")
    row.delete()
