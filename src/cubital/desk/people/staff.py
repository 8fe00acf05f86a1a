"""The manager's pages of who may sign in, and as what."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from cubital.desk.people.forms import PersonChangeForm, PersonForm
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.record import people, selectors
from cubital.desk.record.models import Person, Role
from cubital.errors import InputError

manager = who_may(Role.MANAGER, without_place=True)


@require_http_methods(["GET", "POST"])
@manager
def staff(request: DeskRequest) -> HttpResponse:
    """Everybody, and a form for somebody new."""
    form = PersonForm(request.POST or None)
    refused = ""
    if request.method == "POST" and form.is_valid():
        try:
            person = people.person_add(**form.cleaned_data)
        except InputError as error:
            refused = str(error)
        else:
            messages.success(request, f"{person.shown_name} may sign in.", extra_tags="good")
            return redirect("people")
    context = {"form": form, "said": refused, "people": selectors.people()}
    status = 422 if request.method == "POST" else 200
    return render(request, "people/staff.html", context, status=status)


@require_http_methods(["GET", "POST"])
@manager
def person(request: DeskRequest, pk: int) -> HttpResponse:
    """One person: role, place, password, and whether they may sign in."""
    row = get_object_or_404(Person, pk=pk)
    start = {"role": row.role, "place": row.place, "is_active": row.is_active}
    form = PersonChangeForm(request.POST or None, initial=start)
    refused = ""
    if request.method == "POST" and form.is_valid():
        data = dict(form.cleaned_data)
        password = data.pop("password")
        try:
            people.person_change(person=row, password=password, **data)
        except InputError as error:
            refused = str(error)
        else:
            messages.success(request, f"{row.shown_name} is changed.", extra_tags="good")
            return redirect("people")
    context = {"form": form, "said": refused, "person": row}
    status = 422 if request.method == "POST" else 200
    return render(request, "people/person.html", context, status=status)
