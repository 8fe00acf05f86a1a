"""Writes: who works at the desk."""

from __future__ import annotations

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction

from cubital.desk.record.checking import checked
from cubital.desk.record.models import Person, Place, Role
from cubital.errors import InputError


def person_add(
    *,
    username: str,
    password: str,
    role: str,
    given_name: str = "",
    family_name: str = "",
    place: Place | None = None,
    judge_password: bool = True,
) -> Person:
    """
    Let somebody sign in.

    ``judge_password`` is False only for the demo, whose passwords stand on its own front page.

    Raises:
        InputError: an unknown role, a name already taken, or a password that is easily guessed.
    """
    person = Person(
        username=username.strip(),
        role=role,
        first_name=given_name.strip(),
        last_name=family_name.strip(),
        place=place,
    )
    if judge_password:
        judge(password, person)
    person.set_password(password)
    checked(person)
    with transaction.atomic():
        person.save(force_insert=True)
    return person


def person_change(
    *, person: Person, role: str, place: Place | None, is_active: bool, password: str = ""
) -> None:
    """
    Give another role, place or password, or shut the door; all of it or nothing.

    Raises:
        InputError: the desk would be left without a manager, the role is unknown, or the password
            is easily guessed.
    """
    with transaction.atomic():
        person.refresh_from_db()
        stays_manager = is_active and role == Role.MANAGER
        if person.role == Role.MANAGER and person.is_active and not stays_manager:
            others = Person.objects.filter(role=Role.MANAGER, is_active=True).exclude(pk=person.pk)
            if not others.exists():
                raise InputError(
                    f"{person.shown_name} is the only manager who may sign in",
                    mend="Make somebody else a manager first.",
                )
        person.role, person.place, person.is_active = role, place, is_active
        if password:
            judge(password, person)
            person.set_password(password)
        checked(person)
        person.save(update_fields=["role", "place", "is_active", "password"])


def judge(password: str, person: Person) -> None:
    """Refuse a password that is easily guessed, in one sentence."""
    try:
        validate_password(password, person)
    except ValidationError as error:
        raise InputError(error.messages[0], "password") from error
