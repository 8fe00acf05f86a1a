"""Badge and PIN: switch on a shared tablet, hand over, lock, and the pages that give them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods, require_POST

from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.people import shift
from cubital.desk.people.knocking import doors, knock_at, right_at, wait_words
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import EVERY_ROLE, who_may
from cubital.desk.record import badges
from cubital.desk.record.models import Badge, Habit, Person, Role
from cubital.errors import InputError

NOT_TOGETHER = "This badge and PIN do not belong together."
everybody = who_may(*EVERY_ROLE, without_place=True)
manager = who_may(Role.MANAGER, without_place=True)


@dataclass(frozen=True, slots=True)
class Tried:
    """What an attempt came to: a person, or a sentence, how long to wait, and a status."""

    person: Person | None
    sentence: str = ""
    wait: timedelta = timedelta(0)
    status: int = 403


def try_badge(request: HttpRequest, role: str = "") -> Tried:
    """Look whether badge and PIN belong together; ``role`` is one the person must have, or ""."""
    code, pin_given = request.POST.get("badge", "").strip(), request.POST.get("pin", "")
    if not (code and pin_given):
        return Tried(None, "Scan the badge, then give the PIN.", status=422)
    tried = doors(request, f"badge {code}")
    wait = knock_at(tried, pin=True)
    if wait:
        return Tried(None, wait_words(wait), wait, status=429)
    person = badges.pin_of(code=code, pin=pin_given)
    if person is None:
        return Tried(None, NOT_TOGETHER)
    right_at(tried)
    if role and person.role != role:
        return Tried(None, f"{person.shown_name} is {person.get_role_display().lower()}.")
    return Tried(person)


def try_password(request: DeskRequest) -> Tried:
    """Look whether this is the password of whoever is signed in."""
    person = request.user
    if not request.POST.get("password"):
        return Tried(None, "Give the password.", status=422)
    tried = doors(request, f"person {person.username.casefold()}")
    wait = knock_at(tried)
    if wait:
        return Tried(None, wait_words(wait), wait, status=429)
    if not person.check_password(request.POST.get("password", "")):
        return Tried(None, "This is not the password.")
    right_at(tried)
    return Tried(person)


def me(person: Person) -> dict[str, Any]:
    """Who somebody is, for the chair's page."""
    habit = Habit.objects.filter(person=person).first() or Habit(person=person)
    return {
        "username": person.username,
        "name": person.shown_name,
        "role": person.role,
        "reminders": habit.reminders,
        "sounds": habit.sounds,
    }


@require_POST
@everybody
def switch(request: HttpRequest) -> HttpResponse:
    """Somebody else at this tablet: badge and PIN; the answer says who, or why not."""
    tried = try_badge(request, request.POST.get("role", ""))
    if tried.person is None:
        answer = {"sentence": tried.sentence, "wait_s": math.ceil(tried.wait.total_seconds())}
        return JsonResponse(answer, status=tried.status)
    shift.switch_to(request, tried.person)
    return JsonResponse(me(tried.person))


@require_POST
@everybody
def lock(request: HttpRequest) -> HttpResponse:
    """Lock the screen now."""
    shift.lock(request)
    if request.headers.get("Accept", "").startswith("application/json"):
        return JsonResponse({"locked": True})
    return redirect("locked")


@require_http_methods(["GET", "POST"])
@everybody
def locked(request: DeskRequest) -> HttpResponse:
    """The locked screen: badge and PIN of anybody, or the password of who is signed in."""
    context: dict[str, Any] = {"next": back_from(request)}
    if request.method == "GET":
        return render(request, "people/locked.html", context)
    by_password = "password" in request.POST
    tried = try_password(request) if by_password else try_badge(request)
    if tried.person is None:
        context["said"] = tried.sentence
        return render(request, "people/locked.html", context, status=tried.status)
    same = tried.person == request.user
    if same:
        shift.be_seen(request)
    else:
        shift.switch_to(request, tried.person)
    return redirect(context["next"] if same else "day")


def back_from(request: HttpRequest) -> str:
    """Where the person was, if it is a page of ours."""
    back = request.POST.get("next") or request.GET.get("next") or ""
    if url_has_allowed_host_and_scheme(back, {request.get_host()}, request.is_secure()):
        return back
    return reverse("day")


@require_http_methods(["GET", "POST"])
@everybody
def pin(request: DeskRequest) -> HttpResponse:
    """Choose one's own PIN, with one's password."""
    least = catalogue_at("").number("pin_length_min")
    context: dict[str, Any] = {
        "least": least,
        "badge": Badge.objects.filter(person=request.user).first(),
    }
    if request.method == "GET":
        return render(request, "people/pin.html", context)
    tried = try_password(request)
    if tried.person is None:
        context["said"] = tried.sentence
        return render(request, "people/pin.html", context, status=tried.status)
    if request.POST.get("pin", "") != request.POST.get("again", ""):
        context["said"] = "The two PINs differ; write the same one twice."
        return render(request, "people/pin.html", context, status=422)
    try:
        badges.pin_set(person=tried.person, pin=request.POST.get("pin", ""), least=least)
    except InputError as refused:
        context["said"] = str(refused)
        return render(request, "people/pin.html", context, status=422)
    messages.success(request, "Your PIN is set.", extra_tags="good")
    return redirect("day")


@require_http_methods(["GET", "POST"])
@manager
def give(request: HttpRequest, pk: int) -> HttpResponse:
    """Give a person a badge, or take it away; the person chooses the PIN."""
    person = get_object_or_404(Person, pk=pk)
    badge = Badge.objects.filter(person=person).first()
    context: dict[str, Any] = {"person": person, "badge": badge}
    if request.method == "GET":
        return render(request, "people/badge.html", context)
    if "take" in request.POST:
        badges.badge_take(person=person)
        messages.success(request, f"{person.shown_name} has no badge now.", extra_tags="good")
        return redirect("people")
    try:
        badges.badge_give(person=person, code=request.POST.get("code", ""))
    except InputError as refused:
        context["said"] = str(refused)
        return render(request, "people/badge.html", context, status=422)
    messages.success(request, f"{person.shown_name} has a badge.", extra_tags="good")
    return redirect("people")
