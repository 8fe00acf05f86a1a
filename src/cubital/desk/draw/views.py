"""The draw plan on screen, on paper, and as labels."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from cubital.desk.draw.asked import requisition_or_404
from cubital.desk.draw.page import plan_page
from cubital.desk.draw.planning import Planned, plan_for
from cubital.desk.people.who import EVERY_ROLE, who_may
from cubital.desk.record import requisitions
from cubital.desk.record.models import Requisition, Role
from cubital.errors import InputError
from cubital.labels.from_plan import labels_for
from cubital.labels.sheet import print_labels

MAY_LABEL = (Role.COLLECTOR, Role.BENCH, Role.MANAGER)
MAY_ENTER = (Role.COLLECTOR, Role.MANAGER)


@require_GET
@who_may(*EVERY_ROLE)
def plan(request: HttpRequest, number: str) -> HttpResponse:
    """Show the draw plan of a requisition."""
    row = requisition_or_404(number)
    return render(request, "draw/plan.html", plan_context(request, row))


def plan_context(request: HttpRequest, row: Requisition) -> dict[str, Any]:
    """What the plan page shows; with a sentence instead of a plan where there can be none."""
    context: dict[str, Any] = {
        "row": row,
        "today": timezone.localdate(),
        "may_enter": request.user.role in MAY_ENTER,
        "may_label": request.user.role in MAY_LABEL and row.state != "cancelled",
        "linked": True,
    }
    try:
        planned = plan_for(row)
    except InputError as refused:
        context["refused"] = str(refused)
        return context
    context["planned"] = planned
    context["page"] = plan_page(planned.plan, planned.findings, planned.catalogue)
    return context


@require_GET
@who_may(*EVERY_ROLE)
def sheet(request: HttpRequest, number: str) -> HttpResponse:
    """Show the plan as one A4 page for the printer."""
    row = requisition_or_404(number)
    return render(request, "draw/sheet.html", plan_context(request, row))


@require_POST
@who_may(*MAY_LABEL)
def labels(request: HttpRequest, number: str) -> HttpResponse:
    """Give the labels of the plan as a PDF; printed twice they are the same labels."""
    row = requisition_or_404(number)
    try:
        data = label_pdf(row, plan_for(row), str(request.user.get_username()))
    except InputError as refused:
        messages.error(request, str(refused), extra_tags="wrong")
        return redirect("plan", number)
    response = HttpResponse(data, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="labels-{row.pk}.pdf"'
    response["Cache-Control"] = "no-store"
    return response


def label_pdf(row: Requisition, planned: Planned, collector: str) -> bytes:
    """
    Number the containers and print their labels.

    Raises:
        InputError: too few identifiers, nothing to label, or cancelled.
    """
    if row.state == "cancelled":
        raise InputError(f"Requisition {row.number} is cancelled", mend="No label is printed.")
    wanted = [each for each in planned.plan.containers if each.label_wanted]
    size = planned.catalogue.label_sizes[row.place.label_size]
    numbers = requisitions.accessions_give(
        requisition=row,
        containers=[(each.position, each.container) for each in wanted],
        day=timezone.localdate(),
    )
    made = labels_for(
        planned.plan,
        planned.requisition,
        planned.catalogue,
        [numbers[each.position] for each in wanted],
        collector=collector,
    )
    return print_labels(made, size)
