"""The invented people who may sign in, put in once."""

from __future__ import annotations

from collections.abc import Iterable

from cubital.desk.demo.valley import PASSWORD
from cubital.desk.record import selectors
from cubital.desk.record.models import Person
from cubital.desk.record.people import person_add

Who = tuple[str, str, str, str, str]
"""Sign-in name, given name, family name, role, and the code of the place."""


def staff_put(people: Iterable[Who]) -> None:
    """Let those sign in who may not yet, with the demo's own password."""
    for username, given, family, role, place in people:
        if not Person.objects.filter(username=username).exists():
            person_add(
                username=username,
                password=PASSWORD,
                role=role,
                given_name=given,
                family_name=family,
                place=selectors.place_at(place),
                judge_password=False,
            )
