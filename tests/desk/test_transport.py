"""Boxes: packed by scanner, looked at by the rules, sent, opened, compared with their list."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client

from cubital.desk.record import selectors_way
from cubital.desk.record.models import BoxFound, BoxPlan, Person, SpecimenNow
from tests.desk.way import PASS, VALLEY, boxed, drawn, requisition

GEL = ("gel-3.5", ["sodium", "potassium"])
EDTA = ("edta-3", ["fbc"])


@pytest.fixture
def at_pass(signed_in: Callable[[str], Client]) -> Client:
    """The collector, working at the pass post."""
    client = signed_in("collector")
    client.post("/work-at/", {"place": PASS})
    return client


@pytest.fixture
def at_valley(signed_in: Callable[[str], Client]) -> Client:
    """Somebody at the bench of the valley's laboratory."""
    return signed_in("bench")


def pack(client: Client, box: str, code: str, way: str = "in") -> tuple[str, str]:
    """Scan into or out of a box as the page does; gives the kind of answer and its sentence."""
    answer = client.post(
        f"/transport/boxes/{box}/pack/", {"text": code, "way": way}, headers={"HX-Request": "true"}
    )
    assert answer.status_code == 200
    return answer.context["kind"], answer.context["word"]


def unpack(client: Client, box: str, code: str) -> str:
    """Scan what is in an opened box as the page does; gives what is said."""
    answer = client.post(
        f"/transport/boxes/{box}/found/", {"text": code}, headers={"HX-Request": "true"}
    )
    assert answer.status_code == 200, answer.content
    return re.sub(r"<[^>]+>", " ", answer.content.decode())


def state(code: str) -> str:
    """How a specimen stands."""
    return SpecimenNow.objects.get(code=code).state


def send(client: Client, box: str, **said: str):
    """Press the button that lets it leave."""
    form = {"to": VALLEY, "cooling": "ambient", "courier": "the mail van"} | said
    return client.post(f"/transport/boxes/{box}/send/", form)


def test_packed_sent_opened_and_unpacked(at_pass: Client, at_valley: Client) -> None:
    """The whole way: two tubes from the pass to the valley, each in one place at every moment."""
    codes = drawn(requisition(15), GEL, EDTA, site=PASS)
    for code in codes:
        assert pack(at_pass, "B-7", code)[0] == "good"
    assert [state(code) for code in codes] == ["boxed", "boxed"]
    assert send(at_pass, "B-7").status_code == 302
    assert [state(code) for code in codes] == ["in_transit", "in_transit"]
    assert not BoxPlan.objects.exists()
    lists = dict(at_valley.get("/transport/").context["lists"])
    assert [each["row"].code for each in lists["Arriving"]] == ["B-7"]

    assert at_valley.post("/transport/boxes/B-7/open/").status_code == 302
    said = unpack(at_valley, "B-7", codes[0])
    assert "Accepted" in said
    assert "1 of 2 found" in said
    assert f"{codes[1]} is on the list and not in the box" in said
    assert "Everything on the list is here" in unpack(at_valley, "B-7", codes[1])
    assert [state(code) for code in codes] == ["accepted", "accepted"]
    lists = dict(at_valley.get("/transport/").context["lists"])
    assert [(b["row"].code, b["missing"]) for b in lists["Opened here"]] == [("B-7", 0)]


def test_scanned_in_twice_it_is_in_once(at_pass: Client) -> None:
    """The second scan is told, and is no event."""
    (code,) = drawn(requisition(15), GEL, site=PASS)
    pack(at_pass, "B-7", code)
    kind, said = pack(at_pass, "B-7", code)
    assert (kind, said) == ("twice", f"{code} is in this box already.")
    assert selectors_way.box_now("B-7").specimens == (code,)


def test_scanned_out_it_is_where_it_was(at_pass: Client) -> None:
    """Out by scan, or by the button of its line."""
    one, two = drawn(requisition(15), GEL, EDTA, site=PASS)
    for code in (one, two):
        pack(at_pass, "B-7", code)
    assert pack(at_pass, "B-7", one, "out")[0] == "good"
    answer = at_pass.post("/transport/boxes/B-7/pack/?way=out", {"text": two})
    assert answer.status_code == 302
    assert [state(one), state(two)] == ["labelled", "labelled"]
    assert selectors_way.box_now("B-7").specimens == ()
    kind, said = pack(at_pass, "B-7", one, "out")
    assert kind == "stop"
    assert "cannot be taken out" in said


@pytest.mark.parametrize(
    ("text", "part"),
    [("NOBODY", "knows no specimen"), ("OL26112500410", "check character"), ("OTHER", "is boxed")],
)
def test_what_cannot_go_in_is_one_sentence(at_pass: Client, text: str, part: str) -> None:
    """Unknown, misread, in another box."""
    (code,) = drawn(requisition(15), GEL, site=PASS)
    boxed("B-8", [code], sent=False)
    kind, said = pack(at_pass, "B-7", code if text == "OTHER" else text)
    assert kind == "stop"
    assert part in said


