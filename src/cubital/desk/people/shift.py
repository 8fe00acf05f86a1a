"""
A shift on a shared tablet: opened once with a password, then badge and PIN; locked when idle.

The session keeps when the shift began, when somebody was last there, and whether it is locked.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.contrib.auth import login, logout
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.urls import Resolver404, resolve
from django.utils import timezone
from django.utils.http import urlencode

from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.people.here import KEY
from cubital.desk.record.models import Person
from cubital.errors import CatalogueError

BEGAN, SEEN, LOCKED = "shift_began", "seen_at", "locked"
KEPT = (BEGAN, KEY)
TOUCH_S = 20
"""How often at most the session notes that somebody is there."""
OPEN_WHEN_LOCKED = frozenset({"locked", "switch", "sign-out", "sign-in", "chair", "worker"})
"""Pages that hold nothing about patients and lead out of the lock."""
LOCKED_STATUS = 423
UNATTENDED = "X-Unattended"
"""A page that asks again by itself says so: nobody need be there."""
OUTBOX = "/api/events"


def begin_shift(request: HttpRequest) -> None:
    """A right password: the shift begins now, unlocked."""
    request.session[BEGAN] = _now()
    be_seen(request)


def be_seen(request: HttpRequest) -> None:
    """Somebody is there."""
    request.session[SEEN] = _now()
    request.session[LOCKED] = False


def lock(request: HttpRequest) -> None:
    """Lock until a badge and a PIN, or a password, come."""
    request.session[LOCKED] = True


def switch_to(request: HttpRequest, person: Person) -> None:
    """Another person at the same device in the same shift."""
    kept = {key: request.session[key] for key in KEPT if key in request.session}
    login(request, person)
    request.session.update(kept)
    be_seen(request)


def _now() -> int:
    return int(timezone.now().timestamp())


class ShiftMiddleware:
    """
    Locks a screen that nobody uses, and ends a shift that is over.

    Events from an outbox pass a locked screen: what has happened has happened, and is not lost.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Look at the session before the view does."""
        if request.user.is_authenticated and not request.path.startswith("/static/"):
            answer = self.look(request)
            if answer is not None:
                return answer
        return self.get_response(request)

    def look(self, request: HttpRequest) -> HttpResponse | None:
        """Give the answer of a screen that is locked or whose shift is over, None to go on."""
        session, now = request.session, _now()
        idle_s, shift_s = limits()
        if now - session.setdefault(BEGAN, now) > shift_s:
            logout(request)
            return None
        seen = session.setdefault(SEEN, now)
        if now - seen > idle_s and not session.get(LOCKED):
            session[LOCKED] = True
        if session.get(LOCKED):
            return None if passes_lock(request) else locked_answer(request)
        if now - seen > TOUCH_S and UNATTENDED not in request.headers:
            session[SEEN] = now
        return None


def limits() -> tuple[int, int]:
    """
    Idle time and length of a shift, in seconds.

    Broken tables must not open the door: then the shortest sensible times hold.
    """
    try:
        catalogue = catalogue_at("")
    except CatalogueError:
        return 60, 60 * 60
    return catalogue.number("lock_idle_s"), catalogue.number("shift_h") * 60 * 60


def passes_lock(request: HttpRequest) -> bool:
    """Whether this address may be opened while the screen is locked."""
    if request.path.rstrip("/") == OUTBOX:
        return True
    try:
        return resolve(request.path_info).url_name in OPEN_WHEN_LOCKED
    except Resolver404:
        return True


def locked_answer(request: HttpRequest) -> HttpResponse:
    """To the lock page; a page's own question gets status 423."""
    wants_json = request.headers.get("Accept", "").startswith("application/json")
    if wants_json or request.path.startswith("/api/"):
        sentence = "The screen is locked: scan your badge and give your PIN."
        return JsonResponse({"sentence": sentence, "locked": True}, status=LOCKED_STATUS)
    back = request.get_full_path() if request.method == "GET" else "/"
    address = f"/locked/?{urlencode({'next': back})}"
    if request.headers.get("HX-Request"):
        response = HttpResponse(status=204)
        response["HX-Redirect"] = address
        return response
    return redirect(address)


def shift_began(request: HttpRequest) -> datetime | None:
    """When the shift of this session began."""
    began: Any = request.session.get(BEGAN)
    return datetime.fromtimestamp(began, tz=timezone.get_current_timezone()) if began else None
