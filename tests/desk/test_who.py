"""Every address, every role, and nobody: who may, who gets 403, who is sent to sign in."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime

from django.http import HttpResponse
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from cubital.desk.people.who import ANYONE
from cubital.desk.record.models import Person, Requisition, Role, StockLot

ROLES = frozenset(Role.values)


def views(patterns: list[URLPattern | URLResolver] | None = None) -> Iterator[URLPattern]:
    """Every view of the screens; the JSON API has a door and a test of its own."""
    for each in get_resolver().url_patterns if patterns is None else patterns:
        if isinstance(each, URLPattern):
            yield each
        elif each.namespace is None:
            yield from views(each.url_patterns)


def address(view: URLPattern) -> str:
    """An address of that view in the invented clinic."""
    examples: dict[str, object] = {
        "number": Requisition.objects.get(number__endswith="D02").number,
        "code": "potassium",
        "pk": Person.objects.get(role="bench").pk,
    }
    if view.name.startswith("patient"):
        examples["number"] = "OV-10001"
    if view.name.startswith("stock"):
        examples["pk"] = StockLot.objects.order_by("pk")[0].pk
    wanted = view.pattern.converters
    return reverse(view.name, kwargs={name: examples[name] for name in wanted})


def refused(answer: HttpResponse) -> bool:
    """Whether it is the page that says this is for another role."""
    names = [template.name for template in getattr(answer, "templates", [])]
    return answer.status_code == 403 and "people/forbidden.html" in names


def test_every_view_says_who_may() -> None:
    """No address is open by having been forgotten."""
    for view in views():
        roles = getattr(view.callback, "who_may", None)
        assert roles is not None, view.name
        assert roles == ANYONE or (roles and roles <= ROLES), view.name


def test_signed_out_is_sent_to_sign_in_and_back(clinic: datetime) -> None:
    """Whatever the address and the method, a stranger gets the sign-in page and nothing else."""
    for view in views():
        if view.callback.who_may == ANYONE:
            continue
        there = address(view)
        for send in (Client().get, Client().post):
            answer = send(there)
            if answer.status_code == 405:
                continue  # not even a question of who
            assert answer.status_code == 302, (view.name, answer.status_code)
            assert answer["Location"].startswith("/sign-in/"), view.name
        piece = Client().get(
            there, headers={"HX-Request": "true", "HX-Current-URL": "http://x/a?b"}
        )
        if piece.status_code != 405:
            assert piece["HX-Redirect"] == "/sign-in/?next=%2Fa%3Fb", view.name


def test_each_role_gets_its_own_screens_and_403_elsewhere(
    signed_in: Callable[[str], Client],
) -> None:
    """For every address and role: open where the view says so, a page with 403 where not."""
    for role in sorted(ROLES):
        for view in views():
            if view.callback.who_may == ANYONE:
                continue
            there = address(view)
            answers = [signed_in(role).get(there), signed_in(role).post(there)]
            answers = [answer for answer in answers if answer.status_code != 405]
            assert answers, view.name
            for answer in answers:
                assert answer.status_code < 500, (role, view.name)
                may = role in view.callback.who_may
                assert refused(answer) != may, (role, view.name, answer.status_code)


def test_the_menu_shows_what_the_role_may_open(signed_in: Callable[[str], Client]) -> None:
    """No line of the menu leads to a 403."""
    for role in sorted(ROLES):
        client = signed_in(role)
        for item in client.get("/").context["menu"]:
            assert client.get(item.address).status_code == 200, (role, item.words)


def test_an_account_that_was_shut_is_out_at_once(signed_in: Callable[[str], Client]) -> None:
    """Somebody who may not sign in any more does not stay signed in."""
    client = signed_in("collector")
    Person.objects.filter(role="collector").update(is_active=False)
    assert client.get("/").status_code == 302


def test_a_stranger_never_learns_which_numbers_exist(clinic: datetime) -> None:
    """Signed out, a patient that exists and one that does not look the same."""
    known = Client().get("/patients/OV-10001/")
    unknown = Client().get("/patients/no-such/")
    assert known.status_code == unknown.status_code == 302


def test_the_menu_marks_where_a_page_belongs(signed_in: Callable[[str], Client]) -> None:
    """A page under a line of the menu marks that line; the line's own page is marked as such."""
    marks = {
        ("quality", "/logbook/day/"): ("Logbook", "true"),
        ("quality", "/waste/tables/"): ("Logbook", "true"),
        ("bench", "/bench/storage/"): ("Bench", "true"),
        ("bench", "/logbook/new/"): ("Logbook", "true"),
        ("manager", "/place/new/"): ("Place", "true"),
        ("manager", "/place/"): ("Place", "page"),
        ("manager", "/new/"): ("New", "page"),
        ("bench", "/"): ("Requisitions", "page"),
    }
    for (role, address), expected in marks.items():
        menu = signed_in(role).get(address).context["menu"]
        assert [(i.words, i.current) for i in menu if i.current] == [expected], (role, address)
