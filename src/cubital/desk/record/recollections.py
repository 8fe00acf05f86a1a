"""Writes: blood asked for again, as one requisition and one needle while that can still be."""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import replace
from datetime import datetime

from django.db import transaction
from django.db.models import QuerySet

from cubital.desk.record.models import (
    DrawNow,
    Person,
    Requisition,
    RequisitionState,
    RequisitionTest,
)
from cubital.desk.record.overrides import overrides_of
from cubital.desk.record.requisitions import requisition_add
from cubital.errors import InputError
from cubital.requisition import requisition_to
from cubital.requisition.values import Answers, OrderedTest

AGAIN = re.compile(r"-R\d+$")
LONGEST_NUMBER = 64
DRAWN_FOR = "requisition "
"""How the note of ``recollection_asked`` begins where a requisition asks for the blood."""


def number_base(number: str) -> str:
    """What the numbers of all recollections of a requisition begin with."""
    return AGAIN.sub("", number)[: LONGEST_NUMBER - 5]


def recollection_number(number: str) -> str:
    """The number of the next recollection of a requisition: ``OL-261125-004-R1``, then ``-R2``."""
    base = number_base(number)
    serial = 1
    while Requisition.objects.filter(number=f"{base}-R{serial}").exists():
        serial += 1
    return f"{base}-R{serial}"


def recollection_add(
    *,
    first: Requisition,
    specimen: str,
    tests: Collection[str],
    sentence: str,
    by: Person,
    now: datetime,
) -> Requisition:
    """
    Ask for blood again where the first was drawn: with what waits already, else as a new one.

    The patient has to be prepared anew, so no answer is taken over.

    Args:
        first: the requisition of the specimen.
        specimen: number of the specimen that is refused.
        tests: codes of its refused tests.
        sentence: why, for the collector.
        by: who asks.
        now: when.

    Returns:
        The requisition that will be drawn.

    Raises:
        InputError: the requisition never asked for these tests.
    """
    old = first.to_domain()
    wanted = tuple(test for test in old.tests if test.code in tests)
    if not wanted:
        raise InputError(f"Requisition {first.number} does not ask for {', '.join(tests)}")
    with transaction.atomic():
        Requisition.objects.select_for_update().get(pk=first.pk)  # two refusals, one after another
        waiting = recollection_open(first)
        if waiting is not None:
            return recollection_join(waiting, wanted, f"Also {specimen}: {sentence}", old.remarks)
        said = f"Recollection of {first.number}: {sentence}"
        new = replace(
            old,
            number=recollection_number(first.number),
            tests=wanted,
            collect_at=now,
            answers=Answers(),
            remarks=" ".join(filter(None, (said, old.remarks))),
        )
        return requisition_add(
            requisition=new, document=requisition_to(new), place=first.place, by=by
        )


def recollection_open(first: Requisition) -> Requisition | None:
    """
    The recollection of the same requisition to which tests may still be added.

    It waits, none of its containers has a number, so that no label and no sheet of a tablet was
    made from it, no draw was begun for it, and nobody went past a rule of its plan: that was said
    of less blood.
    """
    named = re.compile(rf"{re.escape(number_base(first.number))}-R\d+")
    for row in recollections_waiting(first):
        if not named.fullmatch(row.number):
            continue
        begun = DrawNow.objects.filter(requisition=row.number).exists()
        if not begun and not overrides_of([row]):
            return row
    return None


def recollections_waiting(first: Requisition) -> QuerySet[Requisition]:
    """What waits of the same patient at the same place, without a number on any container."""
    rows = Requisition.objects.select_for_update(of=("self",)).filter(
        patient=first.patient,
        place=first.place,
        state=RequisitionState.WAITING,
        number__startswith=f"{number_base(first.number)}-R",
        accessions=None,
        chair_sheets=None,
    )
    return rows.exclude(pk=first.pk).order_by("pk")


def recollection_join(
    row: Requisition, wanted: Collection[OrderedTest], said: str, remarks: str
) -> Requisition:
    """Add tests to a recollection that waits, and why, before the remarks of the first."""
    there = row.to_domain()
    known = {test.code for test in there.tests}
    fresh = [test for test in wanted if test.code not in known]
    head = there.remarks.removesuffix(remarks).strip()
    new = replace(
        there,
        tests=(*there.tests, *fresh),
        remarks=" ".join(filter(None, (head, said, remarks))),
    )
    row.remarks, row.document = new.remarks, requisition_to(new)
    row.save(update_fields=["remarks", "document"])
    RequisitionTest.objects.bulk_create(
        RequisitionTest(
            requisition=row,
            position=position,
            code=test.code,
            priority=test.priority,
            through=list(test.through),
        )
        for position, test in enumerate(fresh, start=len(there.tests) + 1)
    )
    return row
