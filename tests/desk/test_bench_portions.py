"""Portions: proposed, made, labelled, scanned; too little; the tree both ways."""

from __future__ import annotations

import io
import re
from collections.abc import Callable

import pypdfium2
import pytest
import zxingcpp
from django.test import Client, RequestFactory

from cubital.accession import is_sound
from cubital.desk.bench.asked import one_or_404
from cubital.desk.bench.labels import label_of
from cubital.desk.record import bench as writes
from cubital.desk.record import selectors_way
from cubital.desk.record.bench import Poured
from cubital.desk.record.models import Person, Place, Requisition, SpecimenNow
from cubital.errors import InputError
from tests.desk.bench import accepted, minutes, noon, spun
from tests.desk.test_bench_board import HX, held_of, text
from tests.desk.way import VALLEY, requisition

ROW = re.compile(r'data-kind="(\w+)" data-code="([^"]*)" data-list="(\w+)"')
SEVERAL = ("tsh", "potassium", "hiv-ag-ab", "protein-electrophoresis")


@pytest.fixture
def bench(signed_in: Callable[[str], Client]) -> Client:
    """Somebody at the bench of the valley's laboratory."""
    noon()
    return signed_in("bench")


@pytest.fixture
def tube(bench: Client) -> str:
    """A spun gel tube with tests for three stations."""
    (code,) = accepted(requisition(5), ("gel-5", SEVERAL), ago=minutes(60))
    spun([code])
    return code


def as_seen_from_the_valley() -> object:
    """A question asked at the valley's laboratory."""
    request = RequestFactory().get("/")
    request.place = Place.objects.get(code=VALLEY)
    return request


def make(client: Client, code: str, **more: str) -> object:
    """Make the portions as they are proposed."""
    context = client.get(f"/bench/specimens/{code}/divide/", more).context
    data = {"signature": context["division"].signature, "primary": context["primary"], **more}
    return client.post(f"/bench/specimens/{code}/divide/make/", data)


def portions(code: str) -> list[SpecimenNow]:
    """The portions of a specimen, by number."""
    return list(SpecimenNow.objects.filter(parent=code).order_by("code"))


# ---------------------------------------------------------------- proposed


def test_the_division_says_how_much_and_why(bench: Client, tube: str) -> None:
    """The yield with its haematocrit, what stays in the tube, each portion with its store."""
    page = bench.get(f"/bench/specimens/{tube}/divide/")
    division = page.context["division"]
    assert len(division.portions) == 2
    (stays,) = division.stays
    assert set(stays.tests) == {"TSH", "K"}
    assert {each.station for each in division.portions} == {
        "Infectious serology", "Immunology and electrophoresis",
    }  # fmt: skip
    said = text(page)
    assert "at a haematocrit of" in said
    assert "refrigerator" in said


def test_what_is_seen_counts_instead_of_what_is_expected(bench: Client, tube: str) -> None:
    """A comma or a point; the page's own piece where it asks by itself."""
    piece = bench.get(f"/bench/specimens/{tube}/divide/", {"seen": "1,4"}, headers=HX)
    assert piece.context["division"].available == "1.4"
    assert "<html" not in piece.content.decode()
    wrong = bench.get(f"/bench/specimens/{tube}/divide/", {"seen": "plenty"})
    assert "'plenty' is no number" in text(wrong)
    less = bench.get(f"/bench/specimens/{tube}/divide/", {"seen": "-1"})
    assert "Less than nothing was seen" in text(less)


def test_nothing_stays_where_nothing_shall(bench: Client, tube: str) -> None:
    """All is poured off when the person says so."""
    page = bench.get(f"/bench/specimens/{tube}/divide/", {"primary": ""})
    assert page.context["division"].stays == ()
    assert len(page.context["division"].portions) == 3
    wrong = bench.get(f"/bench/specimens/{tube}/divide/", {"primary": "nowhere"})
    assert "No test of it is done at 'nowhere'" in text(wrong)


def test_without_a_gel_all_comes_off_the_cells(bench: Client) -> None:
    """A plain tube leaves nothing on the clot."""
    (code,) = accepted(requisition(9), ("plain-4", ["digoxin"]), ago=minutes(60))
    spun([code])
    page = bench.get(f"/bench/specimens/{code}/divide/")
    assert page.context["primary"] == ""
    assert len(page.context["division"].portions) == 1
    assert code in text(bench.get("/bench/portions/"))


