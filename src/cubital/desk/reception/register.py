"""A specimen without a draw on record: another material, or blood that a ward has drawn."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from cubital.catalogue import Catalogue
from cubital.catalogue.model_reception import Examination, Material
from cubital.custody import Specimen, State
from cubital.custody.payload import is_code
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.reception.judging import judge
from cubital.desk.reception.one import seen_choices
from cubital.desk.reception.scan import number_read
from cubital.desk.reception.seen import UL_PER_ML, Seen, scaled
from cubital.desk.reception.shown import test_name
from cubital.desk.record import receptions, selectors, selectors_way
from cubital.desk.record.models import Patient, Requisition, Role
from cubital.desk.requisition.typed import moment
from cubital.desk.transport.known import Here, Known, domain_of, here_at, ordered
from cubital.errors import EventRefused, InputError
from cubital.reception import accepts_at_once

BLOOD = "blood"
FIRST = "urine"


@dataclass(frozen=True, slots=True)
class Draft:
    """The form as it was typed."""

    code: str = ""
    requisition: str = ""
    patient: str = ""
    material: str = FIRST
    tests: tuple[str, ...] = ()
    tube: str = ""
    collected_date: str = ""
    collected_time: str = ""

    @classmethod
    def of(cls, data: QueryDict, now: datetime) -> Draft:
        """Read what was sent; the day is today where none is written."""
        return cls(
            code=data.get("code", "").strip(),
            requisition=data.get("requisition", "").strip(),
            patient=data.get("patient", "").strip(),
            material=data.get("material", "") or FIRST,
            tests=tuple(data.getlist("test")),
            tube=data.get("tube", ""),
            collected_date=data.get("collected_date", f"{now:%Y-%m-%d}"),
            collected_time=data.get("collected_time", ""),
        )


@require_http_methods(["GET", "POST"])
@who_may(Role.BENCH)
def register(request: DeskRequest) -> HttpResponse:
    """Show the form, or register what it sent: all of it or nothing."""
    now = timezone.localtime()
    if request.method == "GET":
        return form(request, Draft.of(request.GET, now), Seen())
    draft, seen = Draft.of(request.POST, now), Seen.of(request.POST)
    try:
        code, accepted = store(request, draft, seen)
    except (InputError, EventRefused) as refused:
        return form(request, draft, seen, str(refused), status=422)
    said = f"{code} is registered" + (" and accepted." if accepted else ": decide on it.")
    messages.success(request, said, extra_tags="good" if accepted else "ask")
    return redirect("reception-specimen", code)


@require_GET
@who_may(Role.BENCH)
def asked(request: DeskRequest) -> HttpResponse:
    """The part of the form that hangs on the material and the requisition."""
    draft = Draft.of(request.GET, timezone.localtime())
    context = form_context(request, draft, Seen.of(request.GET))
    return render(request, "reception/register_asked.html", context)


def store(request: DeskRequest, draft: Draft, seen: Seen) -> tuple[str, bool]:
    """
    Register it, and accept it where nothing stands against it.

    Returns:
        Its number, and whether it is accepted.

    Raises:
        InputError: what is wrong, where, and what to do.
        EventRefused: the number is in the record already.
    """
    here, now = here_at(request.place), timezone.now()
    row = requisition_named(draft.requisition)
    person = patient_named(draft, row)
    what = registered(draft, seen, here, row, person)
    specimen = as_specimen(what, here, now)
    known = Known(
        specimen, row, domain_of(specimen, row), ordered(what.tests, row, ()), None, {}, ()
    )
    done = accepts_at_once(judge(known, here, seen, at=now, now=now))
    receptions.specimen_register(
        what=what,
        accept=done,
        looked=seen.kept(),
        seen=seen.evidence(here.catalogue),
        place=request.place,
        by=request.user,
        now=now,
    )
    for row_open in selectors_way.strangers_open(request.place).filter(text=what.code):
        receptions.stranger_settle(
            row=row_open, how="registered", note="", by=request.user, now=now
        )
    return what.code, done is not None


def requisition_named(number: str) -> Requisition | None:
    """
    The requisition that was scanned; None where none was.

    Raises:
        InputError: there is none of that number.
    """
    row = selectors.requisition_scanned(number) if number else None
    if number and row is None:
        raise InputError(
            f"There is no requisition {number!r}", "Requisition", "Scan it, or leave it empty."
        )
    return row


def patient_named(draft: Draft, row: Requisition | None) -> Patient:
    """
    Whose it is.

    Raises:
        InputError: nobody is named, nobody of that number, or somebody else than the requisition's.
    """
    if row is not None:
        if draft.patient and draft.patient != row.patient.number:
            raise InputError(
                f"Requisition {row.number} is for {row.patient.number}, not {draft.patient}",
                "Patient",
                "Look at the label again.",
            )
        return row.patient
    if not draft.patient:
        raise InputError("Whose is it?", "Patient", "Scan the requisition or the patient's number.")
    person = selectors.patient_by_number(draft.patient)
    if person is None:
        raise InputError(
            f"There is no patient {draft.patient!r}", "Patient", "Ask for a requisition first."
        )
    return person


def registered(
    draft: Draft, seen: Seen, here: Here, row: Requisition | None, person: Patient
) -> receptions.Registered:
    """
    What is registered.

    Raises:
        InputError: no test, a container that is not chosen, a time or number that cannot be read.
    """
    offered = [code for code, _ in offered_tests(draft.material, row, here.catalogue)]
    tests = tuple(test for test in draft.tests if test in offered)
    if not tests:
        raise InputError("What is to be examined?", "Tests", "Tick at least one.")
    if draft.material == BLOOD and draft.tube not in here.catalogue.containers:
        raise InputError("Which tube is it?", "Tube", "Choose one.")
    vessel = seen.vessel.replace(" ", "-")[:32]
    return receptions.Registered(
        code=number_for(draft.code, here),
        material=draft.material,
        patient=person.number,
        requisition=row.number if row is not None else "",
        container=draft.tube if draft.material == BLOOD else vessel,
        tests=tests,
        collected_at=collected(draft, here),
        volume_ul=scaled(seen.volume_ml, "Volume, mL", "2.5", UL_PER_ML),
    )


def collected(draft: Draft, here: Here) -> datetime | None:
    """
    When it was collected; None where nobody wrote it down.

    Raises:
        InputError: it cannot be read.
    """
    if not draft.collected_time.strip():
        return None
    return moment(draft.collected_date, draft.collected_time, here.zone, "Collected")


def number_for(text: str, here: Here) -> str:
    """
    The number on its label, or a new one where it has none.

    Raises:
        InputError: it was misread, or cannot be a number.
    """
    if not text:
        return receptions.accession_give(place=here.row, day=timezone.localdate())
    code, misread = number_read(text)
    if misread:
        raise InputError(misread)
    if not is_code(code) or "/" in code:
        raise InputError(f"{text!r} cannot be a number", "Number", "Use letters and digits.")
    return code


def as_specimen(what: receptions.Registered, here: Here, now: datetime) -> Specimen:
    """The specimen as the record will hold it."""
    return Specimen(
        code=what.code,
        site=here.row.code,
        state=State.RECEIVED,
        place="reception",
        patient=what.patient,
        requisition=what.requisition,
        container=what.container,
        material=what.material,
        volume_ul=what.volume_ul,
        collected_at=what.collected_at,
        received_at=now,
        changed_at=now,
    )


# ---------------------------------------------------------------- the form


def offered_tests(
    material: str, row: Requisition | None, catalogue: Catalogue
) -> list[tuple[str, str]]:
    """What may be ticked: examinations of the material; of blood, what the requisition asks."""
    if material != BLOOD:
        return [(r.code, r.name) for r in catalogue.rows(Examination) if r.material == material]
    if row is None:
        return []
    return [(test.code, test_name(test.code, catalogue)) for test in row.tests.all()]


def form_context(request: DeskRequest, draft: Draft, seen: Seen) -> dict[str, Any]:
    """What the form shows."""
    here = here_at(request.place)
    row = selectors.requisition_scanned(draft.requisition) if draft.requisition else None
    now = timezone.now()
    blank = Specimen(
        code="", site=here.row.code, state=State.RECEIVED, place="", patient="",
        material=draft.material, changed_at=now,
    )  # fmt: skip
    examined = {r.code: r for r in here.catalogue.rows(Examination)}
    return {
        "draft": draft,
        "seen": seen,
        "row": row,
        "materials": [(r.code, r.name) for r in here.catalogue.rows(Material)],
        "offered": [
            (code, name, examined.get(code))
            for code, name in offered_tests(draft.material, row, here.catalogue)
        ],
        "is_blood": draft.material == BLOOD,
        "registering": True,
        "specimen": blank,
        **seen_choices(blank, here.catalogue, seen),
    }


def form(
    request: DeskRequest, draft: Draft, seen: Seen, said: str = "", status: int = 200
) -> HttpResponse:
    """The whole page."""
    context = form_context(request, draft, seen) | {"said": said}
    return render(request, "reception/register.html", context, status=status)
