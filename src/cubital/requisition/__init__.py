"""What came in, as a complete requisition, or what is missing."""

from cubital.requisition.missing import missing
from cubital.requisition.read import read_requisitions
from cubital.requisition.shape import requisition_from, requisition_to

__all__ = ["missing", "read_requisitions", "requisition_from", "requisition_to"]
