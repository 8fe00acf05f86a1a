"""The pieces of the new requisition's page that come while one types or scans."""

from __future__ import annotations

import json

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.record import selectors
from cubital.desk.record.models import Role
from cubital.desk.requisition.draft import Draft
from cubital.desk.requisition.new import PRIORITIES, asks, chip, condition_codes, patient_choices
from cubital.desk.requisition.patient_draft import ConditionDraft, PatientDraft

entering = who_may(Role.COLLECTOR, Role.MANAGER)


def saying(response: HttpResponse, **said: str) -> HttpResponse:
    """Tell the page what happened: ``go`` to a box, or a test was ``taken``."""
    response["HX-Trigger-After-Settle"] = json.dumps(said)
    return response


@require_GET
@entering
def patients(request: DeskRequest) -> HttpResponse:
    """Patients for what has been typed so far."""
    q = request.GET.get("q", "")
    found = selectors.patients_found(q)
    return render(request, "requisition/new_patients.html", {"patients": found, "q": q.strip()})


@require_GET
@entering
def patient(request: DeskRequest) -> HttpResponse:
    """
    The patient's part of the form: somebody known, or fields for somebody new.

    Only a whole number, as a wristband gives it, takes a patient at once: part of a name may fit
    somebody else, so whom it fits is shown to be chosen.  A name that fits nobody begins a new one.
    """
    catalogue = catalogue_at(request.place.catalogue_folder)
    draft = Draft()
    q = request.GET.get("q", "").strip()
    found = selectors.patients_found(q)
    a_name = bool(q) and not any(letter.isdigit() for letter in q)
    if "new" in request.GET or (a_name and not found):
        draft.patient.family_name = q
    elif len(found) == 1 and found[0].number.casefold() == q.casefold():
        draft.patient, draft.known_patient = PatientDraft.of(found[0].to_domain()), True
    else:
        context = {"patients": found, "q": q, "unsure": True}
        response = render(request, "requisition/new_patients.html", context)
        response["HX-Retarget"] = "#patient-answers"
        return response
    context = {"draft": draft, **patient_choices(catalogue)}
    response = render(request, "requisition/new_patient.html", context)
    return saying(response, go="test-box" if draft.known_patient else "family_name")


@require_GET
@entering
def search(request: DeskRequest) -> HttpResponse:
    """The empty search for a patient, after a wrong one was chosen."""
    return render(request, "requisition/new_search.html")


@require_GET
@entering
def tests(request: DeskRequest) -> HttpResponse:
    """Tests and panels for what has been typed so far."""
    catalogue = catalogue_at(request.place.catalogue_folder)
    q = request.GET.get("q", "")
    found = catalogue.search(q, limit=8)
    return render(request, "requisition/new_tests.html", {"found": found, "q": q.strip()})


@require_GET
@entering
def take(request: DeskRequest) -> HttpResponse:
    """One test or panel onto the form, by code or by whatever was scanned or typed."""
    catalogue = catalogue_at(request.place.catalogue_folder)
    q = request.GET.get("code", "") or request.GET.get("q", "")
    code = catalogue.find(q)
    if code is None:
        first = catalogue.search(q, limit=1)
        code = first[0][0] if first else None
    there = request.GET.getlist("test")
    if code is None or code in there:
        close = () if code else catalogue.suggest(q)
        context = {"found": (), "q": q.strip(), "twice": code, "close": close}
        response = render(request, "requisition/new_tests.html", context)
        response["HX-Retarget"] = "#test-answers"
        response["HX-Reswap"] = "innerHTML"
        return response
    shown = {"chip": chip(code, "5", catalogue), "priorities": PRIORITIES}
    response = render(request, "requisition/new_chip.html", shown)
    return saying(response, taken=code, go="test-box")


@require_GET
@entering
def asked(request: DeskRequest) -> HttpResponse:
    """What the tests on the form want of the patient."""
    catalogue = catalogue_at(request.place.catalogue_folder)
    chosen = [(code, "") for code in request.GET.getlist("test")]
    context = {"asks": asks(chosen, request.place, catalogue)}
    return render(request, "requisition/new_asks.html", context)


@require_GET
@entering
def condition(request: DeskRequest) -> HttpResponse:
    """One condition onto a patient's form."""
    catalogue = catalogue_at(request.place.catalogue_folder)
    draft = ConditionDraft(
        request.GET.get("condition_code", ""),
        request.GET.get("condition_side", ""),
        request.GET.get("condition_site", ""),
    )
    known = draft.code in condition_codes(catalogue)
    if not known or draft.value in request.GET.getlist("condition"):
        return HttpResponse(status=204)
    return render(request, "requisition/condition_chip.html", {"condition": draft})
