"""Whom to phone: every refusal until its requester was told, and who was told."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from cubital.catalogue import Catalogue
from cubital.catalogue.model_reception import ReceptionRule
from cubital.custody import Event, Specimen
from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.reception.shown import joined, short_name
from cubital.desk.record import receptions, selectors_way
from cubital.desk.record.models import Requisition, Role
from cubital.desk.transport.known import texts
from cubital.errors import EventRefused, InputError

HOW = (("phone", "by telephone"), ("in_person", "in person"), ("message", "by message"))


@dataclass(frozen=True, slots=True)
class Line:
    """One refusal."""

    code: str
    patient: str
    number: str
    tests: str
    rule: str
    sentence: str
    at: datetime
    who: str
    again: str


@dataclass(frozen=True, slots=True)
class Call:
    """One requester, and everything that is to be told in one call."""

    requester: str
    ward: str
    lines: tuple[Line, ...]


@require_GET
@who_may(Role.BENCH, Role.QUALITY)
def phone(request: DeskRequest) -> HttpResponse:
    """List whom to phone about what, and who was told today."""
    return shown(request)


@require_POST
@who_may(Role.BENCH)
def told(request: DeskRequest) -> HttpResponse:
    """Write down that a requester was told, of one specimen or several."""
    codes = list(dict.fromkeys(request.POST.getlist("code")))
    how = request.POST.get("how", "phone")
    try:
        if not codes:
            raise InputError("Of which specimens?", mend="Tick at least one.")
        receptions.requesters_tell(
            codes=codes,
            told=request.POST.get("told", ""),
            how=how if how in dict(HOW) else "phone",
            note=request.POST.get("note", ""),
            place=request.place,
            by=request.user,
            now=timezone.now(),
        )
    except (InputError, EventRefused) as refused:
        return shown(request, str(refused), status=422)
    messages.success(request, f"Told: {joined(codes)}.", extra_tags="good")
    return redirect("reception-phone")


def shown(request: DeskRequest, said: str = "", status: int = 200) -> HttpResponse:
    """The page."""
    today = timezone.localtime().replace(hour=0, minute=0, second=0, microsecond=0)
    catalogue = catalogue_at(request.place.catalogue_folder)
    done = selectors_way.told_since(request.place, today)
    names = selectors_way.shown_names(event.who for event in done)
    to_call = calls(selectors_way.refusals_to_tell(request.place), catalogue)
    ticked = set(request.POST.getlist("code"))
    return render(
        request,
        "reception/phone.html",
        {
            "calls": to_call,
            "typed_for": next((c for c in to_call if ticked & {e.code for e in c.lines}), None),
            "done": [
                {
                    "at": event.happened_at,
                    "code": event.subject.partition(":")[2],
                    "told": event.payload.get("told"),
                    "how": dict(HOW).get(str(event.payload.get("how")), ""),
                    "note": event.payload.get("note", ""),
                    "who": names.get(event.who, event.who),
                }
                for event in done
            ],
            "ways": HOW,
            "said": said,
            "posted": request.POST,
            "may_write": request.user.role == Role.BENCH,
        },
        status=status,
    )


def calls(refusals: Sequence[Event], catalogue: Catalogue) -> list[Call]:
    """Refusals gathered by requester, the oldest first."""
    specimens = selectors_way.specimens_now(code_of(event) for event in refusals)
    numbers = selectors_way.requisitions_for(specimens.values())
    again = asked_again(refusals)
    names = selectors_way.shown_names(event.who for event in refusals)
    found: dict[tuple[str, str], list[Line]] = {}
    for event in reversed(refusals):
        code = code_of(event)
        row = numbers.get(code)
        key = (row.requester, row.ward) if row is not None else ("", "")
        found.setdefault(key, []).append(
            line(event, specimens.get(code), row, again.get(code, ""), names, catalogue)
        )
    return [Call(requester, ward, tuple(lines)) for (requester, ward), lines in found.items()]


def line(
    event: Event,
    specimen: Specimen | None,
    row: Requisition | None,
    again: str,
    names: dict[str, str],
    catalogue: Catalogue,
) -> Line:
    """One refusal in words."""
    rules = {each.code: each.name for each in catalogue.rows(ReceptionRule)}
    tests = texts(event, "tests")
    reason = str(event.payload["reason"])
    return Line(
        code=code_of(event),
        patient=row.patient.shown_name if row is not None else "",
        number=specimen.patient if specimen is not None else "",
        tests=joined(short_name(test, catalogue) for test in tests) or "every test",
        rule=rules.get(reason, reason),
        sentence=str(event.payload.get("note") or ""),
        at=event.happened_at,
        who=names.get(event.who, event.who),
        again=again,
    )


def code_of(event: Event) -> str:
    """The specimen that an event happened to."""
    return event.subject.partition(":")[2]


def asked_again(refusals: Sequence[Event]) -> dict[str, str]:
    """Specimen -> how it is asked for again, for those that are."""
    events = selectors_way.events_of(*(event.subject for event in refusals))
    return {
        code_of(event): str(event.payload.get("note") or "asked for again")
        for event in events
        if event.kind == "recollection_asked"
    }
