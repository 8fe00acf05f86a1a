"""One more test from blood that is here: asked of the draw room, answered, taken."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from cubital.bench import on_hand, standing
from cubital.bench.remains import remains, travelled
from cubital.custody import State
from cubital.desk import words
from cubital.desk.bench.asked import with_tests
from cubital.desk.bench.known import Held, Scene, hold, scene_at
from cubital.desk.bench.shown import tube_of
from cubital.desk.draw.page import Said, Why, said, why
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import EVERY_ROLE, who_may
from cubital.desk.reception.shown import TubeShown
from cubital.desk.record import bench, selectors, selectors_bench, selectors_way
from cubital.desk.record.bench import NOTHING_ASKS, Past
from cubital.desk.record.models import Patient, Role
from cubital.desk.transport.known import domain_of
from cubital.draw import AddOn, OnHand, add_on
from cubital.errors import EventRefused, InputError
from cubital.finding import Severity
from cubital.requisition.expand import Asked, expand
from cubital.requisition.values import Requisition

IN_HAND = (*selectors_bench.AT_WORK, State.STORED)
LONGEST = 120


@dataclass(frozen=True, slots=True)
class Answer:
    """
    What the draw room says.

    Args:
        asked: as it was typed.
        added: tests that need no new needle stick: name, number, tube, until when, why.
        needs_draw: the others.
        findings: that ask, and notes.
        must_say: a rule asks, and a reason is wanted before the tests are taken.
        on_hand: of how many specimens it was asked.
    """

    asked: str
    added: tuple[tuple[str, str, TubeShown, datetime, tuple[Why, ...]], ...]
    needs_draw: tuple[tuple[str, Why], ...]
    findings: tuple[Said, ...]
    must_say: bool
    on_hand: int


def patient_or_404(number: str) -> Patient:
    """
    The patient that an address names.

    Raises:
        Http404: there is none.
    """
    row = selectors.patient_by_number(number)
    if row is None:
        raise Http404
    return row


def in_hand(number: str, scene: Scene) -> list[Held]:
    """Blood of a patient that stands in this laboratory, with what was poured from it."""
    several = selectors_bench.specimens_of_patient(number).values()
    here = [one for one in several if one.site == scene.place.code and one.state in IN_HAND]
    held = hold(here, scene).values()
    return [each for each in held if each.is_blood and each.timed and each.root.container]


def as_on_hand(held: Held, requisition: Requisition, scene: Scene) -> OnHand:
    """
    A specimen as the draw room takes it: what is left, how it is kept, how it travelled.

    Raises:
        InputError: a container or test that the catalogue does not hold.
    """
    catalogue = scene.here.catalogue
    known = tuple(test for test in held.served if test in catalogue.tests)
    left = remains(
        requisition, held.bench, catalogue, scene.choices, served=known,
        taken_off_ul=held.taken_off_ul, portion=held.is_portion, now=scene.now,
    )  # fmt: skip
    cooling = travelled(known, catalogue, scene.choices)
    value = replace(with_tests(held, known), spun_at=held.bench.spun_at)
    hand = on_hand(value, left.left_ul, cooling=cooling)
    if held.specimen.state is not State.STORED:
        return hand
    stands = standing(held.stored(), catalogue, scene.choices)
    return replace(hand, kept_until=stands.keep_until, kept_why=stands.reason)


def asked_of(number: str, text: str, scene: Scene) -> tuple[AddOn, dict[str, Held]]:
    """
    Ask the draw room.

    Raises:
        InputError: nothing was asked, or no test is called so.
    """
    if not text:
        raise InputError("Nothing was written", "Test to add", "Write or choose a test.")
    held = {each.code: each for each in in_hand(number, scene)}
    rows = selectors_way.requisitions_for(each.root for each in held.values())
    newest = max(rows.values(), key=lambda row: row.collect_at, default=None)
    if newest is not None:
        first = newest.to_domain()
    elif held:
        first = domain_of(next(iter(held.values())).root, None)
    else:
        patient = patient_or_404(number).to_domain()
        first = Requisition("", patient, (), scene.now)
    tests = expand([Asked(text[:LONGEST], where="Test to add")], scene.here.catalogue)
    wanted = replace(first, tests=tests, collect_at=min(first.collect_at, scene.now))
    specimens = [as_on_hand(each, wanted, scene) for each in held.values()]
    found = add_on(wanted, specimens, scene.here.catalogue, scene.here.place, now=scene.now)
    return found, held


def answer_of(number: str, text: str, scene: Scene) -> Answer:
    """
    The draw room's answer as a page shows it.

    Raises:
        InputError: as :func:`asked_of`.
    """
    found, held = asked_of(number, text, scene)
    catalogue = scene.here.catalogue
    others = [each for each in found.findings if each.code != "add-on-draw"]
    return Answer(
        asked=text,
        added=tuple(
            (
                catalogue.tests[each.test].name,
                each.accession,
                tube_of(held[each.accession], catalogue),
                each.use_by.astimezone(scene.here.zone),
                tuple(why(reason, catalogue) for reason in each.reasons),
            )
            for each in found.added
        ),
        needs_draw=tuple(
            (catalogue.tests[each.test].name, why(each.reason, catalogue))
            for each in found.needs_draw
        ),
        findings=said(others, catalogue),
        must_say=any(each.severity == Severity.ASK for each in others),
        on_hand=len(held),
    )


def form_context(scene: Scene, number: str) -> dict[str, Any]:
    """What the form of the question shows."""
    catalogue = scene.here.catalogue
    return {
        "add_patient": number,
        "all_tests": [
            *(panel.name for panel in catalogue.panels.values()),
            *(test.name for test in catalogue.tests.values()),
        ],
    }


# ---------------------------------------------------------------- the page


@require_GET
@who_may(*EVERY_ROLE)
def add_page(request: DeskRequest, number: str) -> HttpResponse:
    """Answer which tests the patient's blood in the laboratory can still serve."""
    patient = patient_or_404(number)
    text = request.GET.get("add_test", "").strip()
    return page(request, patient, text)


