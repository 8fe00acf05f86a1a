"""Portions that are made: labelled, and scanned once each so that they carry the right label."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from cubital.custody import Specimen
from cubital.desk import words
from cubital.desk.bench.asked import One, here_only, one_or_404
from cubital.desk.bench.board import MAY_LOOK
from cubital.desk.bench.dividing import storage_for, storage_name
from cubital.desk.bench.known import hold
from cubital.desk.bench.labels import portion_labels
from cubital.desk.bench.shown import tube_of
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.reception.scan import number_read
from cubital.desk.reception.shown import short_name
from cubital.desk.record import bench, selectors_bench
from cubital.desk.record.models import Role
from cubital.errors import EventRefused, InputError

LONGEST = 64


@require_GET
@who_may(*MAY_LOOK)
def portions_of(request: DeskRequest, code: str) -> HttpResponse:
    """Show the portions of a specimen: to be labelled, scanned, put away."""
    one = one_or_404(request, code)
    return render(request, "bench/portions_of.html", portions_context(request, one))


def portions_context(request: DeskRequest, one: One) -> dict[str, Any]:
    """Everything the page reads."""
    catalogue = one.scene.here.catalogue
    several = selectors_bench.specimens_of(each.code for each in one.held.facts.portions)
    held = hold(several, one.scene)
    shown = [
        {
            "held": each,
            "tests": [short_name(test, catalogue) for test in each.served],
            "volume": words.ml(each.specimen.volume_ul or 0),
            "storage": storage_name(storage_for(each.served, one), catalogue),
            "state": str(each.specimen.state).replace("_", " "),
            "shelf": each.shelf.name if each.shelf else each.facts.shelf,
            "matched": each.specimen.label_matched,
            "gone": each.specimen.state == "discarded",
        }
        for each in held.values()
    ]
    return {
        "one": one,
        "held": one.held,
        "tube": tube_of(one.held, catalogue),
        "portions": shown,
        "unmatched": sum(not each["matched"] and not each["gone"] for each in shown),
        "may_write": request.user.role == Role.BENCH,
    }


@require_POST
@who_may(Role.BENCH)
def print_portions(request: DeskRequest, code: str) -> HttpResponse:
    """Give the labels of the portions as a PDF; that they were printed is an event each."""
    one = one_or_404(request, code)
    several = [
        each for each in selectors_bench.specimens_of(p.code for p in one.held.facts.portions)
        if each.state != "discarded"
    ]  # fmt: skip
    try:
        here_only(one.held, one.scene)
        held = hold(several, one.scene)
        data = portion_labels(one, tuple(held.values()), str(request.user.get_username()))
        bench.labels_printed(codes=list(held), place=request.place, by=request.user,
                             now=timezone.now())  # fmt: skip
    except (InputError, EventRefused) as refused:
        messages.error(request, str(refused), extra_tags="wrong")
        return redirect("bench-portions-of", code)
    response = HttpResponse(data, content_type="application/pdf")
    response["Content-Disposition"] = 'inline; filename="portions.pdf"'
    response["Cache-Control"] = "no-store"
    return response


@require_POST
@who_may(Role.BENCH)
def confirm(request: DeskRequest, code: str) -> HttpResponse:
    """One scan of a portion's label: it is that portion, or it stands out."""
    one = one_or_404(request, code)
    number, misread = number_read(request.POST.get("text", "").strip()[:LONGEST])
    mine = {each.code for each in one.held.facts.portions}
    found = selectors_bench.specimens_of([number]) if number else []
    answer = confirmed(request, one, number, misread, found, mine)
    if not request.htmx:
        tag = "good" if answer["list"] == "done" else "wrong"
        messages.add_message(request, messages.INFO, f"{number}: {answer['word']}."
                             f" {answer['sentence']}", extra_tags=tag)  # fmt: skip
        return redirect("bench-portions-of", code)
    after = one_or_404(request, code)
    inside = render_to_string(
        "bench/portions_inside.html", portions_context(request, after), request
    )
    return HttpResponse(render_to_string("bench/scanned.html", answer) + inside)


def confirmed(
    request: DeskRequest,
    one: One,
    number: str,
    misread: str,
    found: list[Specimen],
    mine: set[str],
) -> dict[str, str]:
    """What a scan of a portion's label says, and what is stored by it."""

    def said(kind: str, word: str, sentence: str = "") -> dict[str, str]:
        where = "look" if kind in ("ask", "stop") else "done"
        return {"kind": kind, "word": word, "code": number, "sentence": sentence, "list": where}

    if not number:
        return said("ask", "Nothing", "Nothing was scanned.")
    if number == one.held.code:
        return said("stop", "Its parent", "This is the first tube: scan the portion.")
    if number not in mine:
        whose = f"It comes from {found[0].parent}." if found and found[0].parent else ""
        return said("stop", "Another’s", misread or f"It is no portion of {one.held.code}. {whose}")
    if found[0].label_matched:
        return said("twice", "Scanned already")
    try:
        bench.label_confirm(code=number, place=request.place, by=request.user, now=timezone.now())
    except EventRefused as refused:
        return said("stop", "Not stored", str(refused))
    held = hold(found, one.scene)[number]
    name = storage_name(storage_for(held.served, one), one.scene.here.catalogue)
    return said("good", "Confirmed", f"Put it into the {name}." if name else "")
