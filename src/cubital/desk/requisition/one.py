"""What happens to a requisition besides its plan: cancelled, or many brought in from a file."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.draw.asked import requisition_or_404
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.record import requisitions
from cubital.desk.record.models import Role
from cubital.desk.requisition.upload import uploaded
from cubital.errors import InputError
from cubital.requisition import read_requisitions, requisition_to

entering = who_may(Role.COLLECTOR, Role.MANAGER)


@require_POST
@entering
def cancel(request: DeskRequest, number: str) -> HttpResponse:
    """Take back a requisition that waits."""
    row = requisition_or_404(number)
    try:
        requisitions.requisition_cancel(
            requisition=row,
            why=request.POST.get("why", ""),
            by=request.user,
            now=timezone.now(),
        )
    except InputError as refused:
        messages.error(request, str(refused), extra_tags="wrong")
        return redirect("plan", number)
    messages.success(request, f"Requisition {number} is cancelled.", extra_tags="good")
    return redirect("day")


@require_http_methods(["GET", "POST"])
@entering
def from_file(request: DeskRequest) -> HttpResponse:
    """Bring in a file of requisitions: all of them or none."""
    if request.method == "GET":
        return render(request, "requisition/file.html")
    catalogue = catalogue_at(request.place.catalogue_folder)
    try:
        name, data = uploaded(request)
        found = read_requisitions(data, name=name, catalogue=catalogue, now=timezone.localtime())
        stored = requisitions.requisitions_add(
            requisitions=[(each, requisition_to(each)) for each in found],
            place=request.place,
            by=request.user,
        )
    except InputError as refused:
        context = {"said": f"{refused} Nothing was stored."}
        return render(request, "requisition/file.html", context, status=422)
    days = sorted({timezone.localtime(row.collect_at).date() for row in stored})
    messages.success(
        request,
        f"Stored from {name}: {len(stored)}. Days: {', '.join(map(str, days))}.",
        extra_tags="good",
    )
    return redirect(f"/?day={days[0]}")