def page(
    request: DeskRequest, patient: Patient, text: str, said_: str = "", status: int = 200
) -> HttpResponse:
    """The page of the question with its answer; only the answer where the page asks by itself."""
    scene = scene_at(request.place)
    context: dict[str, Any] = {
        "patient": patient,
        "add_test": text,
        "said": said_,
        "may_take": request.user.role == Role.BENCH,
        **form_context(scene, patient.number),
    }
    if text or request.htmx:
        try:
            context["answer"] = answer_of(patient.number, text, scene)
        except InputError as refused:
            context["add_refused"] = str(refused)
    name = "bench/add_answer.html" if request.htmx and not said_ else "bench/add.html"
    return render(request, name, context, status=status)


@require_POST
@who_may(Role.BENCH)
def take(request: DeskRequest, number: str) -> HttpResponse:
    """Add the tests that need no new needle stick to their specimens."""
    patient = patient_or_404(number)
    scene = scene_at(request.place)
    text = request.POST.get("add_test", "").strip()
    try:
        found, _ = asked_of(patient.number, text, scene)
        if not found.added:
            raise InputError("None of them can be added", mend="A new draw is needed.")
        by_tube: dict[str, list[str]] = {}
        for each in found.added:
            by_tube.setdefault(each.accession, []).append(each.test)
        asks = next((f for f in found.findings if f.severity == Severity.ASK), None)
        past = Past(asks.code, request.POST.get("why", "")) if asks is not None else NOTHING_ASKS
        bench.tests_add(tests=list(by_tube.items()), past=past, place=request.place,
                        by=request.user, now=timezone.now())  # fmt: skip
    except (InputError, EventRefused) as refused:
        return page(request, patient, text, str(refused), status=422)
    count = words.counted(len(found.added), "test")
    messages.success(request, f"{count} added: {', '.join(by_tube)}.", extra_tags="good")
    return redirect("bench-specimen", next(iter(by_tube)))
