"""The pages of patients: search, register, see and change."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from cubital.catalogue import Catalogue
from cubital.desk.bench.patient import specimens_context
from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import EVERY_ROLE, who_may
from cubital.desk.record import patients as writes
from cubital.desk.record import selectors
from cubital.desk.record.models import Patient, Role
from cubital.desk.requisition.new import patient_choices
from cubital.desk.requisition.patient_draft import ConditionDraft, PatientDraft
from cubital.desk.requisition.refusal import in_form_words
from cubital.errors import InputError
from cubital.requisition.part import Part
from cubital.requisition.patient import read_patient
from cubital.requisition.values import Patient as DomainPatient

entering = who_may(Role.COLLECTOR, Role.MANAGER)


@require_GET
@entering
def search(request: DeskRequest) -> HttpResponse:
    """Find a patient; a piece of the page when one types."""
    q = request.GET.get("q", "").strip()
    context = {"q": q, "patients": selectors.patients_found(q)}
    page = "requisition/patient_list.html" if request.htmx else "requisition/patients.html"
    return render(request, page, context)


@require_GET
@who_may(*EVERY_ROLE)
def patient(request: DeskRequest, number: str) -> HttpResponse:
    """What is known about one patient."""
    row = patient_or_404(number)
    context = {
        "patient": row,
        "conditions": [ConditionDraft(c.code, c.side, c.site).words for c in row.conditions.all()],
        "draws": row.prior_draws.all()[:20],
        "requisitions": selectors.requisitions_of_patient(row)[:20],
        "today": timezone.localdate(),
        "may_enter": request.user.role in (Role.COLLECTOR, Role.MANAGER),
        **specimens_context(request, row.number),
    }
    return render(request, "requisition/patient.html", context)


@require_http_methods(["GET", "POST"])
@entering
def change(request: DeskRequest, number: str) -> HttpResponse:
    """Change what is known about a patient."""
    row = patient_or_404(number)
    catalogue = catalogue_at(request.place.catalogue_folder)
    if request.method == "GET":
        return form(request, PatientDraft.of(row.to_domain()), catalogue)
    draft = PatientDraft.posted(request.POST)
    try:
        draft.number = row.number
        writes.patient_change(row=row, patient=read(draft, catalogue))
    except InputError as refused:
        return form(request, draft, catalogue, in_form_words(refused))
    messages.success(request, "Changed.", extra_tags="good")
    return redirect("patient", number)


def read(draft: PatientDraft, catalogue: Catalogue) -> DomainPatient:
    """Have the core read and judge what was typed."""
    part = Part.of(draft.to_mapping(), "", "patient.")
    return read_patient(part, catalogue, timezone.localtime())


def form(
    request: DeskRequest, draft: PatientDraft, catalogue: Catalogue, refused: str = ""
) -> HttpResponse:
    """The form, with everything as it was typed."""
    context = {"patient": draft, "said": refused, **patient_choices(catalogue)}
    context["fixed_number"] = True
    return render(
        request, "requisition/patient_change.html", context, status=422 if refused else 200
    )


def patient_or_404(number: str) -> Patient:
    """The patient of that number."""
    row = selectors.patient_by_number(number)
    if row is None:
        raise Http404
    return row
