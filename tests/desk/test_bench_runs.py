"""Centrifuge runs at the desk: planned, loaded by scan, begun, ended, broken off, planned anew."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from django.test import Client
from django.utils import timezone

from cubital.bench import Seat, is_even
from cubital.desk.bench.loading import in_order
from cubital.desk.bench.rotor import MIDDLE, drawn
from cubital.desk.record import selectors_bench
from cubital.desk.record.models import (
    BoxExpected,
    BoxNow,
    Centrifuge,
    Place,
    SpecimenNow,
    SpinNow,
)
from tests.desk.bench import accepted, minutes, noon, spun, valley
from tests.desk.test_bench_board import HX, text
from tests.desk.way import PASS, VALLEY, boxed, requisition
from tests.desk.way import drawn as taken

ROW = re.compile(r'data-kind="(\w+)" data-code="([^"]*)" data-list="(\w+)"')


@pytest.fixture
def bench(signed_in: Callable[[str], Client]) -> Client:
    """Somebody at the bench of the valley's laboratory."""
    noon()
    return signed_in("bench")


def ready(*tests: str, ago: float = 45) -> str:
    """A serum tube that has clotted and waits."""
    (code,) = accepted(requisition(2), ("gel-5", tests or ("tsh",)), ago=minutes(ago))
    return code


def load(client: Client, *codes: str, machine: str = "big") -> object:
    """The page where these are loaded."""
    return client.get(f"/bench/load/{machine}/", {"tubes": " ".join(codes)})


def begin(client: Client, *codes: str, machine: str = "big", **more: str) -> object:
    """Begin the run of these tubes as the page shows it."""
    seats = load(client, *codes, machine=machine).context["seats"]
    return client.post(
        f"/bench/load/{machine}/begin/", {"tubes": " ".join(codes), "seats": seats, **more}
    )


def state(code: str) -> str:
    """How a specimen stands."""
    return SpecimenNow.objects.get(code=code).state


# ---------------------------------------------------------------- the plan


def test_the_plan_says_which_run_when_and_how_good_it_is(bench: Client) -> None:
    """Programme, speed and force on this rotor, the seats, the balance tube, and the bounds."""
    one, two, three = ready(), ready(), ready()
    page = bench.get("/bench/runs/")
    (run,) = page.context["runs"]
    assert run.tubes == 3
    holes = run.rotor.taken
    assert {hole.code for hole in holes if hole.code} == {one, two, three}
    assert is_even([hole.place for hole in holes], 24)
    said = text(page)
    assert "3250 turns a minute = 2008 g, 10 min" in said
    assert "no plan has fewer than 0" in said
    assert "No plan is better" in said


def test_opposite_places_and_balance_tubes_are_drawn_and_named(bench: Client) -> None:
    """One tube alone: its balance tube stands across, of its own kind and fill."""
    code = ready()
    (run,) = bench.get("/bench/runs/").context["runs"]
    (tube, balance) = run.rotor.taken
    assert (tube.code, balance.kind) == (code, "balance")
    assert tube.opposite == balance.place
    assert tube.what == balance.what
    assert tube.x + balance.x == pytest.approx(2 * MIDDLE, abs=0.2)
    assert tube.y + balance.y == pytest.approx(2 * MIDDLE, abs=0.2)


def test_a_rotor_of_an_odd_number_names_no_opposite() -> None:
    """Fifteen places have none across."""
    made = drawn([Seat(1, "A", "k"), Seat(6, "B", "k"), Seat(11, "C", "k")], 15, {})
    assert {hole.opposite for hole in made.holes} == {0}
    assert len(made.taken) == 3


def test_a_speed_alone_is_converted_and_the_difference_told(bench: Client) -> None:
    """Where the place works by the speeds of common practice, the published force stands beside."""
    Place.objects.filter(code=VALLEY).update(choices={"spin-programmes": "common_practice"})
    ready()
    (run,) = bench.get("/bench/runs/").context["runs"]
    assert "3500 turns a minute" in run.setting
    assert "2000 g" in run.beside.sentence
    assert "%" in run.beside.sentence


