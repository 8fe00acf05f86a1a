"""Who may see what: every view says it, and a test proves that every view does."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import wraps
from typing import Any
from urllib.parse import urlencode, urlsplit
from zoneinfo import ZoneInfo

from django.conf import settings
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone

from cubital.desk.people.here import place_here
from cubital.desk.people.request import DeskRequest
from cubital.desk.record.models import Role

View = Callable[..., HttpResponseBase]
ANYONE = frozenset({"anyone"})
EVERY_ROLE = tuple(Role.values)


def who_may(*roles: str, without_place: bool = False) -> Callable[[View], View]:
    """
    Open a view to people of these roles, at the place where they work, in its local time.

    Signed out goes to sign in and comes back; another role gets a page with status 403.
    ``without_place`` is for the few views that work before any place is set up.
    """

    def mark(view: View) -> View:
        @wraps(view)
        def guarded(request: DeskRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            if not request.user.is_authenticated:
                return to_sign_in(request)
            if request.user.role not in roles:
                return render(request, "people/forbidden.html", status=403)
            place = place_here(request)
            if place is None:
                if without_place:
                    return view(request, *args, **kwargs)
                return render(request, "place/none_yet.html")
            request.place = place
            with timezone.override(ZoneInfo(place.time_zone)):
                return view(request, *args, **kwargs)

        opened_to(guarded, roles)
        return guarded

    return mark


def anyone(view: View) -> View:
    """Open a view to people who have not signed in."""
    opened_to(view, ANYONE)
    return view


def opened_to(view: Any, roles: Iterable[str]) -> None:
    """Write on a view who may see it, where the test looks that walks all of them."""
    view.who_may = frozenset(roles)


def to_sign_in(request: DeskRequest) -> HttpResponse:
    """Send to sign in and back to the page where the person was."""
    if request.htmx:
        address = urlsplit(request.htmx.current_url or "/")
        back = f"{address.path}?{address.query}" if address.query else address.path
        response = HttpResponse(status=204)
        response["HX-Redirect"] = f"{settings.LOGIN_URL}?{urlencode({'next': back})}"
        return response
    back = request.get_full_path() if request.method == "GET" else settings.LOGIN_REDIRECT_URL
    if back == settings.LOGIN_REDIRECT_URL:
        return redirect(settings.LOGIN_URL)
    return redirect(f"{settings.LOGIN_URL}?{urlencode({'next': back})}")
