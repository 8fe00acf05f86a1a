"""The draw plan on screen, on paper, and as labels."""

from __future__ import annotations

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from cubital.desk.draw.add_on import add_on_answer
from cubital.desk.draw.answers import AnswersDraft
from cubital.desk.draw.asked import requisition_or_404
from cubital.desk.draw.context import MAY_ENTER, MAY_LABEL, plan_context
from cubital.desk.draw.planning import Planned, plan_for
from cubital.desk.draw.short_sample import short_answer
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import EVERY_ROLE, who_may
from cubital.desk.record import requisitions
from cubital.desk.record.answers import answers_change
from cubital.desk.record.models import Requisition
from cubital.desk.record.overrides import override_give
from cubital.desk.requisition.refusal import in_form_words
from cubital.errors import EventRefused, InputError
from cubital.labels.from_plan import labels_for
from cubital.labels.sheet import print_labels
from cubital.requisition import IDENTIFIER_MISSING
from cubital.requisition.part import Part
from cubital.requisition.patient import read_answers


@require_GET
@who_may(*EVERY_ROLE)
def plan(request: DeskRequest, number: str) -> HttpResponse:
    """Show the draw plan of a requisition."""
    row = requisition_or_404(number)
    return render(request, "draw/plan.html", plan_context(request, row))


@require_GET
@who_may(*EVERY_ROLE)
def sheet(request: DeskRequest, number: str) -> HttpResponse:
    """Show the plan as one A4 page for the printer."""
    row = requisition_or_404(number)
    return render(request, "draw/sheet.html", plan_context(request, row))


@require_GET
@who_may(*EVERY_ROLE)
def short(request: DeskRequest, number: str) -> HttpResponse:
    """Say what can still be done with the blood that was obtained."""
    row = requisition_or_404(number)
    context = plan_context(request, row)
    typed = request.GET.get("obtained", "")
    context["obtained"] = typed
    try:
        context["short"] = short_answer(row, typed)
    except InputError as refused:
        context["short_refused"] = str(refused)
    page = "draw/short_answer.html" if request.htmx else "draw/plan.html"
    return render(request, page, context)


@require_GET
@who_may(*EVERY_ROLE)
def add(request: DeskRequest, number: str) -> HttpResponse:
    """Say which new tests the blood of this requisition can still serve."""
    row = requisition_or_404(number)
    context = plan_context(request, row)
    try:
        if "planned" not in context:
            raise InputError(context["refused"])
        context["added"] = add_on_answer(row, context["planned"], request.GET)
    except InputError as refused:
        context["add_refused"] = str(refused)
    page = "draw/add_on_answer.html" if request.htmx else "draw/plan.html"
    return render(request, page, context)


@require_POST
@who_may(*MAY_ENTER)
def answer(request: DeskRequest, number: str) -> HttpResponse:
    """Go on although a rule asks, with a reason."""
    row = requisition_or_404(number)
    code = request.POST.get("finding", "")
    try:
        asked = next((each for each in plan_for(row).findings if each.code == code), None)
        if asked is None:
            raise InputError("The plan does not ask this any more", mend="Look at it again.")
        override_give(
            requisition=row,
            finding=asked,
            why=request.POST.get("why", ""),
            by=request.user,
            now=timezone.now(),
        )
    except (InputError, EventRefused) as refused:
        messages.error(request, str(refused), extra_tags="wrong")
    return redirect("plan", number)


@require_POST
@who_may(*MAY_ENTER)
def answers(request: DeskRequest, number: str) -> HttpResponse:
    """Store other answers as an event; the plan follows. What is refused stays as it was typed."""
    row = requisition_or_404(number)
    draft = AnswersDraft.posted(request.POST)
    try:
        changed = answers_change(
            requisition=row,
            answers=read_answers(Part(draft.to_mapping(), path="answers.")),
            seen=request.POST.get("seen", ""),
            by=request.user,
            now=timezone.now(),
        )
    except InputError as refused:
        return answers_again(request, row, draft, in_form_words(refused))
    except EventRefused as refused:
        return answers_again(request, row, draft, str(refused))
    said = "Stored; the plan follows." if changed else "Nothing has changed."
    messages.success(request, said, extra_tags="good")
    return redirect("plan", number)


def answers_again(
    request: DeskRequest, row: Requisition, draft: AnswersDraft, refused: str
) -> HttpResponse:
    """The plan with the answers as they were typed, and why they are not stored."""
    context = plan_context(request, row) | {"typed": draft, "answers_refused": refused}
    return render(request, "draw/plan.html", context, status=422)


@require_POST
@who_may(*MAY_LABEL)
def labels(request: DeskRequest, number: str) -> HttpResponse:
    """Give the labels of the plan as a PDF; printed twice they are the same labels."""
    row = requisition_or_404(number)
    try:
        data = label_pdf(row, plan_for(row), str(request.user.get_username()))
    except InputError as refused:
        messages.error(request, str(refused), extra_tags="wrong")
        return redirect("plan", number)
    response = HttpResponse(data, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="labels-{row.pk}.pdf"'
    response["Cache-Control"] = "no-store"
    return response


def label_pdf(row: Requisition, planned: Planned, collector: str) -> bytes:
    """
    Number the containers and print their labels.

    Raises:
        InputError: too few identifiers, nothing to label, or cancelled.
    """
    if row.state == "cancelled":
        raise InputError(f"Requisition {row.number} is cancelled", mend="No label is printed.")
    wanted = [each for each in planned.plan.containers if each.label_wanted]
    size = planned.catalogue.label_sizes[row.place.label_size]
    with transaction.atomic():  # a label that is refused spends no number
        numbers = requisitions.accessions_give(
            requisition=row,
            containers=[(each.position, each.container) for each in wanted],
            day=timezone.localdate(),
        )
        made = labels_for(
            planned.plan,
            planned.requisition,
            planned.catalogue,
            [numbers[each.position] for each in wanted],
            collector=collector,
            few=IDENTIFIER_MISSING in planned.overrides,
        )
        return print_labels(made, size)
