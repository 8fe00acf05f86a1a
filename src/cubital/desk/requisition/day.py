"""The day's requisitions, and the box that finds whatever was scanned."""

from __future__ import annotations

from datetime import date, timedelta

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.draw.planning import counts
from cubital.desk.logbook.due import first_page
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import EVERY_ROLE, who_may
from cubital.desk.reception.again import again_context
from cubital.desk.record import selectors
from cubital.desk.record.models import Role
from cubital.requisition.part import shown

MAY_ENTER = (Role.COLLECTOR, Role.MANAGER)


@require_GET
@who_may(*EVERY_ROLE)
def day(request: DeskRequest) -> HttpResponse:
    """List a place's requisitions of one day."""
    today = timezone.localdate()
    chosen = day_asked(request.GET.get("day", ""), today)
    rows = list(selectors.requisitions_of_day(place=request.place, day=chosen))
    catalogue = catalogue_at(request.place.catalogue_folder)
    found = counts([row for row in rows if row.state == "waiting"], request.place)
    listed = [
        {
            "row": row,
            "found": found.get(row.number),
            "tests": [
                catalogue.tests[test.code].short if test.code in catalogue.tests else test.code
                for test in row.tests.all()
            ],
        }
        for row in rows
    ]
    return render(
        request,
        "requisition/day.html",
        {
            "day": chosen,
            "today": today,
            "before": chosen - timedelta(days=1),
            "after": chosen + timedelta(days=1),
            "listed": listed,
            "waiting": sum(row.state == "waiting" for row in rows),
            "may_enter": request.user.role in MAY_ENTER,
            "exposures_due": first_page(request),
            **(again_context(request) if chosen == today else {}),
        },
    )


def day_asked(text: str, today: date) -> date:
    """The day in the address, or today when there is none that can be read."""
    try:
        asked = date.fromisoformat(text)
    except ValueError:
        return today
    return asked if date(1900, 1, 2) < asked < date(9999, 12, 30) else today


@require_GET
@who_may(*EVERY_ROLE)
def find(request: DeskRequest) -> HttpResponse:
    """Open what a scan or a few typed letters mean."""
    text = request.GET.get("q", "").strip()
    row = selectors.requisition_scanned(text)
    if row is not None:
        return redirect("plan", row.number)
    patients = selectors.patients_found(text) if request.user.role in MAY_ENTER else []
    if len(patients) == 1 and patients[0].number == text:
        return redirect("patient", text)
    if not patients:
        what = f"Nothing here is called {shown(text)}." if text else "Nothing was scanned."
        messages.error(
            request,
            f"{what} Scan a requisition, a label or a wristband, or type a number or a name.",
            extra_tags="wrong",
        )
        return redirect("day")
    return render(request, "requisition/found.html", {"q": text, "patients": patients})
