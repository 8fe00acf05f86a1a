"""Headers, cookies, forms from elsewhere, and what a page may hold."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime

import pytest
from django.test import Client, RequestFactory

from cubital.desk.people.views import broken

INLINE = re.compile(
    r"\sstyle=|<style|<script(?![^>]*\ssrc=)|\son[a-z]+=|javascript:", re.IGNORECASE
)


@pytest.mark.parametrize("address", ["/", "/new/", "/catalogue/", "/patients/OV-10001/", "/place/"])
def test_no_page_holds_a_script_or_style_of_its_own(
    signed_in: Callable[[str], Client], address: str
) -> None:
    """The strict policy is sent, and nothing on the page would need an exception to it."""
    answer = signed_in("manager").get(address)
    policy = answer["Content-Security-Policy"]
    assert "unsafe" not in policy
    assert "default-src 'self'" in policy
    assert not INLINE.search(answer.content.decode())


def test_no_plan_holds_a_style_of_its_own(signed_in: Callable[[str], Client]) -> None:
    """The rack is drawn without inline styles, for every requisition of the morning."""
    from cubital.desk.record.models import Requisition

    client = signed_in("collector")
    rows = list(Requisition.objects.all())
    assert len(rows) > 10
    for row in rows:
        answer = client.get(f"/requisitions/{row.number}/")
        assert answer.status_code == 200
        assert not INLINE.search(answer.content.decode()), row.number


def test_headers_and_cookies(clinic: datetime) -> None:
    """No framing, no sniffing, and a session that scripts cannot read."""
    client = Client()
    answer = client.get("/sign-in/")
    assert answer["X-Frame-Options"] == "DENY"
    assert answer["X-Content-Type-Options"] == "nosniff"
    client.post("/sign-in/", {"username": "mira", "password": "ostrel-valley"})
    cookie = client.cookies["sessionid"]
    assert cookie["httponly"]
    assert cookie["samesite"] == "Lax"


def test_a_form_from_elsewhere_stores_nothing(clinic: datetime) -> None:
    """Without the desk's own token a form is refused with a page that says so."""
    from cubital.desk.record.models import Person, Requisition

    client = Client(enforce_csrf_checks=True)
    client.force_login(Person.objects.get(role="collector"))
    before = Requisition.objects.count()
    answer = client.post("/new/", {"test": "fbc"})
    assert answer.status_code == 403
    assert "Nothing was stored" in answer.content.decode()
    assert Requisition.objects.count() == before


def test_signing_in_never_leads_to_another_site(clinic: datetime) -> None:
    """A sign-in link that would send the person elsewhere sends them to the day's list."""
    answer = Client().post(
        "/sign-in/?next=https://elsewhere.example/",
        {"username": "mira", "password": "ostrel-valley", "next": "https://elsewhere.example/"},
    )
    assert answer["Location"] == "/"


def test_a_wrong_password_says_so_and_no_more(clinic: datetime) -> None:
    """The same sentence for a wrong name and a wrong password."""
    said = {
        Client()
        .post("/sign-in/", {"username": name, "password": "wrong"})
        .context["form"]
        .non_field_errors()[0]
        for name in ("mira", "nobody")
    }
    assert len(said) == 1


def test_a_page_that_is_not_there(signed_in: Callable[[str], Client]) -> None:
    """404, in the desk's own words."""
    answer = signed_in("bench").get("/requisitions/none/")
    assert answer.status_code == 404
    assert "There is no such page" in answer.content.decode()


def test_a_failure_tells_nothing_of_the_inside(rf: RequestFactory) -> None:
    """500 has a page that asks nothing of the database and shows no trace."""
    answer = broken(rf.get("/"))
    assert answer.status_code == 500
    assert "Nothing half done was stored" in answer.content.decode()
