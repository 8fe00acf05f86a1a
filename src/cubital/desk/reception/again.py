"""What a place has to ask for again without a draw: on its first page, until it has come."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_POST

from cubital.catalogue import Catalogue
from cubital.catalogue.model_reception import Examination
from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.reception.shown import joined, material_name, since, test_name
from cubital.desk.record.asked_again import WantedAgain, wanted_again, wanted_no_more, wanted_of
from cubital.desk.record.models import Role
from cubital.errors import EventRefused, InputError

MAY_END = (Role.COLLECTOR, Role.BENCH, Role.MANAGER)


@dataclass(frozen=True, slots=True)
class AgainShown:
    """One line: whose, what, in what, why, since when, and who knows."""

    line: WantedAgain
    name: str
    what: str
    vessel: str
    since: str
    register: str

    @property
    def code(self) -> str:
        """Number of the specimen that was refused."""
        return self.line.asked.specimen


def again_context(request: DeskRequest) -> dict[str, Any]:
    """What the first page of a place shows of it."""
    catalogue = catalogue_at(request.place.catalogue_folder)
    lines = wanted_again(request.place, looked_at_since(catalogue))
    return {
        "again": [shown(line, catalogue) for line in lines],
        "may_end_again": request.user.role in MAY_END,
        "may_register": request.user.role == Role.BENCH,
    }


def looked_at_since(catalogue: Catalogue) -> datetime:
    """How far back the list goes."""
    return timezone.now() - timedelta(days=catalogue.number("asked_again_days"))


def shown(line: WantedAgain, catalogue: Catalogue) -> AgainShown:
    """A line in words."""
    asked = line.asked
    tests = joined(test_name(test, catalogue) for test in asked.tests)
    vessels = dict.fromkeys(
        f"{row.container}{f' with {row.preservative}' if row.preservative else ''}"
        for row in catalogue.rows(Examination)
        if row.code in asked.tests
    )
    said = {"material": asked.material, "patient": asked.patient}
    if line.requisition is not None:
        said = {"material": asked.material, "requisition": line.requisition.number}
    query = urlencode({**said, "test": asked.tests}, doseq=True)
    return AgainShown(
        line=line,
        name=line.patient.shown_name if line.patient is not None else asked.patient,
        what=f"{material_name(asked.material, catalogue).capitalize()}: {tests}",
        vessel=joined(vessels),
        since=since(asked.asked_at, timezone.now()),
        register=f"{reverse('reception-register')}?{query}",
    )


@require_POST
@who_may(*MAY_END)
def end(request: DeskRequest, code: str) -> HttpResponse:
    """Write that nobody wants it any more."""
    now = timezone.now()
    catalogue = catalogue_at(request.place.catalogue_folder)
    line = wanted_of(code, request.place, looked_at_since(catalogue))
    try:
        if line is None:
            raise InputError(f"{code} is on the list no more", mend="Look at the list again.")
        wanted_no_more(line=line, why=request.POST.get("why", ""), by=request.user, now=now)
    except (InputError, EventRefused) as refused:
        messages.error(request, str(refused), extra_tags="wrong")
    else:
        messages.success(request, f"{code} is not asked for again.", extra_tags="good")
    return redirect("day")
