"""The worklist of the bench: its order, its words, its picture; who may look, and who is there."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from html import unescape

import pytest
from django.test import Client

from cubital.desk.bench.known import hold, scene_at
from cubital.desk.bench.plot import AHEAD, LEFT, RIGHT, WIDTH, plot, ticks
from cubital.desk.demo.bench_day import bench_fill
from cubital.desk.demo.past import past_fill
from cubital.desk.people.shift import LOCKED, SEEN
from cubital.desk.record import selectors_bench
from cubital.desk.record.models import Patient, PatientCondition, Place, SpecimenNow
from tests.desk.bench import accepted, minutes, noon, spun, valley
from tests.desk.test_safety import INLINE
from tests.desk.way import PASS, VALLEY, boxed, drawn, made, requisition, stored

HX = {"HX-Request": "true"}


@pytest.fixture
def bench(signed_in: Callable[[str], Client]) -> Client:
    """Somebody at the bench of the valley's laboratory."""
    noon()
    return signed_in("bench")


def text(answer: object) -> str:
    """A page without its tags."""
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())))


def codes_in_order(page: str) -> list[str]:
    """The specimens of the worklist, from the top."""
    return re.findall(r'id="line-([^"]+)"', page)


def held_of(code: str) -> object:
    """A specimen as the bench knows it."""
    scene = scene_at(Place.objects.get(code=VALLEY))
    return hold(selectors_bench.specimens_of([code]), scene)[code]


# ---------------------------------------------------------------- the list


def test_what_is_lost_first_stands_on_top(bench: Client) -> None:
    """Potassium unseparated before a blood count, whatever came first."""
    (count,) = accepted(requisition(2), ("edta-3", ["fbc"]), ago=minutes(80))
    (soon,) = accepted(requisition(2), ("gel-5", ["potassium"]), ago=minutes(46))
    (later,) = accepted(requisition(5), ("gel-5", ["tsh"]), ago=minutes(50))
    page = bench.get("/bench/").content.decode()
    assert codes_in_order(page) == [soon, later, count]
    said = text(bench.get("/bench/"))
    assert "Spin by" in said
    assert "or Potassium is lost" in said


def test_every_level_has_a_word_and_a_drawing(bench: Client) -> None:
    """Now, soon, later and lost are told in words; the picture never stands alone."""
    accepted(requisition(2), ("gel-5", ["potassium"]), ago=minutes(46))
    accepted(requisition(5), ("gel-5", ["tsh"]), ago=minutes(70))
    accepted(requisition(5), ("edta-3", ["fbc"]), ago=minutes(70))
    accepted(requisition(9), ("gel-5", ["potassium"]), ago=minutes(600))
    page = bench.get("/bench/").content.decode()
    for level, word in (("now", "Now"), ("soon", "Soon"), ("later", "Later"), ("lost", "Lost")):
        found = re.search(rf'<span class="lv {level}">(.*?)</span>', page, re.DOTALL)
        assert found, level
        assert "<svg" in found[1]
        assert word in found[1]
    assert "Too late: 1" in text(bench.get("/bench/"))


def test_clots_until_is_said_and_drawn(bench: Client) -> None:
    """A fresh serum tube clots; the same stands in the table under the picture."""
    (code,) = accepted(requisition(2), ("gel-5", ["tsh"]), ago=minutes(12))
    until = valley(SpecimenNow.objects.get(code=code).collected_at) + minutes(30)
    page = bench.get("/bench/")
    assert f"Clots until {until:%H:%M}." in text(page)
    assert 'class="piece clotting"' in page.content.decode()
    assert re.search(rf"{re.escape(code)} clots until {until:%H:%M}, to be spun by", text(page))


def test_blood_of_somebody_anticoagulated_clots_longer(bench: Client) -> None:
    """The condition of the patient counts, by the catalogue's own setting."""
    row = requisition(2)
    (usual,) = accepted(row, ("gel-5", ["tsh"]), ago=minutes(20))
    PatientCondition.objects.create(
        patient=Patient.objects.get(number=row.patient.number), code="anticoagulant"
    )
    assert held_of(usual).bench.anticoagulated
    assert "Clots until" in text(bench.get("/bench/"))


