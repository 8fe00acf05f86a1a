"""Writes: badges and PINs; and whether a badge and a PIN belong together."""

from __future__ import annotations

from itertools import pairwise

from django.contrib.auth.hashers import check_password, make_password
from django.db import transaction

from cubital.custody.payload import is_code
from cubital.desk.record.models import Badge, Person
from cubital.errors import InputError

LONGEST_PIN = 12


def badge_give(*, person: Person, code: str) -> Badge:
    """
    Give a person the badge with this bar code, instead of any they had; the PIN stays.

    Raises:
        InputError: no code, or somebody else's.
    """
    code = code.strip()
    if not is_code(code):
        raise InputError(
            "A badge has a code of 1 to 64 characters", "badge", "Scan the bar code of the badge."
        )
    with transaction.atomic():
        other = Badge.objects.filter(code=code).exclude(person=person).first()
        if other is not None:
            raise InputError(
                f"This badge belongs to {other.person.shown_name}", "badge", "Take another one."
            )
        badge, _ = Badge.objects.update_or_create(person=person, defaults={"code": code})
    return badge


def badge_take(*, person: Person) -> None:
    """Take a person's badge and PIN away."""
    Badge.objects.filter(person=person).delete()


def pin_set(*, person: Person, pin: str, least: int) -> None:
    """
    Set a person's PIN; what is kept is its Argon2 hash.

    Args:
        person: who has a badge.
        pin: digits.
        least: fewest digits (setting ``pin_length_min``).

    Raises:
        InputError: no badge, too short, no digits, or a PIN that everybody tries first.
    """
    badge = Badge.objects.filter(person=person).first()
    if badge is None:
        raise InputError(
            "A PIN belongs to a badge, and you have none", "PIN", "Ask a manager for a badge."
        )
    if not (pin.isascii() and pin.isdigit() and least <= len(pin) <= LONGEST_PIN):
        raise InputError(f"A PIN has {least} to {LONGEST_PIN} digits and nothing else", "PIN")
    if easily_guessed(pin):
        raise InputError(
            "Everybody tries this PIN first", "PIN", "Take digits that neither repeat nor count."
        )
    badge.pin = make_password(pin)
    badge.save(update_fields=["pin"])


def easily_guessed(pin: str) -> bool:
    """Whether all digits are equal, or count up or down."""
    steps = {int(after) - int(before) for before, after in pairwise(pin)}
    return steps in ({0}, {1}, {-1})


def pin_of(*, code: str, pin: str) -> Person | None:
    """
    The person whose badge and PIN these are, None when they do not belong together.

    It takes as long for an unknown badge as for a wrong PIN.
    """
    badge = Badge.objects.select_related("person").filter(code=code.strip()).first()
    if badge is None or not badge.pin or not badge.person.is_active:
        make_password(pin)
        return None
    return badge.person if check_password(pin, badge.pin) else None