def test_what_cannot_be_divided_is_said(bench: Client, tube: str) -> None:
    """Whole blood, nothing left to do, no such specimen."""
    (edta,) = accepted(requisition(5), ("edta-3", ["fbc"]))
    said = text(bench.get(f"/bench/specimens/{edta}/divide/"))
    assert "holds no serum or plasma: it is not divided" in said
    bench.post(f"/bench/specimens/{tube}/measured/", {"test": list(SEVERAL)})
    assert "has no test left" in text(bench.get(f"/bench/specimens/{tube}/divide/"))
    assert bench.get("/bench/specimens/none/divide/").status_code == 404


# ---------------------------------------------------------------- too little


def test_too_little_is_divided_by_priority_and_asked_for_again(bench: Client, tube: str) -> None:
    """What is left out is named with its reason, refused by the rule, and drawn again."""
    page = bench.get(f"/bench/specimens/{tube}/divide/", {"seen": "0.3"})
    short = {name for _, name, _ in page.context["division"].left_out}
    assert short == {"Thyrotropin", "Potassium"}
    answer = bench.post(
        f"/bench/specimens/{tube}/divide/again/",
        {"seen": "0.3", "primary": page.context["primary"]}, follow=True,
    )  # fmt: skip
    assert "Asked for again as" in text(answer)
    refused = [e for e in selectors_way.events_of(f"specimen:{tube}")
               if e.kind == "specimen_refused"][-1]  # fmt: skip
    assert refused.payload["reason"] == "volume-short"
    assert set(refused.payload["tests"]) == {"tsh", "potassium"}
    again = Requisition.objects.get(number__contains="-R")
    assert {test.code for test in again.tests.all()} == {"tsh", "potassium"}
    assert set(held_of(tube).tests) == {"hiv-ag-ab", "protein-electrophoresis"}
    assert tube in text(bench.get("/reception/phone/"))


def test_enough_is_not_asked_for_again(bench: Client, tube: str) -> None:
    """Nobody is pricked for nothing."""
    answer = bench.post(f"/bench/specimens/{tube}/divide/again/", {"primary": "core"})
    assert answer.status_code == 422
    assert "There is enough for every test" in text(answer)


# ---------------------------------------------------------------- made


def test_portions_are_children_with_numbers_tests_and_volumes(bench: Client, tube: str) -> None:
    """Each portion is a specimen of its own; the volumes are those that were typed."""
    assert make(bench, tube, **{"ml-1": "0,35"})["Location"] == (
        f"/bench/specimens/{tube}/portions/"
    )
    made = portions(tube)
    assert len(made) == 2
    assert all(is_sound(each.code) for each in made)
    assert {each.material for each in made} == {"serum"}
    assert 350 in {each.volume_ul for each in made}
    assert SpecimenNow.objects.get(code=tube).state == "aliquoted"
    assert {test for each in made for test in held_of(each.code).tests} == {
        "hiv-ag-ab", "protein-electrophoresis",
    }  # fmt: skip
    assert held_of(tube).tests == ("tsh", "potassium")


def test_a_second_press_makes_no_second_set(bench: Client, tube: str) -> None:
    """Pressed twice, or by two people at once: each test is in one portion."""
    data = {"signature": bench.get(f"/bench/specimens/{tube}/divide/").context[
        "division"].signature, "primary": "core"}  # fmt: skip
    bench.post(f"/bench/specimens/{tube}/divide/make/", data)
    again = bench.post(f"/bench/specimens/{tube}/divide/make/", data)
    assert again.status_code == 422
    assert "The proposal has changed" in text(again)
    with pytest.raises(InputError, match="serves hiv-ag-ab already"):
        writes.portions_make(
            parent=selectors_way.specimen_now(tube), material="serum",
            poured=[Poured(100, ("hiv-ag-ab",))], place=Place.objects.get(code=VALLEY),
            by=Person.objects.get(role="bench"), now=held_of(tube).specimen.changed_at,
            day=held_of(tube).specimen.changed_at.date(),
        )  # fmt: skip
    assert len(portions(tube)) == 2


@pytest.mark.parametrize(("typed", "said"), [("0", "A portion holds nothing"),
                                             ("some", "'some' is no number")])  # fmt: skip
def test_a_portion_holds_something(bench: Client, tube: str, typed: str, said: str) -> None:
    """No volume, no portion, no number spent."""
    answer = make(bench, tube, **{"ml-1": typed})
    assert answer.status_code == 422
    assert said in text(answer)
    assert portions(tube) == []


