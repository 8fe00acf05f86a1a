"""Stores by scanner: put away, taken out, thrown away in time, thawed once."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from django.test import Client

from cubital.desk.record import selectors_way
from cubital.desk.record.models import Event, Shelf, SpecimenNow
from tests.desk.bench import accepted, minutes, noon, spun, valley
from tests.desk.test_bench_board import HX, text
from tests.desk.way import VALLEY, made, requisition, stored

ROW = re.compile(r'data-kind="(\w+)" data-code="([^"]*)" data-list="(\w+)"')


@pytest.fixture
def bench(signed_in: Callable[[str], Client]) -> Client:
    """Somebody at the bench of the valley's laboratory."""
    noon()
    return signed_in("bench")


@pytest.fixture
def tube(bench: Client) -> str:
    """A spun gel tube with two tests still to be done."""
    (code,) = accepted(requisition(5), ("gel-5", ["tsh", "sodium"]), ago=minutes(60))
    spun([code])
    return code


def scan(client: Client, code: str, mode: str = "store", shelf: str = "FR-A") -> tuple[str, str]:
    """Scan at the stores; gives the kind of answer and what is said."""
    data = {"text": code, "mode": mode, "shelf": shelf}
    answer = client.post("/bench/storage/scan/", data, headers=HX)
    return ROW.search(answer.content.decode())[1], text(answer)


def row(code: str) -> SpecimenNow:
    """A specimen as it stands."""
    return SpecimenNow.objects.get(code=code)


def kept_since(code: str, days: float, shelf: str = "FR-A", condition: str = "fridge") -> None:
    """Put away so many days ago."""
    stored(made("specimen_stored", f"specimen:{code}", site=VALLEY, who="joren",
                at=datetime.now(UTC) - timedelta(days=days), storage=shelf,
                condition=condition))  # fmt: skip


def kinds(code: str) -> list[str]:
    """The kinds of a specimen's events, in order."""
    return [event.kind for event in selectors_way.events_of(f"specimen:{code}")]


# ---------------------------------------------------------------- put away


def test_a_scan_puts_away_and_says_where(bench: Client, tube: str) -> None:
    """On the chosen shelf, with its condition; a second scan stores nothing twice."""
    kind, said = scan(bench, tube)
    assert (kind, row(tube).place) == ("good", "storage:FR-A")
    assert "On Fridge, shelf A." in said
    event = selectors_way.events_of(f"specimen:{tube}")[-1]
    assert event.payload["condition"] == "fridge"
    before = len(kinds(tube))
    assert scan(bench, tube)[0] == "twice"
    assert len(kinds(tube)) == before
    page = bench.get(f"/bench/specimens/{tube}/")
    assert "Fridge, shelf A, refrigerator" in text(page)
    assert tube in text(bench.get("/bench/storage/shelves/FR-A/"))


def test_a_shelf_is_chosen_by_its_own_code(bench: Client) -> None:
    """Scanned, small or large: what follows goes there."""
    answer = bench.post("/bench/storage/scan/", {"text": "fr-b", "mode": "out"}, headers=HX)
    page = answer.content.decode()
    assert "scan what goes there" in page
    assert re.search(r'value="FR-B" checked', page)
    assert re.search(r'value="store" checked', page)
    plain = bench.post("/bench/storage/scan/", {"text": "FR-B"})
    assert plain["Location"] == "/bench/storage/?mode=store&shelf=FR-B"


def test_without_a_shelf_nothing_is_put_away(bench: Client, tube: str) -> None:
    """One sentence each for no shelf and a shelf that is not there."""
    assert "No shelf" in scan(bench, tube, shelf="")[1]
    assert "There is no shelf 'ZZ' here" in scan(bench, tube, shelf="ZZ")[1]
    assert row(tube).state == "spun"


