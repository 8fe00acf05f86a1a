"""The plan on screen, on paper and as labels; a short sample and an add-on."""

from __future__ import annotations

import re
from collections.abc import Callable

import pypdfium2
import pytest
import zxingcpp
from django.http import HttpResponse
from django.test import Client

from cubital.accession import is_sound
from cubital.desk.record.models import Accession, Event, Patient, Place, Requisition

EVERY_CASE = [f"D{serial:02d}" for serial in range(1, 18)]


def numbered(end: str) -> Requisition:
    """A requisition of the morning."""
    return Requisition.objects.get(number__endswith=end)


def page(client: Client, end: str, rest: str = "", **query: str) -> HttpResponse:
    """A page of a requisition's plan."""
    answer = client.get(f"/requisitions/{numbered(end).number}/{rest}", query)
    assert answer.status_code == 200
    return answer


@pytest.mark.parametrize("end", EVERY_CASE)
def test_every_line_of_the_plan_is_on_the_page(
    signed_in: Callable[[str], Client], end: str
) -> None:
    """Each container, finding, test that is not drawn, the edition and the caution."""
    answer = page(signed_in("collector"), end)
    text = answer.content.decode()
    planned = answer.context["planned"]
    shown = answer.context["page"]
    assert [tube.position for tube in shown.tubes] == [
        each.position for each in planned.plan.containers
    ]
    assert len(shown.urgent) + len(shown.notes) == len(planned.findings)
    assert {name for name, _ in shown.not_drawn} == {
        planned.catalogue.tests[each.test].name for each in planned.plan.not_drawn
    }
    assert planned.plan.edition in text
    assert "replaces no training" in text
    for tube in shown.tubes:
        assert f">{tube.colour}</text>" in text, "the colour stands on the cap in words"


def test_findings_stand_hardest_first(signed_in: Callable[[str], Client]) -> None:
    """A stop before an ask before a note."""
    shown = page(signed_in("collector"), "D11").context["page"]
    kinds = [each.kind for each in (*shown.urgent, *shown.notes)]
    assert kinds == sorted(kinds, key=["stop", "ask", "note"].index)
    assert kinds[0] == "stop"


def test_a_test_asked_for_twice_in_a_morning_is_found(signed_in: Callable[[str], Client]) -> None:
    """Two requisitions of one patient that share tests are asked back about, on each of them."""
    client = signed_in("collector")
    for end in ("D01", "D16"):
        codes = {each.code for each in page(client, end).context["planned"].findings}
        assert "test-twice" in codes


def test_the_arm_of_a_mastectomy_is_shut_on_screen_and_paper(
    signed_in: Callable[[str], Client],
) -> None:
    """The shut side is named with its reason on both."""
    client = signed_in("collector")
    for rest in ("", "sheet/"):
        text = page(client, "D06", rest).content.decode()
        assert re.search(r"Not: [^<]*left", text)


def test_the_sheet_holds_the_rack_and_room_to_sign(signed_in: Callable[[str], Client]) -> None:
    """A4: every container in its row, and lines for who, when and how many attempts."""
    answer = page(signed_in("bench"), "D02", "sheet/")
    text = answer.content.decode()
    for tube in answer.context["page"].tubes:
        assert f"<strong>{tube.container}</strong>" in text
    assert "By, attempts" in text


def test_labels_decode_to_their_numbers_and_stay_the_same(
    signed_in: Callable[[str], Client],
) -> None:
    """A reader finds on the labels what the record gave; printed twice they are the same."""
    client = signed_in("collector")
    row = numbered("D02")
    address = f"/requisitions/{row.number}/labels.pdf"
    first = client.post(address)
    assert first["Content-Type"] == "application/pdf"
    assert first["Cache-Control"] == "no-store"
    given = {each.number for each in Accession.objects.filter(requisition=row)}
    assert all(map(is_sound, given))
    read = set()
    for sheet in pypdfium2.PdfDocument(first.content):
        image = sheet.render(scale=8).to_pil()
        read |= {found.bytes.decode() for found in zxingcpp.read_barcodes(image)}
    assert given <= read
    assert client.post(address).content == first.content