def test_what_never_spins_is_in_no_run(bench: Client) -> None:
    """A blood count is not planned; its tube stays on the worklist."""
    accepted(requisition(2), ("edta-3", ["fbc"]))
    page = bench.get("/bench/runs/")
    assert page.context["runs"] == ()
    assert "Nothing waits for a spin" in text(page)


def test_what_is_lost_whole_is_in_no_run_and_named(bench: Client) -> None:
    """Nothing to save: somebody refuses it or loads it by hand, and the plan says so."""
    code = ready("potassium", ago=600)
    page = bench.get("/bench/runs/")
    assert page.context["runs"] == ()
    assert page.context["given_up"] == (code,)
    assert "In no run: 1" in text(page)


def test_a_test_that_comes_too_late_is_named_on_its_run(bench: Client) -> None:
    """Potassium is gone before the run can end, and the run still saves the other test."""
    code = ready("potassium", "tsh", ago=56)
    (run,) = bench.get("/bench/runs/").context["runs"]
    assert run.lost == (f"Too late for Potassium of {code}.",)


def test_no_machine_is_said_in_a_sentence(bench: Client) -> None:
    """Out of order: the tube is named with what stands in the way."""
    code = ready()
    Centrifuge.objects.filter(place__code=VALLEY, code="big").update(
        out_since=timezone.now(), out_why="a bearing"
    )
    said = text(bench.get("/bench/runs/"))
    assert f"No centrifuge spins {code}." in said
    assert "it wants buckets that swing out" in said
    Centrifuge.objects.filter(place__code=VALLEY).delete()
    assert "No centrifuge is on the list" in text(bench.get("/bench/runs/"))


def test_a_box_that_is_expected_is_planned_for(bench: Client) -> None:
    """Its tubes get a run after it is here, which nobody can load before."""
    codes = taken(requisition(15), ("gel-3.5", ["tsh"]), site=PASS, ago=minutes(40))
    boxed("BOX-9", codes)
    assert bench.get("/bench/runs/").context["runs"] == ()
    at = valley() + minutes(25)
    answer = bench.post("/bench/boxes/BOX-9/expect/", {"at": f"{at:%H:%M}"}, follow=True)
    assert "Box BOX-9 is planned for." in text(answer)
    (run,) = bench.get("/bench/runs/").context["runs"]
    assert run.start >= f"{at:%H:%M}"
    assert run.load == ""
    assert "on its way, expected" in text(bench.get("/bench/"))


def test_a_box_is_expected_after_it_left(bench: Client) -> None:
    """No such box, no such time: one sentence; an early hour means tomorrow's."""
    codes = taken(requisition(15), ("gel-3.5", ["tsh"]), site=PASS)
    boxed("BOX-9", codes)
    wrong = bench.post("/bench/boxes/BOX-9/expect/", {"at": "half past"}, follow=True)
    assert "is no date and time" in text(wrong)
    none = bench.post("/bench/boxes/BOX-1/expect/", {"at": "10:00"}, follow=True)
    assert "No box BOX-1 is on its way here" in text(none)
    sent = BoxNow.objects.get(code="BOX-9").sent_at
    early = valley(sent) - minutes(5)
    bench.post("/bench/boxes/BOX-9/expect/", {"at": f"{early:%H:%M}"})
    assert BoxExpected.objects.get(box="BOX-9").at > sent


def test_what_the_reception_has_not_decided_is_planned_but_not_loaded(bench: Client) -> None:
    """Received: counted with, and not in a run that can be loaded."""
    (code,) = taken(requisition(2), ("gel-5", ["tsh"]), ago=minutes(45))
    bench.post("/reception/scan/", {"text": code}, headers=HX)
    SpecimenNow.objects.filter(code=code).update(state="received")
    (run,) = bench.get("/bench/runs/").context["runs"]
    assert run.load == ""
    assert f"{code} is not accepted yet." in text(load(bench, code))