def test_what_has_nothing_left_to_do_is_counted_for_the_stores(bench: Client) -> None:
    """Measured to the last test: off the list, and told."""
    (code,) = accepted(requisition(2), ("edta-3", ["fbc"]))
    bench.post(f"/bench/specimens/{code}/measured/", {"test": "fbc"})
    page = bench.get("/bench/")
    assert code not in codes_in_order(page.content.decode())
    assert "1 with nothing left to do" in text(page)


def test_one_that_cannot_be_reckoned_spoils_no_other(bench: Client) -> None:
    """A container that the tables no longer hold is told by its number, the others stand."""
    (odd, good) = accepted(requisition(2), ("gel-5", ["tsh"]), ("edta-3", ["fbc"]))
    SpecimenNow.objects.filter(code=odd).update(container="gone-9")
    page = bench.get("/bench/")
    assert codes_in_order(page.content.decode()) == [good]
    assert "There is no container 'gone-9'" in text(page)


def test_without_a_time_of_collection_it_is_said(bench: Client) -> None:
    """A registered specimen whose time nobody wrote down: its clocks count from the reception."""
    at = datetime.now(UTC) - minutes(20)
    common = {"site": VALLEY, "who": "joren", "at": at}
    stored(
        made("specimen_registered", "specimen:W-1", material="blood", patient="OV-10002",
             container="edta-3", tests=["fbc"], **common),
        made("specimen_accepted", "specimen:W-1", tests=["fbc"], **common),
    )  # fmt: skip
    assert "Nobody wrote down when it was collected" in text(bench.get("/bench/"))
    assert "later than the truth" in text(bench.get("/bench/specimens/W-1/"))


def test_tests_follow_what_the_reception_and_the_bench_say(bench: Client) -> None:
    """Accepted for some, one added, one measured: what is left is the rest."""
    (code,) = drawn(requisition(2), ("gel-5", ["sodium", "potassium", "tsh"]))
    at = datetime.now(UTC) - minutes(9)
    common = {"site": VALLEY, "who": "joren", "at": at}
    subject = f"specimen:{code}"
    stored(
        made("specimen_received", subject, **common),
        made("specimen_accepted", subject, tests=["sodium", "tsh"], **common),
        made("tests_added", subject, tests=["urea"], **common),
        made("tests_done", subject, tests=["sodium"], **common),
    )
    held = held_of(code)
    assert held.tests == ("tsh", "urea")
    assert held.served == ("sodium", "tsh", "urea")


def test_a_portion_takes_its_tests_along_and_gives_them_back(bench: Client) -> None:
    """What a portion serves its parent serves no more, until the portion is thrown away."""
    (code,) = accepted(requisition(2), ("gel-5", ["sodium", "tsh"]), ago=minutes(60))
    spun([code])
    at = datetime.now(UTC) - minutes(3)
    common = {"site": VALLEY, "who": "joren", "at": at}
    stored(made("aliquot_made", "specimen:P-1", parent=code, patient="OV-10002", material="serum",
                volume_ul=400, tests=["tsh"], **common))  # fmt: skip
    assert held_of(code).tests == ("sodium",)
    portion = held_of("P-1")
    assert portion.tests == ("tsh",)
    assert portion.bench.portion
    assert portion.bench.spins == 1
    assert (portion.matrix, portion.root.code) == ("serum", code)
    stored(made("specimen_discarded", "specimen:P-1", **common))
    assert held_of(code).tests == ("sodium", "tsh")


# ---------------------------------------------------------------- the picture


def test_the_picture_lies_within_its_frame(bench: Client) -> None:
    """Bars begin at now and end after two hours, whatever is planned."""
    accepted(requisition(2), ("gel-5", ["potassium"]), ago=minutes(15))
    accepted(requisition(5), ("edta-3", ["fbc"]), ago=minutes(15))
    made_plot = bench.get("/bench/").context["plot"]
    assert len(made_plot.rows) == 2
    for row in made_plot.rows:
        assert row.pieces[0].x == LEFT
        assert row.pieces[-1].x + row.pieces[-1].width == pytest.approx(WIDTH - RIGHT, abs=0.2)
        for one, after in zip(row.pieces, row.pieces[1:], strict=False):
            assert one.x + one.width == pytest.approx(after.x, abs=0.2)


def test_quarters_of_an_hour_are_drawn() -> None:
    """From the next full quarter on, by the clock on the wall."""
    now = datetime(2026, 1, 12, 9, 7, 30, tzinfo=UTC)
    found = ticks(now)
    assert [tick.word for tick in found][:2] == ["09:15", "09:30"]
    assert len(found) == AHEAD // timedelta(minutes=15)
    assert plot([], now).rows == ()


