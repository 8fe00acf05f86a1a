"""One more test from blood that is in the laboratory: asked, answered, taken."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from django.test import Client

from cubital.desk.record import selectors_way
from cubital.desk.record.models import SpecimenNow
from tests.desk.bench import accepted, minutes, noon, spun
from tests.desk.test_bench_board import HX, held_of, text
from tests.desk.way import PASS, VALLEY, made, requisition, stored


@pytest.fixture
def bench(signed_in: Callable[[str], Client]) -> Client:
    """Somebody at the bench of the valley's laboratory."""
    noon()
    return signed_in("bench")


def ask(client: Client, test: str, patient: str = "OV-10002") -> object:
    """Ask for one more test of a patient."""
    return client.get(f"/bench/add-on/{patient}/", {"add_test": test})


def test_a_test_is_answered_from_what_stands_here(bench: Client) -> None:
    """From the gel tube and not from the EDTA one; until when, and why."""
    gel, _ = accepted(requisition(2), ("gel-5", ["sodium"]), ("edta-3", ["fbc"]))
    page = ask(bench, "Ferritin")
    ((name, code, _, until, whys),) = page.context["answer"].added
    assert (name, code) == ("Ferritin", gel)
    assert until > datetime.now(UTC)
    assert whys
    piece = bench.get("/bench/add-on/OV-10002/", {"add_test": "ferritin"}, headers=HX)
    assert "<html" not in piece.content.decode()
    assert "No new needle stick for" in text(piece)


def test_taking_it_writes_it_to_the_specimen(bench: Client) -> None:
    """The event names the tests; the clocks of the specimen count with them from then on."""
    (gel,) = accepted(requisition(2), ("gel-5", ["sodium"]))
    answer = bench.post("/bench/add-on/OV-10002/take/", {"add_test": "ferritin"})
    assert answer["Location"] == f"/bench/specimens/{gel}/"
    event = selectors_way.events_of(f"specimen:{gel}")[-1]
    assert (event.kind, event.payload["tests"]) == ("tests_added", ["ferritin"])
    assert held_of(gel).tests == ("sodium", "ferritin")
    assert "Ferritin" in text(bench.get(f"/bench/specimens/{gel}/"))


def test_a_panel_is_opened(bench: Client) -> None:
    """All its tests, each where it can be served."""
    (gel,) = accepted(requisition(2), ("gel-5", ["sodium"]))
    page = ask(bench, "liver")
    assert len(page.context["answer"].added) > 3
    assert {code for _, code, _, _, _ in page.context["answer"].added} == {gel}


def test_what_is_left_counts(bench: Client) -> None:
    """A tube with next to nothing in it serves no more."""
    accepted(requisition(2), ("gel-5", ["sodium"]), volume_ul=900, fill="short")
    page = ask(bench, "ferritin")
    assert page.context["answer"].added == ()
    assert "µL left" in text(page)
    answer = bench.post("/bench/add-on/OV-10002/take/", {"add_test": "ferritin"})
    assert answer.status_code == 422
    assert "None of them can be added" in text(answer)


def test_how_old_it_is_counts(bench: Client) -> None:
    """Ten hours unseparated are too long."""
    accepted(requisition(2), ("gel-5", ["sodium"]), ago=minutes(60 * 30))
    page = ask(bench, "ferritin")
    assert page.context["answer"].added == ()
    assert "and it keeps" in text(page)


def test_a_portion_serves_too(bench: Client) -> None:
    """Serum in the fridge with room left: from it, once the first tube is gone."""
    (gel,) = accepted(requisition(2), ("gel-5", ["sodium", "tsh"]), ago=minutes(60))
    spun([gel])
    at = datetime.now(UTC) - minutes(3)
    common = {"site": VALLEY, "who": "joren", "at": at}
    stored(
        made("aliquot_made", "specimen:P-1", parent=gel, patient="OV-10002", material="serum",
             volume_ul=1500, tests=["tsh"], **common),
        made("specimen_stored", "specimen:P-1", storage="FR-A", condition="fridge", **common),
        made("specimen_discarded", f"specimen:{gel}", stream="plastic", **common),
    )  # fmt: skip
    ((_, code, tube, _, _),) = ask(bench, "ferritin").context["answer"].added
    assert code == "P-1"
    assert tube.name.startswith("portion of serum, 1.5 mL")