def test_many_tubes_are_planned_with_the_bound_beside(bench: Client) -> None:
    """Forty of two kinds on one rotor: every one has a place, and the runs their bound."""
    many = [("gel-5", ("tsh",))] * 25 + [("gel-3.5", ("tsh",))] * 15
    accepted(requisition(2), *many, ago=minutes(40))
    page = bench.get("/bench/runs/")
    assert sum(run.tubes for run in page.context["runs"]) == 40
    bound = page.context["bound"]
    assert bound.late_bound <= bound.late
    assert bound.runs_bound <= bound.runs
    assert f"none has fewer than {bound.runs_bound}" in text(page)


# ---------------------------------------------------------------- loading


def test_a_planned_run_is_loaded_and_begun_as_it_was_drawn(bench: Client) -> None:
    """The event names machine, programme, force, seconds, and every place; the tubes spin."""
    one, two = ready(), ready()
    address = bench.get("/bench/runs/").context["runs"][0].load
    page = bench.get(address)
    assert page.status_code == 200
    shown = {hole.code: hole.place for hole in page.context["run"].rotor.taken}
    answer = begin(bench, one, two)
    assert answer["Location"] == "/bench/runs/"
    spin = SpinNow.objects.get(state="running")
    event = selectors_bench.run_by_code(spin.code).event
    said = dict(zip(event.payload["specimens"], event.payload["places"], strict=True))
    assert said == shown
    assert event.payload["programme"] == "serum"
    assert (event.payload["rcf_g"], event.payload["seconds"]) == (2008, 600)
    assert {state(one), state(two)} == {"spinning"}
    assert SpecimenNow.objects.get(code=one).place == "centrifuge:big"


def test_a_gel_tube_is_never_spun_twice(bench: Client) -> None:
    """Refused in words, by scan and on the page, with what to do instead."""
    code = ready()
    spun([code])
    assert "has a gel and was spun: move its clear part to a new tube" in text(load(bench, code))
    answer = bench.post("/bench/load/big/begin/", {"tubes": code, "seats": f"1:{code} 13:"})
    assert answer.status_code == 422
    assert state(code) == "spun"


def test_a_tube_without_a_gel_may_be_spun_again(bench: Client) -> None:
    """Somebody asks for one more spin of a citrate tube: the bench room lets it."""
    (code,) = accepted(requisition(2), ("citrate-2.7-alt2000", ["pt-inr"]), ago=minutes(60))
    spun([code])
    assert load(bench, code).context["run"] is not None
    begin(bench, code)
    assert state(code) == "spinning"


def test_a_blood_count_is_never_spun(bench: Client) -> None:
    """Refused in words when it is scanned into a rotor."""
    (edta,) = accepted(requisition(2), ("edta-3", ["fbc"]))
    answer = bench.post("/bench/load/big/scan/", {"tubes": "", "text": edta}, headers=HX)
    kind, code, where = ROW.search(answer.content.decode()).groups()
    assert (kind, code, where) == ("stop", edta, "look")
    assert "Full blood count is done in whole blood: never spun." in text(answer)
    assert 'id="load-tubes" value=""' in answer.content.decode()


def test_what_still_clots_must_stand(bench: Client) -> None:
    """Too early: the time from which on it may be spun."""
    code = ready(ago=12)
    until = valley(SpecimenNow.objects.get(code=code).collected_at) + minutes(30)
    page = load(bench, code)
    assert page.context["run"] is None
    assert f"{code} must stand until {until:%H:%M} to clot." in text(page)


def test_programmes_that_cannot_be_mixed_are_told(bench: Client) -> None:
    """Serum and platelet-poor plasma do not share a run."""
    serum = ready()
    (citrate,) = accepted(requisition(2), ("citrate-2.7-alt2000", ["pt-inr"]), ago=minutes(60))
    assert "These want different programmes" in text(load(bench, serum, citrate))