def test_labels_of_portions_are_printed_together(bench: Client, tube: str) -> None:
    """One PDF, every number on it, and an event for each."""
    make(bench, tube)
    answer = bench.post(f"/bench/specimens/{tube}/portions/labels.pdf")
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Cache-Control"] == "no-store"
    read = {
        code.text
        for page in pypdfium2.PdfDocument(io.BytesIO(answer.content))
        for code in zxingcpp.read_barcodes(page.render(scale=300 / 72).to_pil())
    }
    assert read == {each.code for each in portions(tube)}
    assert all(each.label_printed for each in portions(tube))
    one = one_or_404(as_seen_from_the_valley(), tube)
    label = label_of(one, held_of(portions(tube)[0].code), "joren")
    assert label.container.startswith("serum · 0.")
    assert label.container.endswith("mL · refrigerator")
    assert label.name == "Haldis, Ingra"


def test_no_label_without_a_portion(bench: Client, tube: str) -> None:
    """One sentence instead of an empty sheet."""
    answer = bench.post(f"/bench/specimens/{tube}/portions/labels.pdf", follow=True)
    assert "It has no portion" in text(answer)


def scan(client: Client, tube: str, code: str) -> tuple[str, str]:
    """Scan a portion's label; gives the kind of answer and what is said."""
    answer = client.post(f"/bench/specimens/{tube}/portions/scan/", {"text": code}, headers=HX)
    return ROW.search(answer.content.decode())[1], text(answer)


def test_each_label_is_scanned_on_its_portion(bench: Client, tube: str) -> None:
    """Its own: confirmed, with its store; twice told; the parent and strangers stand out."""
    make(bench, tube)
    one, two = portions(tube)
    kind, said = scan(bench, tube, one.code)
    assert kind == "good"
    assert "Put it into the refrigerator." in said
    assert "1 still to be scanned" in said
    assert scan(bench, tube, one.code)[0] == "twice"
    assert scan(bench, tube, tube)[0] == "stop"
    assert scan(bench, tube, "XYZ")[0] == "stop"
    assert scan(bench, tube, "")[0] == "ask"
    (other,) = accepted(requisition(2), ("gel-5", SEVERAL), ago=minutes(60))
    spun([other])
    make(bench, other)
    kind, said = scan(bench, tube, portions(other)[0].code)
    assert kind == "stop"
    assert f"It comes from {other}." in said
    assert scan(bench, tube, two.code)[1].count("All scanned") == 1
    assert SpecimenNow.objects.filter(parent=tube, label_matched=False).count() == 0


def test_a_portion_that_was_not_scanned_is_on_the_list(bench: Client, tube: str) -> None:
    """Until its label is confirmed it is told on the page of portions and on its own."""
    make(bench, tube)
    (one, _) = portions(tube)
    assert "to be labelled and scanned: 2" in text(bench.get("/bench/portions/"))
    assert "Label it and scan the label on it." in text(bench.get(f"/bench/specimens/{one.code}/"))


# ---------------------------------------------------------------- the tree


def test_the_tree_is_shown_both_ways(bench: Client, tube: str) -> None:
    """From the tube to its portions, from a portion to the tube and the patient, and back."""
    make(bench, tube)
    one, two = portions(tube)
    down = bench.get(f"/bench/specimens/{tube}/").content.decode()
    for code in (one.code, two.code):
        assert f'href="/bench/specimens/{code}/"' in down
    up = bench.get(f"/bench/specimens/{one.code}/")
    assert f"Poured from {tube} , drawn from Haldis, Ingra ." in text(up)
    assert f'href="/bench/specimens/{tube}/"' in up.content.decode()
    assert 'href="/patients/OV-10005/"' in up.content.decode()
    patient = bench.get("/patients/OV-10005/").content.decode()
    for code in (tube, one.code, two.code):
        assert f'href="/bench/specimens/{code}/"' in patient


def test_who_may_not_open_a_specimen_gets_no_link_to_it(
    bench: Client, tube: str, signed_in: Callable[[str], Client]
) -> None:
    """A collector sees what there is of a patient, without links that would be refused."""
    page = signed_in("collector").get("/patients/OV-10005/").content.decode()
    assert tube in page
    assert "/bench/specimens/" not in page


def test_another_places_specimen_is_only_looked_at(bench: Client, tube: str) -> None:
    """Held elsewhere: shown, and nothing is done with it here."""
    SpecimenNow.objects.filter(code=tube).update(site="ostrel-pass")
    page = bench.get(f"/bench/specimens/{tube}/")
    assert "Another place holds it" in text(page)
    assert 'method="post"' not in page.content.decode().split("<main")[1]
    answer = make(bench, tube)
    assert answer.status_code == 422
    assert "is not at this place" in text(answer)
