"""The requisition that an address names."""

from __future__ import annotations

from django.http import Http404

from cubital.desk.record import selectors
from cubital.desk.record.models import Requisition


def requisition_or_404(number: str) -> Requisition:
    """The requisition of that number."""
    row = selectors.requisition_by_number(number)
    if row is None:
        raise Http404
    return row