def test_a_store_that_a_test_must_not_have_asks(bench: Client) -> None:
    """Whole blood for potassium never into the fridge; on its own page with a reason it may."""
    (code,) = accepted(requisition(2), ("li-heparin-4", ["potassium"]), ago=minutes(20))
    kind, said = scan(bench, code)
    assert kind == "ask"
    assert "must not be kept in the refrigerator" in said
    without = bench.post(f"/bench/specimens/{code}/store/", {"shelf": "FR-A"})
    assert without.status_code == 422
    bench.post(f"/bench/specimens/{code}/store/", {"shelf": "FR-A", "why": "the rack is full"})
    assert row(code).state == "stored"
    assert kinds(code)[-2:] == ["override_given", "specimen_stored"]
    assert "Stand where they must not: 1" in text(bench.get("/bench/storage/"))


def test_somebody_may_want_it_kept_longer(bench: Client, tube: str) -> None:
    """A day is written down; it is not on the list before; a day that is over is refused."""
    until = valley().date() + timedelta(days=40)
    bench.post(f"/bench/specimens/{tube}/store/", {"shelf": "FR-A", "until": f"{until}"})
    assert f"{until}" in text(bench.get(f"/bench/specimens/{tube}/"))
    over = bench.post(f"/bench/specimens/{tube}/store/",
                      {"shelf": "FR-B", "until": "2001-01-01"})  # fmt: skip
    assert "2001-01-01 is over" in text(over)


def test_what_is_not_at_hand_is_refused_in_words(bench: Client) -> None:
    """Nothing, nobody's, another place's, in a rotor."""
    assert scan(bench, "")[0] == "ask"
    assert scan(bench, "XYZ")[0] == "stop"
    (code,) = accepted(requisition(2), ("gel-5", ["tsh"]), ago=minutes(60))
    stored(made("spin_begun", "spin:R-9", site=VALLEY, who="joren", at=datetime.now(UTC),
                centrifuge="big", specimens=[code]))  # fmt: skip
    kind, said = scan(bench, code)
    assert kind == "stop"
    assert "it cannot be stored" in said
    SpecimenNow.objects.filter(code=code).update(site="ostrel-pass")
    assert "Another place holds it" in scan(bench, code)[1]
    assert scan(bench, code, mode="juggle")[0] == "stop"


# ---------------------------------------------------------------- out, and thawed


def test_taken_out_it_is_back_at_the_bench(bench: Client, tube: str) -> None:
    """As it was before; what is in no store cannot be taken out."""
    scan(bench, tube)
    assert scan(bench, tube, mode="out")[0] == "good"
    assert (row(tube).state, row(tube).place) == ("spun", "bench")
    assert scan(bench, tube, mode="out")[0] == "twice"


def test_a_second_thaw_asks(bench: Client, tube: str) -> None:
    """Once it may; the second time with a reason, on its own page, and that is an event."""
    scan(bench, tube, shelf="FZ-1")
    assert scan(bench, tube, mode="out")[0] == "good"
    scan(bench, tube, shelf="FZ-1")
    kind, said = scan(bench, tube, mode="out")
    assert kind == "ask"
    assert "was thawed once already" in said
    assert bench.post(f"/bench/specimens/{tube}/take-out/").status_code == 422
    bench.post(f"/bench/specimens/{tube}/take-out/", {"why": "the only serum there is"})
    assert row(tube).state == "spun"
    assert kinds(tube)[-2:] == ["override_given", "specimen_taken_out"]


# ---------------------------------------------------------------- thrown away


def test_what_is_due_today_is_listed_with_its_stream(bench: Client, tube: str) -> None:
    """By the table of how long it is kept and the place's own waste scheme."""
    kept_since(tube, 8)
    (fresh,) = accepted(requisition(2), ("edta-3", ["fbc"]))
    kept_since(fresh, 0.01)
    page = bench.get("/bench/storage/")
    assert page.context["due_count"] == 1
    (group,) = page.context["due"]
    assert group.codes == tube
    assert "red bag, plastic" in text(page)


def test_a_scan_throws_away_what_is_due_and_nothing_else(bench: Client, tube: str) -> None:
    """Due: into its stream, which the event names; not yet: until when it is kept."""
    kept_since(tube, 8)
    kind, said = scan(bench, tube, mode="discard")
    assert kind == "good"
    assert "Into the red bag, plastic." in said
    assert row(tube).state == "discarded"
    assert selectors_way.events_of(f"specimen:{tube}")[-1].payload["stream"] == "plastic"
    assert scan(bench, tube, mode="discard")[0] == "twice"
    (fresh,) = accepted(requisition(2), ("edta-3", ["fbc"]))
    assert "with a reason" in scan(bench, fresh, mode="discard")[1]
    kept_since(fresh, 0.01)
    kind, said = scan(bench, fresh, mode="discard")
    assert kind == "ask"
    assert "It is kept until" in said