def test_a_stored_tube_says_the_sooner_of_its_test_and_its_store(bench: Client) -> None:
    """Put away until tomorrow, a test that would keep for days is promised until tomorrow."""
    (gel,) = accepted(requisition(2), ("gel-5", ["sodium"]), ago=minutes(60))
    spun([gel])
    ((_, _, _, alone, _),) = ask(bench, "ferritin").context["answer"].added
    until = datetime.now(UTC) + minutes(60 * 5)
    stored(
        made("specimen_stored", f"specimen:{gel}", storage="FR-A", condition="fridge",
             until=until.isoformat(), site=VALLEY, who="joren", at=datetime.now(UTC)),
    )  # fmt: skip
    ((_, _, _, use_by, whys),) = ask(bench, "ferritin").context["answer"].added
    assert use_by == until < alone
    assert any("thrown away before" in each.sentence for each in whys)


def test_what_another_place_holds_is_not_here(bench: Client) -> None:
    """Blood at the pass is not in the valley's laboratory."""
    accepted(requisition(15), ("gel-5", ["sodium"]), site=PASS)
    page = ask(bench, "ferritin", "OV-10015")
    assert page.context["answer"].on_hand == 0
    assert "no specimen is on hand" in text(page)


def test_a_demand_on_the_draw_is_asked_about(bench: Client) -> None:
    """Potassium wants no fist clenching: somebody says what they found out."""
    (tube,) = accepted(requisition(2), ("gel-5", ["sodium"]), ago=minutes(20))
    answer = ask(bench, "potassium").context["answer"]
    assert answer.must_say
    assert "drawn without fist clenching" in answer.findings[0].sentence
    without = bench.post("/bench/add-on/OV-10002/take/", {"add_test": "potassium"})
    assert without.status_code == 422
    assert "A rule asks" in text(without)
    bench.post("/bench/add-on/OV-10002/take/", {"add_test": "potassium", "why": "Mira: no fist"})
    assert held_of(tube).tests == ("sodium", "potassium")
    kinds = [e.kind for e in selectors_way.events_of(f"specimen:{tube}")]
    assert kinds[-2:] == ["override_given", "tests_added"]


@pytest.mark.parametrize(("typed", "said"), [("", "Nothing was written"),
                                             ("xyzzy", "no test or panel is called")])  # fmt: skip
def test_bad_input_is_one_sentence(bench: Client, typed: str, said: str) -> None:
    """Nothing typed, nothing called so."""
    accepted(requisition(2))
    piece = bench.get("/bench/add-on/OV-10002/", {"add_test": typed}, headers=HX)
    assert said in text(piece)
    assert said in text(bench.post("/bench/add-on/OV-10002/take/", {"add_test": typed}))
    assert bench.get("/bench/add-on/NOBODY/", {"add_test": "tsh"}).status_code == 404


def test_everybody_asks_and_the_bench_takes(signed_in: Callable[[str], Client]) -> None:
    """On the patient's page the question stands for every role, the button for the bench."""
    (gel,) = accepted(requisition(2), ("gel-5", ["sodium"]))
    for role in ("collector", "quality", "manager", "bench"):
        client = signed_in(role)
        assert "One more test from the blood that is here?" in text(
            client.get("/patients/OV-10002/")
        )
        said = text(ask(client, "ferritin"))
        assert "No new needle stick for" in said
        assert ("Add 1 test" in said) == (role == "bench")
    assert SpecimenNow.objects.get(code=gel).state == "accepted"
