"""Sessions and people read quickly mean the same as read slowly."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.contrib.sessions.models import Session
from django.test import Client
from django.utils import timezone

from cubital.desk.people.sessions import PEOPLE, SignIn
from cubital.desk.record.models import Person
from tests.record.small_desk import WORD, fill

pytestmark = pytest.mark.django_db
PAGE = "/api/openapi.json"


@pytest.fixture
def mira(db: None) -> Person:
    """A collector of the small desk."""
    fill()
    return Person.objects.get(username="mira")


@pytest.fixture
def client(mira: Person) -> Client:
    """Mira, signed in with her password."""
    client = Client()
    assert client.login(username="mira", password=WORD)
    assert client.get(PAGE).status_code == 200
    return client


def test_the_person_of_a_session_is_the_same_row(mira: Person) -> None:
    """Every column, read both ways."""
    quick = SignIn().get_user(mira.pk)
    assert quick == mira
    assert [getattr(quick, name) for name in PEOPLE.names] == [
        getattr(mira, name) for name in PEOPLE.names
    ]
    assert SignIn().get_user(0) is None


def test_a_shut_door_counts_at_once(client: Client, mira: Person) -> None:
    """Somebody who may not sign in any more is out with the next request."""
    Person.objects.filter(pk=mira.pk).update(is_active=False)
    assert client.get(PAGE).status_code == 302


def test_a_changed_password_ends_the_session(client: Client, mira: Person) -> None:
    """The session was opened with another one."""
    mira.set_password("another-eyed-gneiss-42")
    mira.save()
    assert client.get(PAGE).status_code == 302


def test_a_session_that_is_over_opens_nothing(client: Client) -> None:
    """Expired, and gone."""
    Session.objects.update(expire_date=timezone.now() - timedelta(seconds=1))
    assert client.get(PAGE).status_code == 302
    Session.objects.all().delete()
    assert client.get(PAGE).status_code == 302


def test_signing_out_ends_it(client: Client) -> None:
    """The same cookie opens nothing afterwards."""
    cookie = client.cookies["sessionid"].value
    client.post("/sign-out/")
    again = Client()
    again.cookies["sessionid"] = cookie
    assert again.get(PAGE).status_code == 302