def test_more_than_the_rotor_holds_is_told(bench: Client) -> None:
    """Nine tubes on eight places."""
    Centrifuge.objects.filter(place__code=VALLEY, code="big").update(places=8)
    codes = [ready() for _ in range(9)]
    assert "do not fit into one run" in text(load(bench, *codes))


def test_scanning_adds_finds_and_refuses(bench: Client) -> None:
    """A new tube is added, a second scan says its place, a stranger is refused."""
    one, two = ready(), ready()
    added = bench.post("/bench/load/big/scan/", {"tubes": one, "text": two}, headers=HX)
    assert ROW.search(added.content.decode())[1] == "note"
    assert f'id="load-tubes" value="{one} {two}"' in added.content.decode()
    stands = bench.post("/bench/load/big/scan/", {"tubes": f"{one} {two}", "text": two.lower()},
                        headers=HX)  # fmt: skip
    assert ROW.search(stands.content.decode())[1] == "good"
    assert re.search(r"Place \d+\.", text(stands))
    nobody = bench.post("/bench/load/big/scan/", {"tubes": one, "text": "WHAT"}, headers=HX)
    assert ROW.search(nobody.content.decode())[1] == "stop"
    nothing = bench.post("/bench/load/big/scan/", {"tubes": one, "text": " "}, headers=HX)
    assert "Nothing was scanned" in text(nothing)


def test_without_the_pages_own_script_a_scan_goes_on_by_itself(bench: Client) -> None:
    """One scan at a time, back on the page with the tube added."""
    one, two = ready(), ready()
    answer = bench.post("/bench/load/big/scan/", {"tubes": one, "text": two})
    assert answer["Location"].startswith("/bench/load/big/?tubes=")
    assert two in bench.get(answer["Location"]).context["codes"]


def test_seats_that_changed_are_looked_at_again(bench: Client) -> None:
    """What was drawn is what is written down; anything else is refused."""
    code = ready()
    answer = bench.post("/bench/load/big/begin/", {"tubes": code, "seats": f"2:{code} 14:"})
    assert answer.status_code == 422
    assert "The places have changed" in text(answer)
    assert state(code) == "accepted"


def test_a_machine_that_runs_takes_no_second_run(bench: Client) -> None:
    """Two people press at once: one run, and a sentence."""
    one, two = ready(), ready()
    seats = load(bench, two).context["seats"]
    begin(bench, one)
    answer = bench.post("/bench/load/big/begin/", {"tubes": two, "seats": seats})
    assert answer.status_code == 422
    assert "say first that run" in text(answer)
    assert SpinNow.objects.count() == 1


def test_within_a_kind_the_numbers_follow_the_places() -> None:
    """The same seats however the search found them."""
    seats = [Seat(1, "C", "k"), Seat(13, "A", "k"), Seat(2, "B", "l"), Seat(14, "", "l")]
    found = in_order(seats)
    assert [(seat.place, seat.specimen) for seat in found] == [
        (1, "A"), (2, "B"), (13, "C"), (14, ""),
    ]  # fmt: skip


# ---------------------------------------------------------------- on, over, late


def test_a_late_start_plans_the_rest_anew(bench: Client) -> None:
    """What began ten minutes ago ends ten minutes sooner; the next run waits for the machine."""
    first = ready(ago=60)
    at = valley() - minutes(5)
    begin(bench, first, at=f"{at:%H:%M}")
    ready()
    page = bench.get("/bench/runs/")
    (running,), (run,) = page.context["running"], page.context["runs"]
    assert running.start == f"{at:%H:%M}"
    assert run.start >= running.end
    assert run.load == ""
    begun = SpinNow.objects.get().begun_at
    assert f"{valley(begun):%H:%M}" == f"{at:%H:%M}"