def test_no_label_for_a_cancelled_requisition_or_too_few_identifiers(
    signed_in: Callable[[str], Client],
) -> None:
    """Both are a sentence on the plan, and no number is spent."""
    client = signed_in("collector")
    for end, words in (("D17", "cancelled"), ("D13", "identifiers")):
        answer = client.post(f"/requisitions/{numbered(end).number}/labels.pdf", follow=True)
        assert words in answer.content.decode()
        assert not Accession.objects.filter(requisition=numbered(end)).exists()


def test_labels_with_two_identifiers_once_somebody_said_why(
    signed_in: Callable[[str], Client],
) -> None:
    """The plan asks, one goes on with a reason, and the labels come."""
    client = signed_in("collector")
    number = numbered("D13").number
    said = {"finding": "identifier-missing", "why": "Unconscious, band read by two"}
    client.post(f"/requisitions/{number}/answer/", said)
    answer = client.post(f"/requisitions/{number}/labels.pdf")
    assert answer["Content-Type"] == "application/pdf"
    assert Accession.objects.filter(requisition=numbered("D13")).exists()


def test_what_fits_into_a_short_sample(signed_in: Callable[[str], Client]) -> None:
    """A piece for the page by script, the whole page without; more blood never does less."""
    client = signed_in("bench")
    number = numbered("D02").number
    piece = client.get(
        f"/requisitions/{number}/short/", {"obtained": "3,4"}, headers={"HX-Request": "true"}
    )
    assert b"<html" not in piece.content
    assert b"of 3.4 mL" in piece.content
    done = [
        len(page(client, "D02", "short/", obtained=text).context["short"].not_done)
        for text in ("0", "2", "5", "20")
    ]
    assert done == sorted(done, reverse=True)
    assert done[0] > 0


@pytest.mark.parametrize(
    ("typed", "words"), [("", "Nothing was written"), ("a lot", "no number"), ("-1", "cannot be")]
)
def test_a_volume_that_cannot_be(
    signed_in: Callable[[str], Client], typed: str, words: str
) -> None:
    """One sentence in place of the answer."""
    answer = page(signed_in("bench"), "D02", "short/", obtained=typed)
    assert words in answer.context["short_refused"]


def test_an_add_on_from_fresh_blood_and_from_none(signed_in: Callable[[str], Client]) -> None:
    """Drawn a moment ago there is enough for one test more; with nothing left there is not."""
    client = signed_in("bench")
    at = page(client, "D02").context
    query = {"add_test": "Ferritin", "drawn_date": at["drawn_date"], "drawn_time": at["drawn_time"]}
    places = [str(each["position"]) for each in at["add_tubes"]]
    empty = {f"left-{position}": "0" for position in places}
    none = page(client, "D02", "add-on/", **query, **empty).context["added"]
    assert not none.added
    assert [name for name, _ in none.needs_draw] == ["Ferritin"]
    full = {f"left-{position}": "3" for position in places}
    some = page(client, "D02", "add-on/", **query, **full).context["added"]
    assert [name for name, *_ in some.added] == ["Ferritin"]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"add_test": ""}, "Nothing was written"),
        ({"add_test": "xyzzy"}, "no test or panel"),
        ({"drawn_time": "soon"}, "drawn at"),
        ({"drawn_date": "2999-01-01"}, "in the future"),
        ({"left-1": "much"}, "tube 1"),
        ({"spun-1": "on"}, "Tube 1 is spun"),
        ({"condition": "warm"}, "cannot be kept"),
    ],
)
def test_an_add_on_question_that_cannot_be(
    signed_in: Callable[[str], Client], change: dict[str, str], words: str
) -> None:
    """One sentence, with the place on the form that is meant."""
    client = signed_in("bench")
    at = page(client, "D02").context
    query = {"add_test": "Ferritin", "drawn_date": at["drawn_date"], "drawn_time": at["drawn_time"]}
    answer = page(client, "D02", "add-on/", **{**query, **change})
    assert words in answer.context["add_refused"]


def test_what_cannot_be_planned_has_a_page_that_says_why(
    signed_in: Callable[[str], Client],
) -> None:
    """A test that the catalogue lost since: a sentence on the plan and on the list, no failure."""
    client = signed_in("collector")
    row = numbered("D05")
    row.tests.filter(code="tsh").update(code="gone-since")
    assert "There is no plan." in page(client, "D05").content.decode()
    assert "no plan" in client.get("/").content.decode()
    assert client.get(f"/requisitions/{row.number}/sheet/").status_code == 200
    assert client.get(f"/requisitions/{row.number}/add-on/").status_code == 200
    assert client.get(f"/requisitions/{row.number}/short/?obtained=2").status_code == 200
    answer = client.post(f"/requisitions/{row.number}/labels.pdf", follow=True)
    assert answer.status_code == 200


