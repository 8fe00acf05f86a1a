"""One specimen: what is asked, what is seen, the verdict for each test, and what is decided."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from cubital.custody import Specimen, State
from cubital.custody import Verdict as Stored
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.reception.judging import judge
from cubital.desk.reception.one import has_arrived, may_be_decided, page_context
from cubital.desk.reception.scan import number_read
from cubital.desk.reception.seen import Seen
from cubital.desk.reception.shown import short_name, tube_shown
from cubital.desk.record import receptions, selectors_way
from cubital.desk.record.models import Role
from cubital.desk.transport.known import Here, Known, here_at, known_of
from cubital.errors import EventRefused, InputError
from cubital.labels.from_plan import identifiers
from cubital.labels.sheet import print_labels
from cubital.labels.values import Label
from cubital.reception import Decision, Verdict, accepts_at_once, decide

MAY_LOOK = (Role.BENCH, Role.QUALITY)
COULD_COME = (State.DRAWN, State.LABELLED, State.IN_TRANSIT, State.MISSING, State.BOXED)


@dataclass(frozen=True, slots=True)
class Judged:
    """A specimen, what was seen on it, and the verdict or why there is none."""

    here: Here
    known: Known
    seen: Seen
    verdict: Verdict | None
    refused: str = ""


def specimen_or_404(code: str) -> Specimen:
    """
    The specimen that an address names.

    Raises:
        Http404: there is none.
    """
    specimen = selectors_way.specimen_now(code)
    if specimen is None:
        raise Http404
    return specimen


def judged(request: DeskRequest, code: str, data: QueryDict | None = None) -> Judged:
    """Load a specimen and have it judged as it was seen: as sent, else as kept."""
    here, now = here_at(request.place), timezone.now()
    known = known_of(specimen_or_404(code))
    seen = Seen.of(data if data is not None else selectors_way.looked(code))
    at = (known.specimen.received_at or now) if has_arrived(known.specimen) else now
    try:
        return Judged(here, known, seen, judge(known, here, seen, at=at, now=now))
    except InputError as refused:
        return Judged(here, known, seen, None, str(refused))


def shown(request: DeskRequest, found: Judged, said: str = "", status: int = 200) -> HttpResponse:
    """The whole page."""
    context = page_context(request, found.known, found.here, found.seen, found.verdict)
    context |= {"refused": found.refused, "said": said, "posted": request.POST}
    return render(request, "reception/specimen.html", context, status=status)


@require_GET
@who_may(*MAY_LOOK)
def page(request: DeskRequest, code: str) -> HttpResponse:
    """Show the specimen beside its requisition."""
    return shown(request, judged(request, code))


@require_GET
@who_may(*MAY_LOOK)
def find(request: DeskRequest) -> HttpResponse:
    """Open the page of a number that was scanned."""
    text = request.GET.get("text", "").strip()
    code, _ = number_read(text)
    if selectors_way.specimen_now(code) is not None:
        return redirect("reception-specimen", code)
    what = f"The record knows no specimen {text[:64]!r}." if text else "Nothing was scanned."
    messages.error(request, f"{what} Scan it on this page to receive it.", extra_tags="wrong")
    return redirect("reception")


@require_POST
@who_may(Role.BENCH)
def look(request: DeskRequest, code: str) -> HttpResponse:
    """Say what the rules make of what is seen; nothing is stored."""
    found = judged(request, code, request.POST)
    if not request.htmx:
        return shown(request, found)
    context: dict[str, Any] = page_context(
        request, found.known, found.here, found.seen, found.verdict
    )
    context |= {"refused": found.refused, "posted": request.POST}
    return render(request, "reception/verdict.html", context)


@require_POST
@who_may(Role.BENCH)
def settle(request: DeskRequest, code: str) -> HttpResponse:
    """Store what is decided on each test."""
    found = judged(request, code, request.POST)
    specimen = found.known.specimen
    try:
        if found.verdict is None:
            raise InputError(found.refused)
        if not may_be_decided(specimen, request):
            raise InputError(
                f"Specimen {code} is {specimen.state.replace('_', ' ')}",
                mend="Receive it here first.",
            )
        done = decision(request.POST, found.verdict)
        asked = request.POST.get("ask_again") == "on"
        again = receptions.specimen_decide(
            specimen=specimen,
            done=done,
            seen=found.seen.evidence(found.here.catalogue),
            looked=found.seen.kept(),
            requisition=found.known.row,
            ask_again=asked,
            place=request.place,
            by=request.user,
            now=timezone.now(),
        )
    except (InputError, EventRefused) as refused:
        return shown(request, found, str(refused), status=422)
    messages.success(request, told(code, done, again, asked=asked), extra_tags="good")
    return redirect("reception-specimen", code)


def decision(data: QueryDict, verdict: Verdict) -> Decision:
    """
    Read the choices of the form.

    Raises:
        InputError: as for :func:`cubital.reception.decide`.
    """
    answers = {"done": True, "not": False}
    choices = {
        test.test: answers[data.get(f"test-{test.test}", "")]
        for test in verdict.tests
        if data.get(f"test-{test.test}") in answers
    }
    who = data.get("decided_by", "")
    if who and not selectors_way.who_may_decide().filter(username=who).exists():
        raise InputError("Nobody of that name may decide here", "Who decides", "Choose a person.")
    return decide(verdict, choices=choices, decided_by=who, why=data.get("why", ""))


def told(code: str, done: Decision, again: Any, *, asked: bool) -> str:
    """What was stored, in a sentence or two."""
    parts = []
    if done.accept:
        parts.append(f"{code} is accepted for {len(done.accept)} of its tests.")
    if done.refuse:
        parts.append(f"Refused: {len(done.refuse)}. The requester stands on the list to phone.")
    if again is not None:
        parts.append(f"Asked for again as {again.number}, on the collector’s list.")
    elif done.refuse and asked:
        parts.append("Asked for again: it stands on the first page of the place that collects it.")
    return " ".join(parts)


@require_POST
@who_may(Role.BENCH)
def take_over(request: DeskRequest, code: str) -> HttpResponse:
    """Receive a specimen that another place holds and never sent here."""
    found = judged(request, code)
    specimen, why = found.known.specimen, request.POST.get("why", "").strip()
    if not why:
        return shown(request, found, "Write how it came here, then take it over.", status=422)
    if specimen.state not in COULD_COME:
        said = (
            f"Specimen {code} is {specimen.state.replace('_', ' ')}: {specimen.site} must send it."
        )
        return shown(request, found, said, status=422)
    done = accepts_at_once(found.verdict) if found.verdict is not None else None
    answers = receptions.specimen_arrive(
        specimen=specimen, accept=done, place=request.place, by=request.user, now=timezone.now(),
        unlisted=why,
    )  # fmt: skip
    wrong = [each.sentence for each in answers if each.verdict is Stored.REFUSED]
    if wrong:
        return shown(request, found, wrong[0], status=422)
    receptions.strangers_known(text=code, place=request.place, by=request.user, now=timezone.now())
    messages.success(request, f"{code} is received here.", extra_tags="good")
    return redirect("reception-specimen", code)


@require_POST
@who_may(Role.BENCH)
def label(request: DeskRequest, code: str) -> HttpResponse:
    """Give a label for a specimen as a PDF; that it was printed is an event."""
    found = judged(request, code)
    try:
        data = label_pdf(found.known, found.here, request.user.get_username())
        receptions.label_print(code=code, place=request.place, by=request.user, now=timezone.now())
    except (InputError, EventRefused) as refused:
        return shown(request, found, str(refused), status=422)
    response = HttpResponse(data, content_type="application/pdf")
    response["Content-Disposition"] = 'inline; filename="label.pdf"'
    response["Cache-Control"] = "no-store"
    return response


def label_pdf(known: Known, here: Here, who: str) -> bytes:
    """
    The label of one specimen.

    Raises:
        LabelError: something cannot be printed.
    """
    specimen, catalogue = known.specimen, here.catalogue
    collected = specimen.collected_at
    when = f"drawn {collected.astimezone(here.zone):%Y-%m-%d %H:%M}" if collected else ""
    tube = tube_shown(specimen, catalogue)
    wanted = Label(
        accession=specimen.code,
        name=known.requisition.patient.whole_name,
        identifiers=identifiers(known.requisition.patient),
        collected=when,
        collector=who,
        container=" · ".join(filter(None, (tube.name, tube.colour))),
        tests=tuple(short_name(test.code, catalogue) for test in known.tests),
    )
    return print_labels([wanted], catalogue.label_sizes[here.row.label_size])