def test_a_run_ends_and_its_tubes_are_spun(bench: Client) -> None:
    """Done: spun once, off the plan, with the clock of separated serum."""
    code = ready(ago=60)
    at = valley() - minutes(15)
    begin(bench, code, at=f"{at:%H:%M}")
    run = SpinNow.objects.get()
    answer = bench.post(f"/bench/runs/{run.code}/end/", {"outcome": "done"}, follow=True)
    assert f"Run {run.code} has ended." in text(answer)
    assert (state(code), SpecimenNow.objects.get(code=code).spins) == ("spun", 1)
    page = bench.get("/bench/runs/")
    assert page.context["runs"] == ()
    assert [each["run"].code for each in page.context["over"]] == [run.code]
    assert "test by" in text(bench.get(f"/bench/specimens/{code}/"))


def test_a_run_that_broke_off_is_planned_anew(bench: Client) -> None:
    """Its tubes wait again; without a reason it is not believed."""
    code = ready(ago=45)
    begin(bench, code)
    run = SpinNow.objects.get()
    without = bench.post(f"/bench/runs/{run.code}/end/", {"outcome": "broken_off"})
    assert without.status_code == 422
    assert "Why did it break off?" in text(without)
    bench.post(f"/bench/runs/{run.code}/end/", {"outcome": "broken_off", "note": "power cut"})
    assert state(code) == "accepted"
    assert bench.get("/bench/runs/").context["runs"][0].tubes == 1


def test_a_run_cannot_have_ended_before_its_minutes(bench: Client) -> None:
    """Ten minutes take ten minutes; ended before it began is no time either."""
    code = ready(ago=60)
    at = valley() - minutes(5)
    begin(bench, code, at=f"{at:%H:%M}")
    run = SpinNow.objects.get()
    early = bench.post(f"/bench/runs/{run.code}/end/", {"outcome": "done"})
    assert "It has not run its 10 min yet" in text(early)
    before = at - minutes(3)
    sooner = bench.post(
        f"/bench/runs/{run.code}/end/",
        {"outcome": "broken_off", "note": "door", "at": f"{before:%H:%M}"},
    )
    assert "ended before it began" in text(sooner)
    assert SpinNow.objects.get().state == "running"


def test_a_run_that_should_have_ended_stands_out(bench: Client) -> None:
    """On the worklist and on the plan, in a word."""
    code = ready(ago=90)
    at = valley() - minutes(30)
    begin(bench, code, at=f"{at:%H:%M}")
    assert "should have ended" in text(bench.get("/bench/"))
    assert "should have ended" in text(bench.get("/bench/runs/"))


def test_a_time_that_is_none_is_one_sentence(bench: Client) -> None:
    """Began at a quarter to: refused, nothing stored."""
    code = ready()
    answer = begin(bench, code, at="25:71")
    assert answer.status_code == 422
    assert "is no date and time" in text(answer)
    assert state(code) == "accepted"


def test_a_run_of_another_time_shows_what_the_record_has(bench: Client) -> None:
    """A run whose event names no places is shown without a rotor, and ends all the same."""
    code = ready(ago=90)
    run = spun([code])
    page = bench.get(f"/bench/runs/{run}/")
    assert page.status_code == 200
    assert page.context["run"].rotor is None
    assert code in text(page)
    assert bench.get("/bench/runs/none/").status_code == 404


def test_the_same_minute_is_planned_once(bench: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    """Several tablets that look at the same moment cost one search."""
    from cubital.desk.bench import planning

    ready()
    calls = []
    real = planning.plan_runs
    monkeypatch.setattr(planning, "plan_runs", lambda *a, **k: calls.append(1) or real(*a, **k))
    now = datetime.now(UTC).replace(second=10) + timedelta(minutes=1)
    monkeypatch.setattr("cubital.desk.bench.known.timezone.now", lambda: now)
    bench.get("/bench/runs/")
    bench.get("/bench/runs/")
    bench.get("/bench/")
    assert len(calls) == 1
