"""A file that somebody sends to the desk."""

from __future__ import annotations

from cubital.desk.people.request import DeskRequest
from cubital.errors import RequisitionError
from cubital.requisition.read import check_size


def uploaded(request: DeskRequest) -> tuple[str, bytes]:
    """
    Give the name and content of the file of a form.

    Raises:
        RequisitionError: none was sent, or it is too large to be a day's requisitions.
    """
    file = request.FILES.get("file")
    if file is None:
        raise RequisitionError("No file was sent", mend="Choose a CSV or JSON file first.")
    name = file.name or ""
    check_size(file.size or 0, name)
    return name, file.read()
