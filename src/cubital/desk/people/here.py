"""The place where somebody works now, and the menu that their role sees."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse

from cubital.desk.people.request import DeskRequest
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
RARE = frozenset({"catalogue", "stock", "place", "people"})
"""What is opened now and then: several of these fold into one line on a narrow screen."""
UNDER = {
    "day": ("/requisitions/", "/find/", "/from-file/"),
    "bench-machines": ("/bench/",),
    "logbook": ("/waste/",),
    "follow-ups": ("/logbook/", "/waste/", "/indicators/mine/"),
}
"""Addresses that belong to a line of the menu, beside those that begin with its own."""


@dataclass(frozen=True, slots=True)
class MenuItem:
    """
    One line of the menu.

    Args:
        current: ``page`` where it is this very page, ``true`` where this page belongs to it, else
            empty.
        rare: it is opened now and then only.
    """

    address: str
    words: str
    current: str
    rare: bool


def place_here(request: DeskRequest) -> Place | None:
    """The place chosen in this session, else the person's own, else the first; None if none is."""
    code = request.session.get(KEY, "")
    chosen = selectors.place_by_code(code) if code else None
    return chosen or request.user.place or selectors.places().first()


def menu(request: DeskRequest) -> list[MenuItem]:
    """What this person may open."""
    lines = [(n, reverse(n), words) for n, words, roles in MENU if request.user.role in roles]
    here = current(request, [(name, address) for name, address, _ in lines])
    rare = RARE & {name for name, _, _ in lines}
    several = len(rare) > 1
    return [
        MenuItem(address, words, here.get(name, ""), several and name in rare)
        for name, address, words in lines
    ]


def current(request: HttpRequest, lines: list[tuple[str, str]]) -> dict[str, str]:
    """The line of the menu that this page is, or belongs to: the one whose address fits longest."""
    matched = request.resolver_match
    named = matched.url_name if matched else None
    fits = [
        (len(under), name)
        for name, address in lines
        for under in (address, *UNDER.get(name, ()))
        if under != "/" and request.path.startswith(under)
    ]
    if named in dict(lines):
        return {str(named): "page"}
    return {max(fits)[1]: "true"} if fits else {}


def context(request: DeskRequest) -> dict[str, Any]:
    """What every page shows in its head."""
    user = getattr(request, "user", None)  # none where a request was refused at the door
    if user is None or not user.is_authenticated:
        return {"demo": settings.DEMO}
    place = getattr(request, "place", None)
    lines = menu(request)
    folded = [item for item in lines if item.rare]
    return {
        "here": place,
        "places": list(selectors.places()) if place else [],
        "demo": settings.DEMO,
        "menu": lines,
        "folded": folded,
        "folded_here": any(item.current for item in folded),
    }
