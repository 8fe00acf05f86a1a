"""What the page of a plan shows, on screen and on paper."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from cubital.desk.draw.add_on import add_on_form
from cubital.desk.draw.answers import answers_context
from cubital.desk.draw.page import plan_page
from cubital.desk.draw.planning import plan_for
from cubital.desk.people.request import DeskRequest
from cubital.desk.record.models import Requisition, Role
from cubital.errors import CatalogueError, InputError

MAY_LABEL = (Role.COLLECTOR, Role.BENCH, Role.MANAGER)
MAY_ENTER = (Role.COLLECTOR, Role.MANAGER)


def plan_context(request: DeskRequest, row: Requisition) -> dict[str, Any]:
    """What the plan page shows; with a sentence instead of a plan where there can be none."""
    context: dict[str, Any] = {
        "row": row,
        "today": timezone.localdate(),
        "may_enter": request.user.role in MAY_ENTER,
        "may_label": request.user.role in MAY_LABEL and row.state != "cancelled",
        "may_answer": request.user.role in MAY_ENTER and row.state == "waiting",
        "linked": True,
        **answers_context(row),
    }
    try:
        planned = plan_for(row)
    except CatalogueError:
        raise
    except InputError as refused:
        context["refused"] = str(refused)
        return context
    context["planned"] = planned
    context |= add_on_form(row, planned, request.GET)
    context["page"] = plan_page(
        planned.plan, planned.findings, planned.catalogue, planned.overrides
    )
    return context
