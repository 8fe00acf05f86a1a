"""What a place sets for its chair: when tubes get their labels, and whom one calls."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import pytest
from django.test import Client

from cubital.desk.demo.badges import NUMBERS, PIN, badge_code, demo_badges
from cubital.desk.place.forms import PlaceForm
from cubital.desk.record.badges import pin_of
from cubital.desk.record.models import Person, Place
from cubital.desk.record.places import place_change
from cubital.errors import InputError


def stored(client: Client, **changed: str) -> int:
    """The status after the place's page was stored with these changes."""
    form = client.get("/place/").context["form"]
    given = {field.name: field.value() for field in form}
    given = {name: value for name, value in given.items() if value not in (None, False)}
    return client.post("/place/", {**given, **changed}).status_code


def test_labels_and_numbers_are_set_on_the_page_of_the_place(
    signed_in: Callable[[str], Client],
) -> None:
    """Stored, read back as they were written, and a line that is no number refused."""
    manager = signed_in("manager")
    text = "Physician on duty: 555-0142\n\nAmbulance: 112"
    assert stored(manager, label_when="after", phone_numbers=text) == 302
    place = Place.objects.get(code="ostrel-valley")
    assert (place.label_when, place.phone_numbers) == ("after", NUMBERS)
    assert PlaceForm.of(place)["phone_numbers"] == text.replace("\n\n", "\n")
    assert stored(manager, phone_numbers="call somebody") == 422
    place.refresh_from_db()
    assert place.phone_numbers == NUMBERS


def test_half_a_number_is_refused(clinic: datetime) -> None:
    """Whom, and the number: both."""
    place = Place.objects.get(code="ostrel-valley")
    with pytest.raises(InputError, match="a name and a number"):
        place_change(place=place, phone_numbers=[["Ambulance", ""]])


def test_the_demo_has_badges_and_a_second_collector(clinic: datetime, settings: object) -> None:
    """Twice is once; outside the demo nothing is made."""
    settings.DEMO = False
    demo_badges()
    assert not Person.objects.filter(username="runa").exists()
    settings.DEMO = True
    demo_badges()
    demo_badges()
    person = pin_of(code=badge_code("runa"), pin=PIN)
    assert person is not None
    assert (person.username, person.role) == ("runa", "collector")