def test_a_rule_stops_a_box_and_another_way_lets_it_go(at_pass: Client) -> None:
    """Unseparated potassium in a cold box is stopped; without cooling it goes."""
    (code,) = drawn(requisition(15), GEL, site=PASS)
    pack(at_pass, "B-7", code)
    cold = at_pass.post(
        "/transport/boxes/B-7/plan/", {"to": VALLEY, "cooling": "cool_packs"},
        headers={"HX-Request": "true"},
    )  # fmt: skip
    assert "must never be chilled" in cold.content.decode()
    assert "disabled" in cold.content.decode()
    answer = send(at_pass, "B-7", cooling="cool_packs", why="Nothing else is here.")
    assert answer.status_code == 422
    assert "must not travel so" in answer.content.decode()
    assert state(code) == "boxed"
    assert send(at_pass, "B-7").status_code == 302


def test_a_rule_that_asks_is_gone_past_with_a_reason(at_pass: Client) -> None:
    """Ammonia without ice: the reason becomes an event of the specimen, then it leaves."""
    (code,) = drawn(requisition(15), ("edta-3", ["ammonia"]), site=PASS)
    at_pass.post("/transport/boxes/B-7/plan/", {"to": VALLEY, "cooling": "ambient"})
    kind, said = pack(at_pass, "B-7", code)
    assert kind == "ask"
    assert "on ice" in said
    refused = send(at_pass, "B-7")
    assert refused.status_code == 422
    assert "Write why" in refused.content.decode()
    assert send(at_pass, "B-7", why="No ice at the pass.").status_code == 302
    events = selectors_way.events_of(f"specimen:{code}")
    given = [e.payload for e in events if e.kind == "override_given"]
    assert given == [{"finding": "box-not-ice-slurry", "reason": "No ice at the pass."}]


@pytest.mark.parametrize(
    ("said", "part"),
    [({"to": ""}, "Where does it go"), ({"cooling": ""}, "Where does it go"),
     ({"to": PASS}, "already at"), ({"to": "nowhere"}, "Where does it go")],
)  # fmt: skip
def test_a_box_leaves_with_a_place_and_a_cooling(
    at_pass: Client, said: dict[str, str], part: str
) -> None:
    """Each missing piece is one sentence, and the box stays."""
    (code,) = drawn(requisition(15), EDTA, site=PASS)
    pack(at_pass, "B-7", code)
    answer = send(at_pass, "B-7", **said)
    assert answer.status_code == 422
    assert part in answer.content.decode()
    assert state(code) == "boxed"


def test_an_empty_box_does_not_leave(at_pass: Client) -> None:
    """And a box that nobody knows is an empty one."""
    page = at_pass.get("/transport/boxes/NEW-1/")
    assert "Empty, and here." in page.content.decode()
    assert "is empty" in send(at_pass, "NEW-1").content.decode()


def test_what_is_missing_is_told_and_found_later(at_pass: Client, at_valley: Client) -> None:
    """Missing is a state of its own; the tube that turns up is received after all."""
    codes = drawn(requisition(15), GEL, EDTA, site=PASS)
    boxed("B-7", codes)
    at_valley.post("/transport/boxes/B-7/open/")
    unpack(at_valley, "B-7", codes[0])
    answer = at_valley.post("/transport/boxes/B-7/missing/", follow=True)
    assert f"Missing from box B-7: {codes[1]}." in answer.content.decode()
    assert [state(code) for code in codes] == ["accepted", "missing"]
    lists = dict(at_valley.get("/transport/").context["lists"])
    assert [b["missing"] for b in lists["Opened here"]] == [1]
    again = at_valley.post("/transport/boxes/B-7/missing/", follow=True)
    assert "Nothing is missing" in again.content.decode()
    found = at_valley.post("/reception/scan/", {"text": codes[1]}, headers={"HX-Request": "true"})
    assert "said to be missing, and is here" in found.content.decode()
    assert state(codes[1]) == "accepted"


def test_what_nobody_listed_is_told_at_once(at_pass: Client, at_valley: Client) -> None:
    """A tube that the pass never boxed, and a number that nobody knows, both lie in the box."""
    listed, extra = drawn(requisition(15), GEL, EDTA, site=PASS)
    boxed("B-7", [listed])
    at_valley.post("/transport/boxes/B-7/open/")
    said = unpack(at_valley, "B-7", extra)
    assert f"{extra} is in the box and not on the list" in said
    assert "has not sent it here" in said
    assert state(extra) == "labelled"
    assert "not on the list" in unpack(at_valley, "B-7", "WHO-KNOWS")
    page = at_valley.get("/transport/boxes/B-7/")
    assert page.context["unlisted"] == (extra, "WHO-KNOWS")
    unpack(at_valley, "B-7", extra)
    assert BoxFound.objects.filter(code=extra).count() == 1


def test_received_at_the_tray_it_counts_as_found(at_pass: Client, at_valley: Client) -> None:
    """Whoever scans at the tray instead of the box page causes no false alarm."""
    codes = drawn(requisition(15), GEL, EDTA, site=PASS)
    boxed("B-7", codes)
    at_valley.post("/transport/boxes/B-7/open/")
    at_valley.post("/reception/scan/", {"text": codes[0]})
    page = at_valley.get("/transport/boxes/B-7/")
    assert page.context["found_count"] == 1
    assert [each.code for each in page.context["awaited"]] == [codes[1]]