def test_the_place_decides_how_full_a_tube_draws(signed_in: Callable[[str], Client]) -> None:
    """The same requisition at sea level and at the laboratory's height: another plan."""
    client = signed_in("collector")
    high = page(client, "D02").context["planned"].plan
    Place.objects.update(altitude_m=0)
    low = page(client, "D02").context["planned"].plan
    assert [c.fill_ul for c in high.containers] != [c.fill_ul for c in low.containers]


def test_blood_noted_as_drawn_counts_against_the_next_draw(
    signed_in: Callable[[str], Client],
) -> None:
    """A drawn requisition leaves its volume with the patient."""
    taken = Patient.objects.get(number="OV-10002").prior_draws.get()
    client = signed_in("collector")
    assert page(client, "D02").context["planned"].plan.allowance.taken_24h_ul == taken.volume_ul


def limited(client: Client) -> Requisition:
    """A small child whose blood limit asks before all tests fit."""
    Place.objects.update(keeps_stock=False)
    row = numbered("D04")
    row.patient.prior_draws.all().delete()
    row.patient.weight_g = 3_400
    row.patient.save()
    return row


def test_a_confirmed_order_lets_more_blood_be_drawn_and_is_an_event(
    signed_in: Callable[[str], Client],
) -> None:
    """The plan asks; with a reason the tests fit; who, when and why stay on the page."""
    client = signed_in("collector")
    row = limited(client)
    before = page(client, "D04").context["planned"]
    assert "blood-limit-confirm" in {each.code for each in before.findings}
    address = f"/requisitions/{row.number}/answer/"
    client.post(address, {"finding": "blood-limit-confirm", "why": "  "})
    assert not Event.objects.filter(kind="override_given").exists()
    client.post(address, {"finding": "blood-limit-confirm", "why": "Dr Halvek on the telephone"})
    event = Event.objects.get(kind="override_given")
    assert (event.who, event.subject) == ("mira", f"requisition:{row.number}")
    answer = page(client, "D04")
    after = answer.context["planned"].plan
    assert len(after.not_drawn) < len(before.plan.not_drawn)
    assert "Dr Halvek on the telephone" in answer.content.decode()


def test_an_answered_question_stays_and_is_counted_no_more(
    signed_in: Callable[[str], Client],
) -> None:
    """The finding stands with its answer under it; the list counts what is still to be asked."""
    client = signed_in("collector")
    row = numbered("D06")
    asked = next(f for f in page(client, "D08").context["page"].urgent if f.kind == "ask")
    row = numbered("D08")

    def to_ask() -> int:
        listed = client.get("/").context["listed"]
        return next(e["found"].ask for e in listed if e["row"] == row)

    before = to_ask()
    client.post(f"/requisitions/{row.number}/answer/", {"finding": asked.code, "why": "seen"})
    shown = page(client, "D08").context["page"].urgent
    assert [each.answer.why for each in shown if each.code == asked.code] == ["seen"]
    assert to_ask() < before


def test_a_limit_without_a_weight_is_said_to_be_a_part_of_it(
    signed_in: Callable[[str], Client],
) -> None:
    """Of an unknown weight only the limit in mL is known: screen and paper say so."""
    client, words = signed_in("collector"), "what the weight allows is not known"
    Patient.objects.filter(requisitions=numbered("D13")).update(weight_g=None)
    for rest in ("", "sheet/"):
        assert words in page(client, "D13", rest).content.decode()
        assert words not in page(client, "D02", rest).content.decode()


def test_nobody_goes_past_a_stop(signed_in: Callable[[str], Client]) -> None:
    """Whatever reason is given, and whatever is not asked at all."""
    client = signed_in("manager")
    stop = next(f for f in page(client, "D11").context["page"].urgent if f.kind == "stop")
    for code in (stop.code, "not-asked"):
        client.post(
            f"/requisitions/{numbered('D11').number}/answer/", {"finding": code, "why": "hurry"}
        )
    assert not Event.objects.filter(kind="override_given").exists()
