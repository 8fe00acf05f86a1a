"""What came in, as a complete requisition, or what is missing."""

from cubital.requisition.missing import (
    IDENTIFIER_MISSING,
    LEAST_IDENTIFIERS,
    identifiers_held,
    missing,
)
from cubital.requisition.read import read_requisitions
from cubital.requisition.shape import requisition_from, requisition_to

__all__ = [
    "IDENTIFIER_MISSING",
    "LEAST_IDENTIFIERS",
    "identifiers_held",
    "missing",
    "read_requisitions",
    "requisition_from",
    "requisition_to",
]
