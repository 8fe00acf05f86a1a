"""
Wrong attempts at the doors of the desk: counted by person and by device, slowed, then locked.

A device where somebody has signed in with a password keeps a signed cookie and is a door of its
own.  So a stranger who tries names from elsewhere can lock nobody out of the tablet they work on,
and a guess from a known tablet counts against that tablet alone.
"""

from __future__ import annotations

import math
import secrets
from collections.abc import Sequence
from datetime import timedelta

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.record.knocks import Patience, knock, knock_right, patience

COOKIE = "cubital-device"
SALT = "cubital.desk.people.device"
ONE_YEAR_S = 365 * 24 * 60 * 60


def known_device(request: HttpRequest) -> str:
    """The name of a device where somebody has signed in before, "" for any other."""
    return str(request.get_signed_cookie(COOKIE, default="", salt=SALT))


def know_device(request: HttpRequest, response: HttpResponse) -> None:
    """Remember the device after a right password."""
    name = known_device(request) or secrets.token_urlsafe(16)
    response.set_signed_cookie(
        COOKIE,
        name,
        salt=SALT,
        max_age=ONE_YEAR_S,
        httponly=True,
        secure=settings.SESSION_COOKIE_SECURE,
        samesite="Lax",
    )


def doors(request: HttpRequest, who: str) -> tuple[str, str]:
    """The two doors of an attempt: of the person, and of the device or the address."""
    device = known_device(request)
    if device:
        return f"{who} at {device}", f"device {device}"
    return who, f"address {request.META.get('REMOTE_ADDR', '')}"


def policy(*, pin: bool = False) -> Patience:
    """The laboratory's policy."""
    return patience(catalogue_at(""), pin=pin)


def knock_at(tried: Sequence[str], *, pin: bool = False) -> timedelta:
    """Count an attempt at these doors, wrong until it proves right; or say how long to wait."""
    return knock(doors=tried, policy=policy(pin=pin), now=timezone.now())


def right_at(tried: Sequence[str]) -> None:
    """The attempt was right: forget it and the wrong ones before it."""
    knock_right(doors=tried)


def wait_words(wait: timedelta) -> str:
    """How long to wait, as a sentence."""
    seconds = math.ceil(wait.total_seconds())
    if seconds <= 90:
        return f"Too many wrong attempts: wait {seconds} s and try again."
    return f"Too many wrong attempts: locked for another {math.ceil(seconds / 60)} min."