def test_a_collector_unpacks_and_the_bench_accepts(
    at_pass: Client, signed_in: Callable[[str], Client], at_valley: Client
) -> None:
    """A collector receives; what stands against nothing is accepted by the bench's next scan."""
    (code,) = drawn(requisition(15), EDTA, site=PASS)
    boxed("B-7", [code])
    collector = signed_in("collector")
    assert Person.objects.get(role="collector").place.code == VALLEY
    collector.post("/transport/boxes/B-7/open/")
    assert "Received" in unpack(collector, "B-7", code)
    line = collector.post(
        "/transport/boxes/B-7/found/", {"text": code}, headers={"HX-Request": "1"}
    )
    assert "/reception/" not in line.content.decode()  # no link to a page that is shut to them
    assert state(code) == "received"
    answer = at_valley.post("/reception/scan/", {"text": code}, headers={"HX-Request": "true"})
    assert "Accepted" in answer.content.decode()
    assert state(code) == "accepted"


def test_a_box_on_its_way_is_not_unpacked(at_pass: Client, at_valley: Client) -> None:
    """It must be opened first, and only where it is going or where it left."""
    codes = drawn(requisition(15), EDTA, site=PASS)
    boxed("B-7", codes)
    for client in (at_pass, at_valley):
        for what in ("missing", "found"):
            answer = client.post(f"/transport/boxes/B-7/{what}/", {"text": codes[0]})
            assert answer.status_code == 422
            assert "is not open here" in answer.content.decode()
    assert state(codes[0]) == "in_transit"
    assert at_valley.post("/transport/boxes/NONE/open/").status_code == 422


def test_a_box_that_came_back_is_opened_where_it_left(at_pass: Client) -> None:
    """The van turned round: the pass opens it, and its tube is received there."""
    (code,) = drawn(requisition(15), EDTA, site=PASS)
    boxed("B-7", [code])
    page = at_pass.get("/transport/boxes/B-7/")
    assert page.context["stands"] == "under_way"
    assert "It came back" in page.content.decode()
    assert at_pass.post("/transport/boxes/B-7/open/").status_code == 302
    assert "Received" in unpack(at_pass, "B-7", code)
    row = SpecimenNow.objects.get(code=code)
    assert (row.site, row.state) == (PASS, "received")


def test_a_box_goes_back_with_other_specimens(at_pass: Client, at_valley: Client) -> None:
    """Opened, packed anew where it is, and its first journey is still on its page."""
    boxed("B-7", drawn(requisition(15), EDTA, site=PASS))
    at_valley.post("/transport/boxes/B-7/open/")
    (code,) = drawn(requisition(2), EDTA)
    assert "How it leaves" in at_valley.get("/transport/boxes/B-7/?pack=1").content.decode()
    assert pack(at_valley, "B-7", code)[0] == "good"
    assert send(at_valley, "B-7", to=PASS).status_code == 302
    page = at_pass.get("/transport/boxes/B-7/")
    assert page.context["stands"] == "arriving"
    assert len(page.context["earlier"]) == 1


def test_a_box_or_a_specimen_in_one_is_found_by_scan(at_pass: Client) -> None:
    """Scanning a tube opens the page of its box."""
    (code,) = drawn(requisition(15), EDTA, site=PASS)
    boxed("B-7", [code], sent=False)
    for text, where in (("B-7", "B-7"), (code, "B-7"), (" NEW-2 ", "NEW-2")):
        answer = at_pass.get("/transport/open/", {"text": text})
        assert answer["Location"] == f"/transport/boxes/{where}/"
    for text in ("", "a/b", "x" * 70):
        assert at_pass.get("/transport/open/", {"text": text})["Location"] == "/transport/"


def test_quality_looks_and_moves_nothing(
    at_pass: Client, signed_in: Callable[[str], Client]
) -> None:
    """Every page opens, no form writes, every write is 403."""
    boxed("B-7", drawn(requisition(15), EDTA, site=PASS))
    boxed("B-8", drawn(requisition(15), EDTA, site=PASS), sent=False)
    quality = signed_in("quality")
    for address in ("/transport/", "/transport/boxes/B-7/", "/transport/boxes/NEW/"):
        page = quality.get(address)
        assert page.status_code == 200
        assert "<button>Read it" not in page.content.decode()
    for what in ("pack", "plan", "send", "open", "found", "missing", "log"):
        assert quality.post(f"/transport/boxes/B-7/{what}/").status_code == 403, what


def test_forty_tubes_are_looked_at_in_few_queries(
    at_pass: Client, django_assert_max_num_queries: Callable
) -> None:
    """The page of a full box does not ask the record tube by tube."""
    codes = drawn(requisition(15), *([EDTA] * 40), site=PASS, ago=timedelta(minutes=10))
    boxed("B-9", codes, sent=False)
    with django_assert_max_num_queries(40):
        page = at_pass.get("/transport/boxes/B-9/")
    assert len(page.context["contents"]) == 40
