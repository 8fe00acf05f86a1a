"""Labels printed at the chair: of the tubes of one sheet, from the plan it was made from."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from django.utils import timezone

from cubital.chair.shape import sheet_from
from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.chair.short import sheet_here
from cubital.desk.record.models import Place
from cubital.draw import plan_from
from cubital.errors import InputError
from cubital.labels.from_plan import labels_for
from cubital.labels.sheet import print_labels


def chair_labels(code: str, tubes: Collection[str], place: Place, collector: str) -> bytes:
    """
    Print the labels of some tubes of a sheet, or of all when none is named.

    Raises:
        InputError: no such sheet here, none of its tubes, or too few identifiers.
    """
    row = sheet_here(code, place)
    sheet = sheet_from(row.document)
    numbers = {
        tube.position: tube.accession
        for tube in sheet.tubes
        if not tubes or tube.accession in tubes
    }
    plan = plan_from(row.plan)
    wanted = tuple(c for c in plan.containers if c.position in numbers)
    if not wanted:
        raise InputError("None of these tubes belongs to this draw", mend="Load the round anew.")
    catalogue = catalogue_at(place.catalogue_folder)
    made = labels_for(
        replace(plan, containers=wanted),
        row.requisition.to_domain(),
        catalogue,
        [numbers[c.position] for c in wanted],
        collected_at=timezone.localtime(),
        collector=collector,
        few=sheet.few is not None and bool(sheet.few.lacking),
    )
    return print_labels(made, catalogue.label_sizes[place.label_size])
