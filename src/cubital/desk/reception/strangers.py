"""Something that arrived and that nobody knows: what became of it."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.record import receptions, selectors_way
from cubital.desk.record.models import Role, Stranger
from cubital.errors import InputError


@require_GET
@who_may(Role.BENCH, Role.QUALITY)
def one(request: DeskRequest, pk: int) -> HttpResponse:
    """Show what is known of it."""
    return shown(request, stranger_or_404(request, pk))


@require_POST
@who_may(Role.BENCH)
def settle(request: DeskRequest, pk: int) -> HttpResponse:
    """Write down what became of it."""
    row = stranger_or_404(request, pk)
    try:
        receptions.stranger_settle(
            row=row,
            how=request.POST.get("how", ""),
            note=request.POST.get("note", ""),
            by=request.user,
            now=timezone.now(),
        )
    except InputError as refused:
        return shown(request, row, str(refused), status=422)
    messages.success(request, f"{row.text} is settled.", extra_tags="good")
    return redirect("reception")


def stranger_or_404(request: DeskRequest, pk: int) -> Stranger:
    """
    The one that an address names, at this place.

    Raises:
        Http404: there is none.
    """
    row = selectors_way.stranger(request.place, pk)
    if row is None:
        raise Http404
    return row


def shown(request: DeskRequest, row: Stranger, said: str = "", status: int = 200) -> HttpResponse:
    """The page."""
    return render(
        request,
        "reception/stranger.html",
        {
            "row": row,
            "said": said,
            "answers": Stranger.HOW,
            "specimen": selectors_way.specimen_now(row.text),
            "label": selectors_way.accession_row(row.text),
            "may_write": request.user.role == Role.BENCH and row.settled_at is None,
        },
        status=status,
    )