def test_a_whole_group_goes_together_or_not_at_all(bench: Client) -> None:
    """One that is not due any more stops the whole."""
    codes = accepted(requisition(2), ("edta-3", ["fbc"]), ("edta-3", ["fbc"]))
    kept_since(codes[0], 8)
    wrong = bench.post("/bench/storage/discard/", {"codes": " ".join(codes)}, follow=True)
    assert f"{codes[1]} is not due any more" in text(wrong)
    assert row(codes[0]).state == "stored"
    kept_since(codes[1], 8)
    done = bench.post("/bench/storage/discard/", {"codes": " ".join(codes)}, follow=True)
    assert "2 specimens into the red bag, plastic." in text(done)
    assert {row(code).state for code in codes} == {"discarded"}
    assert "Nothing is named" in text(bench.post("/bench/storage/discard/", follow=True))


def test_before_its_time_it_needs_a_reason(bench: Client, tube: str) -> None:
    """On its own page; the reason is in the event."""
    without = bench.post(f"/bench/specimens/{tube}/discard/")
    assert without.status_code == 422
    assert f"Why is {tube} thrown away?" in text(without)
    bench.post(f"/bench/specimens/{tube}/discard/", {"why": "the tube broke"})
    assert row(tube).state == "discarded"
    event = selectors_way.events_of(f"specimen:{tube}")[-1]
    assert event.payload == {"stream": "plastic", "note": "the tube broke"}
    assert bench.get(f"/bench/specimens/{tube}/").status_code == 200


def test_a_shelf_that_left_the_list_still_shows_what_stands_there(bench: Client, tube: str) -> None:
    """Stored on a shelf of earlier days: counted, kept by its condition, and found."""
    kept_since(tube, 1, shelf="OLD-7")
    page = bench.get("/bench/storage/")
    assert "1 specimen on shelves that are not on the list" in text(page)
    assert tube in text(bench.get("/bench/storage/shelves/OLD-7/"))
    assert bench.get("/bench/storage/shelves/NONE/").status_code == 404
    assert Shelf.objects.filter(code="OLD-7").count() == 0


def test_measured_tests_are_done(bench: Client, tube: str) -> None:
    """Ticked: off its clocks; nothing ticked or somebody else's test: one sentence."""
    bench.post(f"/bench/specimens/{tube}/measured/", {"test": ["tsh"]})
    assert kinds(tube)[-1] == "tests_done"
    nothing = bench.post(f"/bench/specimens/{tube}/measured/", {"test": ["tsh", "lead"]})
    assert nothing.status_code == 422
    assert "No test is ticked" in text(nothing)


def test_a_haemolysis_index_is_stored_with_what_was_measured(bench: Client, tube: str) -> None:
    """Seen only after the spin, when it is accepted long since: it is on record all the same."""
    slip = bench.post(f"/bench/specimens/{tube}/measured/", {"test": ["tsh"], "haemolysis": "much"})
    assert slip.status_code == 422
    assert kinds(tube)[-1] != "tests_done"
    bench.post(f"/bench/specimens/{tube}/measured/", {"test": ["tsh"], "haemolysis": "1,25"})
    event = Event.objects.filter(kind="tests_done").latest("position")
    assert json.loads(event.payload)["haemolysis_mg_l"] == 1250


def test_the_reception_says_that_a_late_remark_is_not_stored(bench: Client) -> None:
    """An accepted tube that is a little haemolysed: no button, and a word where to write it."""
    (code,) = accepted(requisition(5), ("gel-5", ["bilirubin-total"]), ago=minutes(60))
    late, look = "this remark is not stored", f"/reception/specimens/{code}/look/"
    assert late not in text(bench.post(look, {}, headers=HX))
    assert late in text(bench.post(look, {"haemolysis": "2"}, headers=HX))
