"""The manager's pages of a place: its policy and its stock."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from cubital.catalogue import Catalogue, shipped
from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.people.here import KEY
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.place.forms import LotChangeForm, LotForm, NewPlaceForm, PlaceForm
from cubital.desk.record import places, selectors, stock
from cubital.desk.record.models import Place, Role, StockLot
from cubital.errors import CatalogueError, InputError

manager = who_may(Role.MANAGER)


@require_http_methods(["GET", "POST"])
@manager
def policy(request: DeskRequest) -> HttpResponse:
    """The policy of the place: altitude, order of draw, choices, label paper, catalogue folder."""
    place: Place = request.place
    catalogue, broken = catalogue_or_shipped(place)
    if request.method == "GET":
        form = PlaceForm(catalogue, initial=PlaceForm.of(place))
        return render(request, "place/policy.html", {"form": form, "said": broken})
    form = PlaceForm(catalogue, request.POST)
    if not form.is_valid():
        return render(request, "place/policy.html", {"form": form}, status=422)
    try:
        places.place_change(place=place, **form.policy())
    except InputError as refused:
        context = {"form": form, "said": str(refused)}
        request.place = selectors.place_at(place.code)
        return render(request, "place/policy.html", context, status=422)
    messages.success(request, "Stored. Every plan from now on follows it.", extra_tags="good")
    return redirect("place")


def catalogue_or_shipped(place: Place) -> tuple[Catalogue, str]:
    """The place's catalogue; where its own tables are broken, the shipped ones and the sentence."""
    try:
        return catalogue_at(place.catalogue_folder), ""
    except CatalogueError as broken:
        return shipped(), f"The place's own tables cannot be used. {broken}"


@require_http_methods(["GET", "POST"])
@who_may(Role.MANAGER, without_place=True)
def new_place(request: DeskRequest) -> HttpResponse:
    """Another place, or the first."""
    form = NewPlaceForm(request.POST or None)
    refused = ""
    if request.method == "POST" and form.is_valid():
        try:
            place = places.place_add(**form.cleaned_data)
        except InputError as error:
            refused = str(error)
        else:
            request.session[KEY] = place.code
            messages.success(request, f"{place.name} is set up.", extra_tags="good")
            return redirect("place")
    status = 422 if request.method == "POST" else 200
    return render(request, "place/new.html", {"form": form, "said": refused}, status=status)


@require_http_methods(["GET", "POST"])
@manager
def lots(request: DeskRequest) -> HttpResponse:
    """The stock list: count, expiry, recall; and a new lot."""
    place: Place = request.place
    catalogue = catalogue_at(place.catalogue_folder)
    form = LotForm(catalogue, request.POST or None)
    refused = ""
    if request.method == "POST" and form.is_valid():
        try:
            stock.lot_add(place=place, catalogue=catalogue, **form.cleaned_data)
        except InputError as error:
            refused = str(error)
        else:
            messages.success(request, "The lot is on the list.", extra_tags="good")
            return redirect("stock")
    names = {row.code: row.name for row in catalogue.containers.values()}
    listed = [(lot, names.get(lot.container, lot.container)) for lot in selectors.lots(place)]
    context = {"form": form, "said": refused, "listed": listed, "today": timezone.localdate()}
    status = 422 if request.method == "POST" else 200
    return render(request, "place/stock.html", context, status=status)


@require_POST
@manager
def lot_change(request: DeskRequest, pk: int) -> HttpResponse:
    """Count a lot again, recall it, or take the recall back."""
    lot = get_object_or_404(StockLot, pk=pk, place=request.place)
    form = LotChangeForm(request.POST)
    if form.is_valid():
        stock.lot_change(lot=lot, **form.cleaned_data)
        messages.success(request, f"Lot {lot.number} is changed.", extra_tags="good")
    else:
        messages.error(
            request, f"Lot {lot.number}: write a whole number of 0 or more.", extra_tags="wrong"
        )
    return redirect("stock")
