"""A request as views see it that only open to somebody signed in."""

from __future__ import annotations

from django.http import HttpRequest
from django_htmx.middleware import HtmxDetails

from cubital.desk.record.models import Person, Place


class DeskRequest(HttpRequest):
    """
    A request that ``who_may`` has let in.  A name for the type checker: nothing is made of it.

    Args:
        user: who is signed in.
        place: where they work now.
        htmx: whether a part of a page is asked for, and from where.
    """

    user: Person
    place: Place
    htmx: HtmxDetails
