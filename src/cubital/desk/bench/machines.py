"""The place's centrifuges and shelves: what they are, what each programme means on each rotor."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from cubital.bench import OnRotor, beside, can_balance, on_rotor
from cubital.catalogue import Catalogue, model_bench
from cubital.catalogue.model_bench import StorageKind
from cubital.desk.bench.forms import (
    FACTS,
    CentrifugeForm,
    NewCentrifugeForm,
    OutForm,
    ShelfForm,
)
from cubital.desk.bench.known import Scene, hold, scene_at
from cubital.desk.bench.runs_shown import programmes
from cubital.desk.bench.shelves import MAY_LABEL
from cubital.desk.bench.shelving import shelves_shown
from cubital.desk.draw.page import Why, why
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.record import bench_place, selectors_bench
from cubital.desk.record.models import Centrifuge, Role, Shelf
from cubital.errors import InputError

MAY_SEE = (Role.BENCH, Role.QUALITY, Role.MANAGER)
MAY_STOP = (Role.BENCH, Role.MANAGER)


@dataclass(frozen=True, slots=True)
class ProgrammeShown:
    """
    A programme on a rotor.

    Args:
        given: as its table gives it.
        here: what is set and made here, or why it cannot run.
        published: the other way it is given, and the difference; "" where there is but one.
    """

    name: str
    given: str
    runs: bool
    here: str
    minutes: str
    published: str
    far: bool
    why: Why


def on_this_rotor(row: Centrifuge, scene: Scene) -> list[ProgrammeShown]:
    """Every programme, as the place has chosen, on one rotor."""
    catalogue, machine = scene.here.catalogue, row.to_domain()
    return [
        programme_shown(each, machine, catalogue) for each in programmes(catalogue, scene.choices)
    ]


def programme_shown(
    each: model_bench.SpinProgramme, machine: model_bench.Centrifuge, catalogue: Catalogue
) -> ProgrammeShown:
    """One programme on one rotor."""
    setting = on_rotor(each, machine, catalogue)
    runs = isinstance(setting, OnRotor)
    both = beside(catalogue, each.code, machine)
    published, far = "", False
    if both is not None:
        far = both.finding.severity == "ask"
        published = (
            f"{both.practice.speed_rpm} turns make {both.rcf_g:.0f} g here;"
            f" {both.published.rcf_g} g take {both.published_rpm:.0f} turns"
            f" ({both.difference_percent:+.0f} %)"
        )
    return ProgrammeShown(
        name=each.name,
        given=f"{each.rcf_g} g" if each.rcf_g else f"{each.speed_rpm} turns a minute",
        runs=runs,
        here=f"{setting.speed_rpm} turns = {setting.rcf_g:.0f} g" if isinstance(setting, OnRotor)
        else setting.sentence,
        minutes=f"{setting.minutes} min" if isinstance(setting, OnRotor) else "",
        published=published,
        far=far,
        why=why(catalogue.reason(each, each.sentence), catalogue),
    )  # fmt: skip


@require_GET
@who_may(*MAY_SEE)
def machines(request: DeskRequest) -> HttpResponse:
    """Show the centrifuges and the shelves of the place."""
    return page(request)


def page(request: DeskRequest, *, status: int = 200, **more: Any) -> HttpResponse:
    """The page, with a form as it was typed where something was refused."""
    scene = scene_at(request.place)
    rows = list(selectors_bench.centrifuges(request.place))
    known = {row.code for row in rows}
    stored = hold(selectors_bench.stored_at(request.place), scene).values()
    context = {
        "machines": [(row, counts_alone(row)) for row in rows],
        "in_tables": [row for row in scene.here.catalogue.rows(model_bench.Centrifuge)
                      if row.code not in known],
        "shelves": shelves_shown(scene, stored),
        "may_manage": request.user.role == Role.MANAGER,
        "may_stop": request.user.role in MAY_STOP,
        "may_label": request.user.role in MAY_LABEL,
        "form": NewCentrifugeForm(),
        "shelf_form": ShelfForm(scene.here.catalogue),
        **more,
    }  # fmt: skip
    return render(request, "bench/machines.html", context, status=status)


def counts_alone(row: Centrifuge) -> str:
    """Which counts of equal tubes need no balance tube, in words."""
    never = [n for n in range(1, row.places + 1) if not can_balance(n, row.places)]
    if not never:
        return "Every count of equal tubes balances."
    listed = ", ".join(map(str, never)) if len(never) <= 12 else f"{len(never)} counts"
    return f"Equal tubes balance by themselves, except {listed} of them: those need balance tubes."


@require_POST
@who_may(Role.MANAGER)
def add(request: DeskRequest) -> HttpResponse:
    """Add a centrifuge."""
    form = NewCentrifugeForm(request.POST)
    if not form.is_valid():
        return page(request, form=form, open_form=True, status=422)
    try:
        row = bench_place.centrifuge_add(place=request.place, **form.cleaned_data)
    except InputError as refused:
        return page(request, form=form, open_form=True, said=str(refused), status=422)
    messages.success(request, f"{row.name} is on the list.", extra_tags="good")
    return redirect("bench-machine", row.pk)


@require_POST
@who_may(Role.MANAGER)
def take_over(request: DeskRequest) -> HttpResponse:
    """Put a centrifuge of the laboratory's own tables on the list of the place."""
    scene = scene_at(request.place)
    code = request.POST.get("code", "")
    rows = {row.code: row for row in scene.here.catalogue.rows(model_bench.Centrifuge)}
    try:
        if code not in rows:
            raise InputError(f"The tables hold no centrifuge {code[:64]!r}")
        facts = {name: getattr(rows[code], name) for name in FACTS}
        row = bench_place.centrifuge_add(place=request.place, code=code, **facts)
    except InputError as refused:
        return page(request, said=str(refused), status=422)
    messages.success(request, f"{row.name} is on the list.", extra_tags="good")
    return redirect("bench-machine", row.pk)


