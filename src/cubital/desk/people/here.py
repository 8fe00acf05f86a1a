"""The place where somebody works now, and the menu that their role sees."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse

from cubital.desk.record import selectors
from cubital.desk.record.models import Place, Role

KEY = "place"
EVERYBODY = frozenset(Role.values)
MENU = (
    ("chair", "Chair", frozenset({Role.COLLECTOR})),
    ("day", "Requisitions", EVERYBODY),
    ("requisition-new", "New", frozenset({Role.COLLECTOR, Role.MANAGER})),
    ("patients", "Patients", frozenset({Role.COLLECTOR, Role.MANAGER})),
    ("transport", "Transport", frozenset({Role.COLLECTOR, Role.BENCH, Role.QUALITY})),
    ("reception", "Reception", frozenset({Role.BENCH, Role.QUALITY})),
    ("bench", "Bench", frozenset({Role.BENCH, Role.QUALITY})),
    ("bench-machines", "Bench", frozenset({Role.MANAGER})),
    ("logbook", "Logbook", frozenset({Role.QUALITY, Role.MANAGER})),
    ("follow-ups", "Logbook", frozenset({Role.COLLECTOR, Role.BENCH})),
    ("indicators", "Indicators", frozenset({Role.QUALITY, Role.MANAGER})),
    ("catalogue", "Catalogue", EVERYBODY),
    ("stock", "Stock", frozenset({Role.MANAGER})),
    ("place", "Place", frozenset({Role.MANAGER})),
    ("people", "People", frozenset({Role.MANAGER})),
)
"""Name of the page, words, and the roles that may open it."""


@dataclass(frozen=True, slots=True)
class MenuItem:
    """One line of the menu."""

    address: str
    words: str
    current: bool


def place_here(request: HttpRequest) -> Place | None:
    """The place chosen in this session, else the person's own, else the first; None if none is."""
    code = request.session.get(KEY, "")
    chosen = selectors.place_by_code(code) if code else None
    return chosen or request.user.place or selectors.places().first()


def menu(request: HttpRequest) -> list[MenuItem]:
    """What this person may open."""
    here = request.resolver_match.url_name if request.resolver_match else None
    return [
        MenuItem(reverse(name), words, name == here)
        for name, words, roles in MENU
        if request.user.role in roles
    ]


def context(request: HttpRequest) -> dict[str, Any]:
    """What every page shows in its head."""
    user = getattr(request, "user", None)  # none where a request was refused at the door
    if user is None or not user.is_authenticated:
        return {"demo": settings.DEMO}
    place = getattr(request, "place", None)
    return {
        "here": place,
        "places": list(selectors.places()) if place else [],
        "demo": settings.DEMO,
        "menu": menu(request),
    }
