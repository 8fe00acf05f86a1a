"""Waste by its bar code, its label and tables, and the disinfectant calculator."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pypdfium2
import pytest
import zxingcpp
from django.test import Client
from django.utils import timezone

from cubital.desk.record.models import Place, WasteNow
from cubital.desk.record.rebuild import rebuild
from tests.desk.quality import PASS, VALLEY, event, store

Sign = Callable[[str], Client]
CODE = re.compile(r"WOL\d{9}")


def opened(client: Client, stream: str = "sharps", code: str = "") -> str:
    """Open a bag or box; gives its bar code."""
    answer = client.post("/waste/open/", {"stream": stream, "code": code})
    assert answer.status_code == 302, answer.content.decode()
    return answer["Location"].removeprefix("/waste/bag/").rstrip("/")


def step(client: Client, code: str, what: str, **said: str) -> str:
    """Do one step with a bag; gives the page that follows."""
    answer = client.post(f"/waste/bag/{code}/step/", {"step": what, **said}, follow=True)
    return answer.content.decode()


def test_a_box_from_opening_to_the_van(signed_in: Sign) -> None:
    """Filled, closed at three quarters, weighed, handed over; the projection can be made again."""
    client = signed_in("collector")
    code = opened(client)
    assert CODE.fullmatch(code)
    assert f"{code} is 50 % full" in step(client, code, "fill", percent="50")
    assert "75 % full: close it" in step(client, code, "fill", percent="75")
    assert "Weigh it" in step(client, code, "close")
    assert "weighs 2.35 kg" in step(client, code, "weigh", weight_kg="2,35")
    assert "went with the van" in step(client, code, "hand_over", to=" the van ")
    row = WasteNow.objects.get(code=code)
    assert (row.state, row.weight_g, row.handed_to) == ("handed_over", 2350, "the van")
    assert "Handed over to" in client.get(f"/waste/bag/{code}/").content.decode()
    assert rebuild(only_compare=True).equal


def test_a_scan_opens_the_bag_or_offers_a_new_one(signed_in: Sign) -> None:
    """A bag printed with a bar code of its own is scanned, its stream chosen, and scanned again."""
    client = signed_in("bench")
    page = client.get("/waste/find/?q=4006381333931", follow=True).content.decode()
    assert "No bag has the bar code 4006381333931" in page
    assert 'value="4006381333931"' in page
    assert opened(client, "soiled", "4006381333931") == "4006381333931"
    there = client.get("/waste/find/?q=4006381333931")
    assert there["Location"] == "/waste/bag/4006381333931/"
    assert "Nothing was scanned" in client.get("/waste/find/?q=", follow=True).content.decode()


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({}, "Choose what goes in"),
        ({"stream": "glass"}, "has no stream"),
        ({"stream": "sharps", "code": "taken"}, "another bag"),
        ({"stream": "sharps", "code": "x" * 41}, "cannot be a bag"),
        ({"stream": "sharps", "code": "a\x00b"}, "cannot be a bag"),
        ({"stream": "sharps", "code": "Ünï"}, "cannot be a bag"),
        ({"stream": "sharps", "code": "W/1"}, "cannot be a bag"),
    ],
)
def test_a_bag_that_cannot_be_opened(signed_in: Sign, said: dict[str, str], sentence: str) -> None:
    """One sentence; what was typed stays; nothing is opened."""
    client = signed_in("collector")
    opened(client, code="taken")
    answer = client.post("/waste/open/", said)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert WasteNow.objects.count() == 1


@pytest.mark.parametrize(
    ("before", "what", "said", "sentence"),
    [
        ([], "fill", {"percent": "half"}, "no whole number"),
        ([], "fill", {"percent": "120"}, "120 % cannot be"),
        ([], "weigh", {"weight_kg": "2"}, "still open"),
        ([], "hand_over", {"to": "the van"}, "still open"),
        ([], "burn", {}, "Choose what to do"),
        ([], "take_back", {"why": ""}, "Say in a few words why"),
        (["close"], "close", {}, "closed already"),
        (["close"], "fill", {"percent": "80"}, "nothing more goes in"),
        (["close"], "weigh", {"weight_kg": "heavy"}, "no weight"),
        (["close"], "weigh", {"weight_kg": "inf"}, "no weight"),
        (["close"], "weigh", {"weight_kg": "-1"}, "no weight of a bag"),
        (["close"], "weigh", {"weight_kg": "2350"}, "no weight of a bag"),
        (["close"], "hand_over", {"to": "  "}, "Nobody is named"),
        (["close"], "hand_over", {"to": "x" * 2001}, "at most 2000"),
        (["close"], "take_back", {"why": "wrong"}, "was a real bag"),
    ],
)
def test_a_step_that_cannot_be_is_refused(
    signed_in: Sign, before: list[str], what: str, said: dict[str, str], sentence: str
) -> None:
    """One sentence on the bag's own page; the bag stays as it was."""
    client = signed_in("collector")
    code = opened(client)
    for each in before:
        step(client, code, each)
    stands = WasteNow.objects.get(code=code)
    answer = client.post(f"/waste/bag/{code}/step/", {"step": what, **said})
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    again = WasteNow.objects.get(code=code)
    assert (again.state, again.fill_percent, again.weight_g) == (
        stands.state, stands.fill_percent, stands.weight_g,
    )  # fmt: skip


