"""Badges and PINs of the invented clinic, a second collector, and telephone numbers of nobody."""

from __future__ import annotations

from django.conf import settings
from django.db import transaction

from cubital.desk.demo.staff import staff_put
from cubital.desk.record import selectors
from cubital.desk.record.badges import badge_give, pin_set
from cubital.desk.record.models import Badge, Person
from cubital.desk.record.places import place_change

PIN = "2580"
SECOND = ("runa", "Runa", "Velmar", "collector", "ostrel-valley")
"""Somebody to hand a draw over to."""
WITH_BADGE = ("mira", "runa", "joren")
NUMBERS = [["Physician on duty", "555-0142"], ["Ambulance", "112"]]


def badge_code(username: str) -> str:
    """What stands on the badge."""
    return f"BADGE-{username.upper()}"


def demo_badges() -> None:
    """Make them where they are missing; only in the demo."""
    if not settings.DEMO:
        return
    with transaction.atomic():
        staff_put([SECOND])
        for person in Person.objects.filter(username__in=WITH_BADGE):
            if not Badge.objects.filter(person=person).exists():
                badge_give(person=person, code=badge_code(person.username))
                pin_set(person=person, pin=PIN, least=len(PIN))
        for row in selectors.places():
            if not row.phone_numbers:
                place_change(place=row, phone_numbers=NUMBERS)