def test_no_page_of_the_bench_holds_a_style_of_its_own(bench: Client) -> None:
    """The strict policy holds for the drawings too."""
    codes = accepted(requisition(2), ("gel-5", ["tsh"]), ("edta-3", ["fbc"]), ago=minutes(60))
    for address in ("/bench/", "/bench/runs/", f"/bench/load/big/?tubes={codes[0]}",
                    f"/bench/specimens/{codes[0]}/", "/bench/storage/"):  # fmt: skip
        answer = bench.get(address)
        assert answer.status_code == 200
        assert not INLINE.search(answer.content.decode()), address


# ---------------------------------------------------------------- who looks, who is there


def test_quality_reads_and_writes_nothing(signed_in: Callable[[str], Client]) -> None:
    """Every page opens for quality, without a button that stores."""
    (code,) = accepted(requisition(2), ago=minutes(60))
    client = signed_in("quality")
    for address in ("/bench/", "/bench/runs/", "/bench/portions/", "/bench/storage/",
                    f"/bench/specimens/{code}/", f"/bench/load/big/?tubes={code}"):  # fmt: skip
        page = client.get(address)
        assert page.status_code == 200, address
        main = page.content.decode().split("<main")[1]
        assert 'method="post"' not in main, address


def test_a_page_that_asks_again_by_itself_does_not_keep_the_screen_open(bench: Client) -> None:
    """The refresh of the worklist is no sign of life: an idle screen locks, and stays locked."""
    bench.get("/bench/")
    session = bench.session
    session[SEEN] -= 40
    session.save()
    seen = bench.session[SEEN]
    bench.get("/bench/", headers={**HX, "X-Unattended": "1"})
    assert bench.session[SEEN] == seen
    bench.get("/bench/", headers=HX)
    assert bench.session[SEEN] > seen
    session = bench.session
    session[SEEN] -= 100_000
    session.save()
    answer = bench.get("/bench/", headers={**HX, "X-Unattended": "1"})
    assert answer["HX-Redirect"].startswith("/locked/")
    assert bench.session[LOCKED]


def test_the_refresh_is_the_inside_alone(bench: Client) -> None:
    """What the page swaps in is no whole page."""
    piece = bench.get("/bench/", headers=HX).content.decode()
    assert piece.lstrip().startswith('<div id="board"')
    assert "<html" not in piece


def test_a_scan_opens_the_specimen_or_the_run(bench: Client) -> None:
    """Small and spaced as scanners and people give it; a number that nobody knows is told."""
    (code,) = accepted(requisition(2))
    answer = bench.get("/bench/open/", {"text": f" {code[:2].lower()} {code[2:]} "})
    assert answer["Location"] == f"/bench/specimens/{code}/"
    run = spun([code])
    assert bench.get("/bench/open/", {"text": run})["Location"] == f"/bench/runs/{run}/"
    unknown = bench.get("/bench/open/", {"text": "XYZ"}, follow=True)
    assert "The record knows no specimen 'XYZ'" in text(unknown)


def test_boxes_on_their_way_are_told_until_somebody_expects_them(bench: Client) -> None:
    """A box without a time is on the page; drawn tubes that did not come yet are counted."""
    codes = drawn(requisition(15), ("gel-3.5", ["tsh"]), site=PASS)
    boxed("BOX-9", codes)
    drawn(requisition(2))
    said = text(bench.get("/bench/"))
    assert "Box BOX-9 with 1 is on its way" in said
    assert "1 drawn here and not at the reception yet" in said


@pytest.fixture
def demo(clinic: datetime) -> datetime:
    """The demo with a few past days and this morning's bench."""
    now = datetime.now(UTC)
    past_fill(now=now, weeks=2)
    bench_fill(now=now)
    return now


def test_the_demo_shows_a_bench_at_work(demo: datetime, signed_in: Callable[[str], Client]) -> None:
    """Something waits, something runs, something is to be divided, stored and thrown away."""
    client = signed_in("bench")
    board = client.get("/bench/").context
    assert len(board["lines"]) >= 8
    assert board["running"]
    assert board["lost_count"] == 0
    assert client.get("/bench/portions/").context["waiting_count"] == 2
    stores = client.get("/bench/storage/").context
    assert stores["stored_count"] > 20
    assert stores["due_count"] > 0
    assert bench_fill(now=demo) is False
