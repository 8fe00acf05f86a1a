"""Writes: requisitions of days gone by, many at once, as a laboratory brings them along."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django.db import transaction

from cubital.desk.record.models import (
    Patient,
    Place,
    Requisition,
    RequisitionState,
    RequisitionTest,
)
from cubital.requisition.values import Requisition as DomainRequisition


def requisitions_past_add(
    *,
    requisitions: Sequence[tuple[DomainRequisition, Mapping[str, Any]]],
    place: Place,
    patients: Mapping[str, Patient],
) -> None:
    """
    Store requisitions that nobody will draw for any more, without asking about each.

    Args:
        requisitions: each with the document it came as.
        place: where they were drawn for.
        patients: by number, registered before.
    """
    with transaction.atomic():
        rows = Requisition.objects.bulk_create(
            Requisition(
                number=each.number,
                place=place,
                patient=patients[each.patient.number],
                collect_at=each.collect_at,
                requester=each.requester,
                ward=each.ward,
                document=dict(document),
                state=RequisitionState.WAITING,
            )
            for each, document in requisitions
        )
        RequisitionTest.objects.bulk_create(
            RequisitionTest(
                requisition=row,
                position=position,
                code=test.code,
                priority=test.priority,
                through=list(test.through),
            )
            for row, (each, _) in zip(rows, requisitions, strict=True)
            for position, test in enumerate(each.tests, start=1)
        )
