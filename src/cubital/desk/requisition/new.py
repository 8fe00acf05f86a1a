"""The new requisition: one page, one scan or a few keys for each thing."""

from __future__ import annotations

from copy import deepcopy
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from cubital.catalogue import Catalogue
from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.record import requisitions, selectors
from cubital.desk.record.models import Patient, Place, Requisition, Role
from cubital.desk.record.patients import patient_number_give
from cubital.desk.requisition.draft import Draft
from cubital.desk.requisition.patient_draft import PatientDraft
from cubital.desk.requisition.refusal import in_form_words
from cubital.errors import InputError
from cubital.requisition import requisition_from, requisition_to

PRIORITIES = (
    ("1", "1, first of all"),
    ("2", "2"),
    ("3", "3"),
    ("4", "4"),
    ("5", "5, usual"),
    ("6", "6"),
    ("7", "7"),
    ("8", "8"),
    ("9", "9, if it fits"),
)


@dataclass(frozen=True, slots=True)
class Chip:
    """A test or panel on the form."""

    code: str
    name: str
    priority: str
    members: str


@require_http_methods(["GET", "POST"])
@who_may(Role.COLLECTOR, Role.MANAGER)
def new(request: DeskRequest) -> HttpResponse:
    """Show the form, or store what it sent: all of it or nothing."""
    catalogue = catalogue_at(request.place.catalogue_folder)
    if request.method == "GET":
        draft = Draft.blank(timezone.localtime())
        known = selectors.patient_by_number(request.GET.get("patient", ""))
        if known is not None:
            draft.patient, draft.known_patient = PatientDraft.of(known.to_domain()), True
        return form(request, draft, catalogue)
    draft = Draft.posted(request.POST)
    try:
        row, fresh = store(draft, request, catalogue)
    except InputError as refused:
        return form(request, draft, catalogue, in_form_words(refused))
    said = "is on the desk." if fresh else "was stored already; it is not stored twice."
    messages.success(request, f"Requisition {row.number} {said}", extra_tags="good")
    return redirect("plan", row.number)


def store(draft: Draft, request: DeskRequest, catalogue: Catalogue) -> tuple[Requisition, bool]:
    """
    Have the core read the draft, then store it; a refusal leaves nothing behind.

    Gives the requisition, and whether it is a new one: a form that comes a second time, by a double
    click or after going back, is the same requisition and spends no numbers.

    Raises:
        InputError: what is wrong, where, and what to do.
    """
    place: Place = request.place
    now = timezone.localtime()
    whole = deepcopy(draft)  # numbers that are given now must not stand on a refused form
    with transaction.atomic():
        complete(whole, place)
        mapping = whole.to_mapping(ZoneInfo(place.time_zone))
        requisition = requisition_from(mapping, catalogue=catalogue, now=now)
        document = requisition_to(requisition)
        again = selectors.requisition_again(
            document=document,
            collect_at=requisition.collect_at,
            place=place,
            by=request.user,
            numbered=bool(draft.requisition_number),
            patient_numbered=bool(draft.patient.number),
        )
        if again is not None:
            transaction.set_rollback(True)
            return again, False
        if not whole.known_patient:
            refuse_twin(whole)
        row = requisitions.requisition_add(
            requisition=requisition, document=document, place=place, by=request.user
        )
    return row, True


def complete(draft: Draft, place: Place) -> None:
    """
    Lay the known patient under what was typed, and give the numbers that were left empty.

    Raises:
        InputError: no such patient.
    """
    if draft.known_patient:
        row = selectors.patient_by_number(draft.patient.number)
        if row is None:
            raise InputError("This patient is not registered any more", mend="Search again.")
        typed, draft.patient = draft.patient, PatientDraft.of(row.to_domain())
        draft.patient.weight_kg = typed.weight_kg or draft.patient.weight_kg
        draft.patient.veins = typed.veins
    elif not draft.patient.number:
        draft.patient.number = patient_number_give(place=place)
    if not draft.requisition_number:
        draft.requisition_number = requisitions.requisition_number_give(
            place=place, day=timezone.localdate()
        )


def refuse_twin(draft: Draft) -> None:
    """Refuse to register somebody twice, unless the person says that it is somebody else."""
    typed = draft.patient
    twin = selectors.patient_twin(typed.family_name, typed.given_name, typed.birth_date)
    if twin is not None and twin.number != typed.number and not draft.another_person:
        raise InputError(
            f"A patient of this name and birth date is registered as {twin.number}",
            "patient",
            "Search for that number; or tick “This is another person” and send again.",
        )


def form(
    request: DeskRequest, draft: Draft, catalogue: Catalogue, refused: str = ""
) -> HttpResponse:
    """Show the form with everything as it was typed."""
    draft.known_patient = draft.known_patient and bool(draft.patient.number)
    return render(
        request,
        "requisition/new.html",
        {
            "draft": draft,
            "said": refused,
            "chips": [chip(code, priority, catalogue) for code, priority in draft.tests],
            "priorities": PRIORITIES,
            "asks": asks(draft.tests, request.place, catalogue),
            **patient_choices(catalogue),
        },
        status=422 if refused else 200,
    )


def patient_choices(catalogue: Catalogue) -> dict[str, object]:
    """What the selects of a patient's form offer."""
    return {
        "sexes": Patient.SEXES,
        "vein_words": Patient.VEINS,
        "condition_codes": condition_codes(catalogue),
        "site_codes": [(row.code, row.name) for row in catalogue.sites.values()],
    }


def condition_codes(catalogue: Catalogue) -> list[str]:
    """Every condition that a rule looks at."""
    return sorted(catalogue.conditions)


def chip(code: str, priority: str, catalogue: Catalogue) -> Chip:
    """A test or panel as a row of the form."""
    if code in catalogue.panels:
        members = [catalogue.tests[test].short for test, _ in catalogue.expand(code)]
        return Chip(code, catalogue.panels[code].name, priority, ", ".join(members))
    row = catalogue.tests.get(code)
    return Chip(code, row.name if row else code, priority, "")


def asks(tests: list[tuple[str, str]], place: Place, catalogue: Catalogue) -> list[tuple[str, str]]:
    """What the chosen tests want of the patient: (test, sentence), each sentence once."""
    found: dict[str, str] = {}
    for code, _ in tests:
        known = code in catalogue.tests or code in catalogue.panels
        for test, _path in catalogue.expand(code) if known else ():
            for row in catalogue.preparation(test, place.choices):
                found.setdefault(row.sentence, catalogue.tests[test].short)
    return [(test, sentence) for sentence, test in found.items()]