@require_http_methods(["GET", "POST"])
@who_may(*MAY_SEE)
def machine(request: DeskRequest, pk: int) -> HttpResponse:
    """Show one centrifuge with every programme on its rotor; a manager changes it."""
    row = get_object_or_404(Centrifuge, pk=pk, place=request.place)
    manages = request.user.role == Role.MANAGER
    said, status = "", 200
    form = CentrifugeForm(initial=CentrifugeForm.of(row))
    if request.method == "POST" and not manages:
        said, status = "A manager changes a centrifuge.", 422
    elif request.method == "POST":
        form, status = CentrifugeForm(request.POST), 422
        if form.is_valid():
            try:
                bench_place.centrifuge_change(row=row, **form.cleaned_data)
            except InputError as refused:
                said = str(refused)
                row.refresh_from_db()
            else:
                messages.success(request, "Stored.", extra_tags="good")
                return redirect("bench-machine", pk)
    scene = scene_at(request.place)
    context = {
        "row": row, "form": form, "said": said, "may_manage": manages,
        "programmes": on_this_rotor(row, scene), "alone": counts_alone(row),
        "may_stop": request.user.role in MAY_STOP,
    }  # fmt: skip
    return render(request, "bench/machine.html", context, status=status)


@require_POST
@who_may(*MAY_STOP)
def order(request: DeskRequest, pk: int) -> HttpResponse:
    """Put a centrifuge out of order, with the reason, or back in order."""
    row = get_object_or_404(Centrifuge, pk=pk, place=request.place)
    form = OutForm(request.POST)
    why_ = form.cleaned_data["why"] if form.is_valid() else ""
    try:
        if row.out_since is not None:
            bench_place.centrifuge_back(row=row)
            messages.success(request, f"{row.name} is in order again.", extra_tags="good")
        else:
            bench_place.centrifuge_out(row=row, why=why_, by=request.user, now=timezone.now())
            messages.success(request, f"{row.name} is out of order: the runs are planned anew.",
                             extra_tags="ask")  # fmt: skip
    except InputError as refused:
        messages.error(request, str(refused), extra_tags="wrong")
    return redirect("bench-machine", pk)


@require_POST
@who_may(Role.MANAGER)
def remove(request: DeskRequest, pk: int) -> HttpResponse:
    """Take a centrifuge off the list."""
    row = get_object_or_404(Centrifuge, pk=pk, place=request.place)
    try:
        bench_place.centrifuge_remove(row=row)
    except InputError as refused:
        messages.error(request, str(refused), extra_tags="wrong")
        return redirect("bench-machine", pk)
    messages.success(request, f"{row.name} is off the list.", extra_tags="good")
    return redirect("bench-machines")


@require_POST
@who_may(Role.MANAGER)
def shelf_add(request: DeskRequest) -> HttpResponse:
    """Add a shelf."""
    scene = scene_at(request.place)
    form = ShelfForm(scene.here.catalogue, request.POST)
    if not form.is_valid():
        return page(request, shelf_form=form, status=422)
    kinds = {row.code for row in scene.here.catalogue.rows(StorageKind)}
    try:
        row = bench_place.shelf_add(place=request.place, kinds=kinds, **form.cleaned_data)
    except InputError as refused:
        return page(request, shelf_form=form, said=str(refused), status=422)
    messages.success(request, f"{row.name} is on the list.", extra_tags="good")
    return redirect("bench-machines")


@require_POST
@who_may(Role.MANAGER)
def shelf_remove(request: DeskRequest, pk: int) -> HttpResponse:
    """Take a shelf off the list, once it is empty."""
    row = get_object_or_404(Shelf, pk=pk, place=request.place)
    scene = scene_at(request.place)
    held = hold(selectors_bench.stored_at(request.place), scene).values()
    try:
        bench_place.shelf_remove(row=row, stands=sum(h.facts.shelf == row.code for h in held))
    except InputError as refused:
        return page(request, said=str(refused), status=422)
    messages.success(request, f"{row.name} is off the list.", extra_tags="good")
    return redirect("bench-machines")