def test_a_bag_opened_by_mistake_is_taken_back(signed_in: Sign) -> None:
    """The opening is withdrawn, with the fill noted since; the record keeps both."""
    client = signed_in("collector")
    code = opened(client)
    step(client, code, "fill", percent="25")
    assert f"{code} was never opened" in step(client, code, "take_back", why="The wrong stream.")
    assert not WasteNow.objects.exists()
    assert client.get(f"/waste/bag/{code}/").status_code == 404
    assert rebuild(only_compare=True).equal


def test_several_bags_go_together_or_none(signed_in: Sign) -> None:
    """The van takes what is ticked; one that is still open keeps all of them here."""
    client = signed_in("manager")
    codes = [opened(client, stream) for stream in ("sharps", "soiled", "plastic")]
    for code in codes[:2]:
        step(client, code, "close")
    all_three = client.post("/waste/hand-over/", {"code": codes, "to": "the van"})
    assert "still open" in all_three.content.decode()
    assert not WasteNow.objects.filter(state="handed_over").exists()
    assert "Tick the bags" in client.post("/waste/hand-over/", {"to": "van"}).content.decode()
    gone = client.post("/waste/hand-over/", {"code": codes[:2], "to": "the van"}, follow=True)
    assert "went with the van" in gone.content.decode()
    again = client.post("/waste/hand-over/", {"code": codes[:2], "to": "the van"})
    assert "gone already" in again.content.decode()


def test_what_stands_too_long_is_marked(clinic: datetime, signed_in: Sign) -> None:
    """Closed three days ago and still here: longer than 48 h."""
    then = datetime.now(UTC) - timedelta(days=3)
    said = {"scheme": "local", "stream": "soiled"}
    store([
        event("waste_opened", "waste:OLD-1", then - timedelta(days=1), **said),
        event("waste_closed", "waste:OLD-1", then),
    ])  # fmt: skip
    client = signed_in("bench")
    assert "longer than 48 h" in client.get("/waste/").content.decode()
    assert "have it fetched" in client.get("/waste/bag/OLD-1/").content.decode()


def test_a_bag_of_another_place_is_seen_and_not_touched(clinic: datetime, signed_in: Sign) -> None:
    """Its page says where it stands; a step is done there."""
    said = {"scheme": "local", "stream": "sharps"}
    store([event("waste_opened", "waste:P-1", datetime.now(UTC), site=PASS, **said)])
    client = signed_in("collector")
    assert "stands at Ostrel pass post" in client.get("/waste/bag/P-1/").content.decode()
    assert "another place" in step(client, "P-1", "close")
    assert WasteNow.objects.get().closed_at is None


def test_the_scheme_of_the_place_decides_what_can_be_opened(signed_in: Sign) -> None:
    """Under the Indian rules glass has a blue box, and tubes are treated first."""
    Place.objects.filter(code=VALLEY).update(waste_scheme="india_2016")
    client = signed_in("collector")
    page = client.get("/waste/").content.decode()
    assert "the Indian rules of 2016" in page
    assert "blue box" in page
    assert "tubes with blood treated first" in page
    opened(client, "glass")


