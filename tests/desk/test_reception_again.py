"""A urine, stool or swab that was refused stands on the first page until it has come again."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from cubital.desk.record.models import Event, SpecimenNow
from cubital.desk.record.rebuild import rebuild
from tests.desk.test_reception import collected, decide
from tests.desk.way import requisition

Sign = Callable[[str], Client]
CUP = {"vessel": "sterile cup", "volume_ml": "20"}
URINE = {"material": "urine", "patient": "OV-10001", "test": ["urine-culture"]}


@pytest.fixture
def bench(signed_in: Sign) -> Client:
    """Somebody at the bench of the valley's laboratory."""
    return signed_in("bench")


def refused(client: Client, again: str = "on", **more: str) -> str:
    """A urine that leaks, refused; gives its number."""
    client.post("/reception/register/", URINE | collected(0.5) | CUP | {"leaking": "yes"} | more)
    row = SpecimenNow.objects.order_by("received_at").last()
    answer = decide(client, row.code, ask_again=again, leaking="yes", **CUP)
    assert answer.status_code == 302, answer.content.decode()
    return row.code


def listed(client: Client, day: str = "") -> str:
    """The section of the first page, "" where there is none."""
    page = client.get("/", {"day": day} if day else {}).content.decode()
    found = re.search(r'<section class="sheet again".*?</section>', page, re.DOTALL)
    return found.group() if found else ""


def test_it_stands_on_the_first_page_of_every_role(bench: Client, signed_in: Sign) -> None:
    """Whose, what, in what, why, since when, and that nobody was told yet."""
    assert listed(bench) == ""
    code = refused(bench)
    for role in ("collector", "bench", "quality", "manager"):
        said = listed(signed_in(role))
        for part in ("To ask for again: 1", "OV-10001", "Urine: Urine culture", "sterile cup",
                     "leak", code, "nobody was told yet"):  # fmt: skip
            assert part in said, (role, part)
        assert ("It is here" in said) == (role == "bench")
        assert ("Not wanted any more" in said) == (role != "quality")
    yesterday = f"{timezone.localdate() - timedelta(days=1)}"
    assert listed(bench, yesterday) == ""


def test_who_was_told_is_said(bench: Client) -> None:
    """The call of the laboratory stands beside it."""
    code = refused(bench)
    bench.post("/reception/phone/told/", {"code": code, "told": "Sister Brunn", "how": "phone"})
    assert "Sister Brunn" in listed(bench)


def test_what_is_not_asked_for_again_is_not_listed(bench: Client) -> None:
    """Unticked; and blood, which comes back as a requisition."""
    refused(bench, again="")
    assert listed(bench) == ""


def test_it_goes_when_the_new_one_is_registered(bench: Client) -> None:
    """The link fills the form; the new cup is registered, and the line is gone."""
    refused(bench)
    link = re.search(r'href="(/reception/register/[^"]+)"', listed(bench)).group(1)
    form = bench.get(link.replace("&amp;", "&")).content.decode()
    assert 'value="OV-10001"' in form
    assert re.search(r'value="urine-culture"[^>]*checked', form)
    bench.post("/reception/register/", URINE | collected(0.1) | CUP)
    assert listed(bench) == ""
    assert rebuild(only_compare=True).equal


def test_it_belongs_to_the_place_that_collects(bench: Client, signed_in: Sign) -> None:
    """A requisition of the pass is asked for again at the pass."""
    row = requisition(2)
    refused(bench, patient="", requisition=row.number)
    collector = signed_in("collector")
    here = listed(collector)
    collector.post("/work-at/", {"place": "ostrel-pass"})
    there = listed(collector)
    assert bool(here) == (row.place.code == "ostrel-valley")
    assert bool(there) == (row.place.code == "ostrel-pass")


def test_nobody_wants_it_any_more(bench: Client, signed_in: Sign) -> None:
    """A reason is needed; it is an event; sent twice it is said."""
    code = refused(bench)
    address = f"/reception/again/{code}/end/"
    collector = signed_in("collector")
    empty = collector.post(address, {"why": " "}, follow=True).content.decode()
    assert "Why is it not wanted any more?" in empty
    assert collector.post(address, {"why": "Treated already."}).status_code == 302
    assert listed(bench) == ""
    event = Event.objects.get(kind="test_cancelled")
    assert (event.subject, event.who) == (f"specimen:{code}", "mira")
    twice = collector.post(address, {"why": "Treated already."}, follow=True).content.decode()
    assert "on the list no more" in twice
    assert Event.objects.filter(kind="test_cancelled").count() == 1
    page = bench.get(f"/reception/specimens/{code}/").content.decode()
    assert "Urine culture" in page
    assert rebuild(only_compare=True).equal


def test_the_quality_role_only_looks(bench: Client, signed_in: Sign) -> None:
    """It ends nothing."""
    code = refused(bench)
    assert signed_in("quality").post(f"/reception/again/{code}/end/").status_code == 403
