"""A tray by scanner: each tube answered at once, what stands out kept in sight."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from cubital.custody import Specimen
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.reception.scan import Answer, Scene, answer_scan
from cubital.desk.reception.shown import since, tube_shown
from cubital.desk.record import selectors_way
from cubital.desk.record.models import Role, SpecimenNow
from cubital.desk.record.rows import COLUMNS
from cubital.desk.transport.known import here_at

MAY_LOOK = (Role.BENCH, Role.QUALITY)
MOST = 40


def specimen_of(row: SpecimenNow) -> Specimen:
    """The custody room's own value of a projection's row."""
    columns = COLUMNS["specimen"]
    found = columns.read([getattr(row, name) for name in columns.names])
    assert isinstance(found, Specimen)
    return found


@require_GET
@who_may(*MAY_LOOK)
def tray(request: DeskRequest) -> HttpResponse:
    """Show the scan box, what waits for a decision, and what nobody knows."""
    here, now = here_at(request.place), timezone.now()
    rows = selectors_way.to_decide(request.place)
    waiting = [
        {
            "row": row,
            "tube": tube_shown(specimen_of(row), here.catalogue),
            "since": since(row.received_at, now),
        }
        for row in rows[:MOST]
    ]  # fmt: skip
    strangers = list(selectors_way.strangers_open(request.place)[:MOST])
    return render(
        request,
        "reception/tray.html",
        {
            "may_write": request.user.role == Role.BENCH,
            "waiting": waiting,
            "waiting_count": rows.count(),
            "strangers": strangers,
            "strangers_count": selectors_way.strangers_open(request.place).count(),
            "to_phone": len(selectors_way.refusals_to_tell(request.place)),
        },
    )


@require_POST
@who_may(Role.BENCH)
def scan(request: DeskRequest) -> HttpResponse:
    """Answer one scan: a line for the page, or a whole page where it sends none by itself."""
    scene = Scene(here_at(request.place), request.user, timezone.now())
    answer = answer_scan(request.POST.get("text", ""), scene)
    if request.htmx:
        return HttpResponse(line(answer))
    messages.add_message(
        request, messages.INFO, plain(answer), extra_tags="wrong" if answer.stands_out else "good"
    )
    return redirect("reception")


def line(answer: Answer) -> str:
    """The answer as a line of a list."""
    return render_to_string("reception/line.html", {"answer": answer})


def plain(answer: Answer) -> str:
    """The answer as a sentence."""
    return " ".join(filter(None, (f"{answer.code}: {answer.word}.", answer.sentence)))
