"""A file that somebody sends to the desk."""

from __future__ import annotations

from django.http import HttpRequest

from cubital.errors import RequisitionError
from cubital.requisition.read import check_size


def uploaded(request: HttpRequest) -> tuple[str, bytes]:
    """
    Give the name and content of the file of a form.

    Raises:
        RequisitionError: none was sent, or it is too large to be a day's requisitions.
    """
    file = request.FILES.get("file")
    if file is None:
        raise RequisitionError("No file was sent", mend="Choose a CSV or JSON file first.")
    check_size(file.size, file.name)
    return file.name, file.read()