def test_the_label_is_read_back(signed_in: Sign) -> None:
    """What a scanner reads from the label is the bag's code."""
    client = signed_in("collector")
    code = opened(client, "soiled")
    answer = client.get(f"/waste/bag/{code}/label.pdf")
    assert answer["Content-Type"] == "application/pdf"
    image = pypdfium2.PdfDocument(answer.content)[0].render(scale=6).to_pil()
    assert {each.text for each in zxingcpp.read_barcodes(image)} == {code}


def test_a_bar_code_stays_inside_the_name_of_its_file(signed_in: Sign) -> None:
    """A printed code may hold a quotation mark; it does not end the file's name."""
    client = signed_in("collector")
    opened(client, code='B";x')
    answer = client.get("/waste/bag/B%22;x/label.pdf")
    assert answer.status_code == 200
    assert answer["Content-Disposition"] == 'inline; filename="B\\";x.pdf"'


def test_a_label_too_long_for_the_paper_is_a_sentence(signed_in: Sign) -> None:
    """A long code on the smallest paper."""
    Place.objects.filter(code=VALLEY).update(label_size="30x15")
    client = signed_in("collector")
    code = opened(client, "soiled", "LONG-" + "9" * 35)
    answer = client.get(f"/waste/bag/{code}/label.pdf")
    assert answer.status_code == 422
    assert "too small" in answer.content.decode()


def test_daily_monthly_and_yearly_tables(clinic: datetime, signed_in: Sign) -> None:
    """Two bags closed today: one line a stream, the same sum in each table."""
    client = signed_in("manager")
    for stream, weight in (("sharps", "1.2"), ("sharps", "0.8"), ("soiled", "")):
        code = opened(client, stream)
        step(client, code, "close")
        if weight:
            step(client, code, "weigh", weight_kg=weight)
    today = timezone.localdate()
    periods = {"day": f"{today}", "month": f"{today:%Y-%m}", "year": f"{today:%Y}"}
    for by, period in periods.items():
        page = client.get(f"/waste/tables/?by={by}&at={today}")
        assert page.context["lines"] == [
            (period, "sharps", 2, "2.000", 0),
            (period, "soiled", 1, "0.000", 1),
        ]
        assert (page.context["bags"], page.context["unweighed"]) == (3, 1)
    assert client.get("/waste/tables/?by=day&at=2020-01-01").context["lines"] == []
    assert "is no day" in client.get("/waste/tables/?at=x").content.decode()
    assert client.get("/waste/tables/?by=hour").context["by"] == "day"
    assert client.get("/waste/tables/?by=year&at=9988-12-31").status_code == 200


def test_how_a_disinfectant_is_mixed(signed_in: Sign) -> None:
    """1 % out of a bottle of 5 %: one part and four parts of water, stale tomorrow."""
    page = signed_in("bench").get("/waste/disinfectant/?use=spill&stock=5&volume=1000")
    text = page.content.decode()
    assert "200 mL from the bottle + 800 mL of water" in text
    assert "1 part of stock to 4 parts of water" in text
    assert "20 to 30 min" in text
    stale = timezone.localtime() + timedelta(hours=24)
    assert f"{stale:%A} {stale.day} {stale:%B}" in text


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        ("use=spill&stock=0,5&volume=1000", "weaker than the 1 % wanted"),
        ("use=spill&stock=strong&volume=1000", "Write a strength in percent"),
        ("use=spill&stock=nan&volume=1000", "cannot be"),
        ("use=spill&stock=5&volume=0", "cannot be mixed"),
        ("use=spill&stock=5&volume=1.5", "Write whole millilitres"),
        ("use=tea&stock=5&volume=1000", "not one of the available"),
        ("use=spill", "required"),
    ],
)
def test_what_cannot_be_mixed_is_a_sentence(signed_in: Sign, asked: str, sentence: str) -> None:
    """At its field, or above the form."""
    answer = signed_in("bench").get(f"/waste/disinfectant/?{asked}")
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
