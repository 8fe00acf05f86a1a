"""Writes: the sheets given to a chair, and what a person likes there."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db import transaction

from cubital.chair.shape import kept_to, sheet_from, sheet_to
from cubital.chair.values import Sheet
from cubital.desk.record.models import ChairSheet, Habit, Person, Requisition
from cubital.errors import InputError

Json = dict[str, Any]


def sheets_keep(*, given: Sequence[tuple[Requisition, Sheet, Json]]) -> list[Json]:
    """
    Keep sheets that are about to be given to a chair; the same sheet is kept once.

    Args:
        given: each with its requisition and its plan in the shape ``cubital.plan/1``.

    Returns:
        Their JSON shapes ``cubital.chair/1``, in the same order.
    """
    shapes = [sheet_to(sheet) for _, sheet, _ in given]
    with transaction.atomic():
        ChairSheet.objects.bulk_create(
            [
                ChairSheet(code=shape["code"], requisition=row, document=kept_to(sheet), plan=plan)
                for (row, sheet, plan), shape in zip(given, shapes, strict=True)
            ],
            ignore_conflicts=True,
        )
    return shapes


def sheet_kept(code: str) -> Sheet | None:
    """The sheet of that code, None when there is none or it cannot be read any more."""
    row = ChairSheet.objects.filter(code=code).first()
    if row is None:
        return None
    try:
        return sheet_from(row.document)
    except InputError:
        return None


def habit_change(*, person: Person, reminders: bool, sounds: bool) -> Habit:
    """Keep whether a person wants reminders and sounds at the chair."""
    habit, _ = Habit.objects.update_or_create(
        person=person, defaults={"reminders": reminders, "sounds": sounds}
    )
    return habit
