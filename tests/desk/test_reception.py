"""The reception: a tray by scanner, one specimen, refused and asked for again, who is told."""

from __future__ import annotations

import logging
import re
from collections.abc import Callable
from datetime import date, datetime, timedelta

import pytest
from django.test import Client

from cubital.accession import accession_number
from cubital.custody import Event
from cubital.desk.record import receptions, selectors_way
from cubital.desk.record.models import (
    Accession,
    Looked,
    Person,
    Place,
    RefusedEvent,
    Requisition,
    SpecimenNow,
    Stranger,
)
from cubital.desk.record.models import Event as EventRow
from cubital.desk.record.requisitions import accessions_give
from tests.desk.way import PASS, VALLEY, boxed, drawn, requisition

ROW = re.compile(r'data-kind="(\w+)" data-code="([^"]*)" data-list="(\w+)"')


@pytest.fixture
def bench(signed_in: Callable[[str], Client]) -> Client:
    """Somebody at the bench of the valley's laboratory."""
    return signed_in("bench")


def scan(client: Client, text: str) -> tuple[str, str, str]:
    """Scan as the page does; gives the kind of answer, its list, and what is said."""
    answer = client.post("/reception/scan/", {"text": text}, headers={"HX-Request": "true"})
    assert answer.status_code == 200
    found = ROW.search(answer.content.decode())
    assert found, answer.content
    return found[1], found[3], re.sub(r"<[^>]+>", " ", answer.content.decode())


def state(code: str) -> str:
    """How a specimen stands."""
    return SpecimenNow.objects.get(code=code).state


def kinds(code: str) -> list[str]:
    """The kinds of a specimen's events, in order."""
    return [event.kind for event in selectors_way.events_of(f"specimen:{code}")]


def last(code: str, kind: str) -> Event:
    """The last event of a kind."""
    return [e for e in selectors_way.events_of(f"specimen:{code}") if e.kind == kind][-1]


# ---------------------------------------------------------------- the tray


def test_a_good_tube_is_received_and_accepted_with_one_scan(bench: Client) -> None:
    """Two events, no question; the line says whose it is and how old."""
    (code,) = drawn(requisition(2))
    kind, where, said = scan(bench, code)
    assert (kind, where) == ("good", "done")
    assert "Drumlin, Aske" in said
    assert "30 min" in said
    assert state(code) == "accepted"
    assert kinds(code)[-2:] == ["specimen_received", "specimen_accepted"]
    assert last(code, "specimen_accepted").payload["tests"] == ["sodium", "potassium", "creatinine"]


def test_a_scanner_may_write_it_small_and_spaced(bench: Client) -> None:
    """A number is read as people and scanners give it."""
    (code,) = drawn(requisition(2))
    kind, _, _ = scan(bench, f"{code[:2].lower()} {code[2:8]} {code[8:]}")
    assert kind == "good"


def test_a_double_scan_is_told_and_stored_once(bench: Client) -> None:
    """The second scan of the same tube adds no event."""
    (code,) = drawn(requisition(2))
    scan(bench, code)
    before = EventRow.objects.count(), RefusedEvent.objects.count()
    kind, where, said = scan(bench, code)
    assert (kind, where) == ("twice", "done")
    assert "Received already" in said
    assert (EventRow.objects.count(), RefusedEvent.objects.count()) == before


def test_two_receivers_with_one_tube_store_it_once(bench: Client, clinic: datetime) -> None:
    """Both read that it is on its way; the record takes one, and the other is told."""
    (code,) = drawn(requisition(2))
    stale = selectors_way.specimen_now(code)
    scan(bench, code)
    answers = receptions.specimen_arrive(
        specimen=stale, accept=None, place=Place.objects.get(code=VALLEY),
        by=Person.objects.get(role="bench"), now=clinic + timedelta(seconds=1),
    )  # fmt: skip
    assert [str(a.verdict) for a in answers] == ["refused"]
    assert kinds(code).count("specimen_received") == 1


def test_a_remark_is_accepted_and_said(bench: Client) -> None:
    """Soon too old: accepted at once, with the rule's code in the event."""
    (code,) = drawn(requisition(2), ("edta-3", ["fbc"]), ago=timedelta(hours=10))
    kind, where, said = scan(bench, code)
    assert (kind, where) == ("note", "done")
    assert "Hurry" in said
    assert "soon-too-old" in last(code, "specimen_accepted").payload["remarks"]


def test_what_must_be_refused_stands_out_and_stops_nothing(bench: Client) -> None:
    """A short citrate tube is received, not accepted, and the next tube goes through."""
    short, good = (
        drawn(requisition(2), ("citrate-2.7", ["pt-inr"]), fill="short", volume_ul=1200)[0],
        drawn(requisition(2))[0],
    )
    kind, where, said = scan(bench, short)
    assert (kind, where) == ("stop", "look")
    assert "Filled to 44 %" in said
    assert f"/reception/specimens/{short}/" in bench.get("/reception/").content.decode()
    assert state(short) == "received"
    assert scan(bench, good)[0] == "good"


def test_scanned_again_it_still_waits(bench: Client) -> None:
    """What waits for a decision says so, and is not received twice."""
    (code,) = drawn(requisition(2), ("citrate-2.7", ["pt-inr"]), fill="short", volume_ul=1200)
    scan(bench, code)
    kind, _, said = scan(bench, code)
    assert kind == "stop"
    assert "still to be decided" in said
    assert kinds(code).count("specimen_received") == 1


def test_a_misread_number_is_no_unknown_specimen(bench: Client) -> None:
    """One wrong character: scan again; nothing is kept."""
    (code,) = drawn(requisition(2))
    wrong = code[:8] + ("1" if code[8] != "1" else "2") + code[9:]
    kind, where, said = scan(bench, wrong)
    assert (kind, where) == ("stop", "look")
    assert "check character" in said
    assert not Stranger.objects.exists()


def test_an_unknown_number_is_kept_once_and_asked_about(bench: Client) -> None:
    """A sound number that nobody gave: kept until somebody says what became of it."""
    number = accession_number("ZZ", date(2026, 1, 2), 7)
    assert scan(bench, number)[0] == "ask"
    assert scan(bench, number)[0] == "ask"
    row = Stranger.objects.get()
    assert number in bench.get("/reception/").content.decode()
    page = bench.get(f"/reception/unknown/{row.pk}/").content.decode()
    assert "What became of it" in page
    assert bench.post(f"/reception/unknown/{row.pk}/settle/", {"how": "?"}).status_code == 422
    answer = bench.post(
        f"/reception/unknown/{row.pk}/settle/", {"how": "sent_back", "note": "To Surgery 2."}
    )
    assert answer.status_code == 302
    row.refresh_from_db()
    assert (row.how, row.note, row.settled_by.role) == ("sent_back", "To Surgery 2.", "bench")
    again = bench.post(f"/reception/unknown/{row.pk}/settle/", {"how": "known"})
    assert "settled already" in again.content.decode()


def test_a_label_of_which_no_chair_has_told_is_kept(bench: Client, clinic: datetime) -> None:
    """The chair's events may come later: nothing is registered over them."""
    row = requisition(1)
    number = accessions_give(requisition=row, containers=[(1, "edta-3")], day=clinic.date())[1]
    kind, _, said = scan(bench, number)
    assert kind == "ask"
    assert row.number in said
    assert not SpecimenNow.objects.filter(code=number).exists()


def test_once_the_chair_has_told_it_is_received_and_settled(
    bench: Client, clinic: datetime
) -> None:
    """The same scan later finds the specimen, and the question is answered."""
    (code,) = drawn(requisition(2))
    by = Person.objects.get(role="bench")
    place = Place.objects.get(code=VALLEY)
    receptions.stranger_keep(text=code, why="not told of", place=place, by=by, now=clinic)
    assert scan(bench, code)[0] == "good"
    assert Stranger.objects.get().how == "known"


def test_a_tube_that_the_chair_has_not_filled_is_asked_about(bench: Client) -> None:
    """Scanned at the chair, and nothing said of its fill."""
    (code,) = drawn(requisition(2), fill="none", ended=False)
    kind, _, said = scan(bench, code)
    assert kind == "ask"
    assert "no blood came" in said


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("", "Nothing was scanned"),
        ("OV-10001", "patient"),
        ("REQUISITION", "requisition"),
        ("BOX", "box"),
        ("<script>alert(1)</script>", "not known here"),
        ("\x00\x1b" * 40, "Nothing was scanned"),
    ],
)
def test_whatever_else_is_scanned_is_told_apart(bench: Client, text: str, part: str) -> None:
    """A patient, a requisition, a box, nothing at all, or something hostile."""
    boxed("BOX", drawn(requisition(15), site=PASS))
    text = requisition(1).number if text == "REQUISITION" else text
    answer = bench.post("/reception/scan/", {"text": text}, headers={"HX-Request": "true"})
    said = answer.content.decode()
    assert part in said
    assert "<script>" not in said


def test_another_places_specimen_is_kept_and_taken_over_with_a_reason(bench: Client) -> None:
    """Held at the pass and not sent: asked about, then received as unlisted."""
    (code,) = drawn(requisition(15), site=PASS)
    kind, _, said = scan(bench, code)
    assert kind == "ask"
    assert "Ostrel pass post holds it" in said
    assert state(code) == "labelled"
    assert Stranger.objects.get().text == code
    assert bench.post(f"/reception/specimens/{code}/here/", {"why": " "}).status_code == 422
    answer = bench.post(f"/reception/specimens/{code}/here/", {"why": "The driver had it."})
    assert answer.status_code == 302
    row = SpecimenNow.objects.get(code=code)
    assert (row.site, row.state) == (VALLEY, "accepted")
    assert last(code, "specimen_received").payload == {
        "unlisted": True, "note": "The driver had it.",
    }  # fmt: skip
    assert Stranger.objects.get().how == "known"


def test_a_tube_out_of_a_box_that_never_left_is_taken_out_of_it(bench: Client) -> None:
    """Carried over by hand: the box lets it go, then it is received."""
    codes = drawn(requisition(2), ("gel-3.5", ["sodium"]), ("edta-3", ["fbc"]))
    boxed("B-1", codes, site=VALLEY, to=PASS, sent=False)
    kind, _, said = scan(bench, codes[0])
    assert kind == "good"
    assert "had not left" in said
    assert selectors_way.box_now("B-1").specimens == (codes[1],)


def test_without_the_pages_script_one_scan_is_one_page(bench: Client) -> None:
    """A plain form goes back to the tray with the answer on it."""
    (code,) = drawn(requisition(2))
    answer = bench.post("/reception/scan/", {"text": code}, follow=True)
    assert f"{code}: Accepted." in answer.content.decode()


def test_a_collection_still_to_come_is_received_and_asked_about(bench: Client) -> None:
    """A chair whose clock runs ahead: the tube is here all the same, and a person looks."""
    (code,) = drawn(requisition(2), ago=timedelta(seconds=-90))
    kind, _, said = scan(bench, code)
    assert kind == "ask"
    assert "still to come" in said
    assert state(code) == "received"


# ---------------------------------------------------------------- one specimen


def test_the_page_shows_specimen_requisition_and_way(bench: Client) -> None:
    """Number, age, state, who asked, and every step."""
    (code,) = drawn(requisition(2))
    page = bench.get(f"/reception/specimens/{code}/").content.decode()
    for part in (code, "check character holds", "Drumlin, Aske", "Surgery 2", "Its label was"):
        assert part in page, part
    assert bench.get("/reception/specimens/NONE/").status_code == 404


def test_what_is_tapped_changes_the_verdict_and_stores_nothing(bench: Client) -> None:
    """Strong haemolysis: potassium is refused, sodium is not; no event is written."""
    (code,) = drawn(requisition(2))
    scan_free = EventRow.objects.count()
    answer = bench.post(
        f"/reception/specimens/{code}/look/",
        {"haemolysis": "6", "labels": "one", "identity": "agrees"},
        headers={"HX-Request": "true"},
    )
    verdict = {each.code: each.kind for each in answer.context["tests"]}
    assert verdict == {"sodium": "good", "potassium": "stop", "creatinine": "good"}
    assert EventRow.objects.count() == scan_free
    wrong = bench.post(
        f"/reception/specimens/{code}/look/", {"haemolysis": "much"}, headers={"HX-Request": "true"}
    )
    assert "is no number" in wrong.content.decode()


def received(bench: Client, row: Requisition, *tubes: tuple[str, list[str]]) -> str:
    """A tube that lies at the reception undecided: two labels are on it."""
    (code,) = drawn(row, *tubes)
    by, place = Person.objects.get(role="bench"), Place.objects.get(code=VALLEY)
    receptions.specimen_arrive(
        specimen=selectors_way.specimen_now(code), accept=None, place=place, by=by,
        now=selectors_way.specimen_now(code).changed_at + timedelta(minutes=30),
    )  # fmt: skip
    return code


def decide(client: Client, code: str, **said: str):
    """Press the one button."""
    return client.post(f"/reception/specimens/{code}/decide/", said)


def test_refused_in_part_the_rest_is_done_and_asked_for_again(bench: Client) -> None:
    """Potassium refused for haemolysis: recollection on the collector's list, the rest accepted."""
    code = received(bench, requisition(2), ("gel-3.5", ["sodium", "potassium"]))
    first = requisition(2)
    answer = decide(bench, code, haemolysis="6", ask_again="on")
    assert answer.status_code == 302, answer.content
    assert state(code) == "accepted"
    assert kinds(code)[-3:] == ["specimen_refused", "recollection_asked", "specimen_accepted"]
    refused = last(code, "specimen_refused").payload
    assert (refused["reason"], refused["tests"]) == ("haemolysed", ["potassium"])
    assert refused["haemolysis_mg_l"] == 6000
    assert "haemolysis index 6 g/L" in refused["note"]
    accepted = last(code, "specimen_accepted").payload
    assert (accepted["tests"], accepted["decided_by"]) == (["sodium"], "joren")
    again = Requisition.objects.get(number=f"{first.number}-R1")
    assert [t.code for t in again.tests.all()] == ["potassium"]
    assert again.remarks.startswith(f"Recollection of {first.number}: ")
    assert (again.state, again.patient_id) == ("waiting", first.patient_id)
    assert Looked.objects.get(specimen=code).seen == {"haemolysis": "6"}
    plan = bench.get(f"/requisitions/{again.number}/")
    assert plan.context["page"].tubes


def test_a_whole_refusal_names_no_tests_and_is_counted_as_whole(bench: Client) -> None:
    """Leaking: refused as a whole, state refused, and no specimen_accepted."""
    code = received(bench, requisition(2), ("edta-3", ["fbc"]))
    decide(bench, code, leaking="yes")
    assert state(code) == "refused"
    payload = last(code, "specimen_refused").payload
    assert payload["reason"] == "leaking"
    assert "tests" not in payload
    assert "recollection_asked" not in kinds(code)
    assert scan(bench, code)[0] == "stop"


def test_sent_twice_a_decision_is_stored_once(bench: Client) -> None:
    """A second press finds it refused already: no second recollection."""
    first = requisition(2)
    code = received(bench, first, ("gel-3.5", ["potassium"]))
    assert decide(bench, code, leaking="yes", ask_again="on").status_code == 302
    second = decide(bench, code, leaking="yes", ask_again="on")
    assert second.status_code == 422
    assert "is refused" in second.content.decode()
    assert bench.get(f"/reception/specimens/{code}/").context["button"] == ""
    assert Requisition.objects.filter(number__startswith=f"{first.number}-R").count() == 1


def test_refused_in_part_and_sent_twice_it_is_asked_for_once(bench: Client) -> None:
    """The second press changes nothing; a later fault asks only for what is refused by it."""
    first = requisition(2)
    code = received(bench, first, ("gel-3.5", ["creatinine", "potassium"]))
    assert decide(bench, code, haemolysis="6", ask_again="on").status_code == 302
    assert bench.get(f"/reception/specimens/{code}/").context["button"] == ""
    second = decide(bench, code, haemolysis="6", ask_again="on")
    assert second.status_code == 422
    assert "decided already" in second.content.decode()
    assert Requisition.objects.filter(number__startswith=f"{first.number}-R").count() == 1
    assert decide(bench, code, haemolysis="6", leaking="yes", ask_again="on").status_code == 302
    later = Requisition.objects.get(number=f"{first.number}-R1")
    assert [test.code for test in later.tests.all()] == ["potassium", "creatinine"]
    assert state(code) == "refused"


def test_an_ask_wants_a_decision_a_person_and_a_reason(bench: Client) -> None:
    """Two labels: each missing piece is one sentence; then override and acceptance are events."""
    code = received(bench, requisition(2), ("edta-3", ["fbc"]))
    seen = {"labels": "two"}
    for said, part in (
        ({}, "not decided"),
        ({"test-fbc": "done"}, "Who decides"),
        ({"test-fbc": "done", "decided_by": "nobody"}, "Nobody of that name"),
        ({"test-fbc": "done", "decided_by": "joren"}, "Write why"),
    ):
        answer = decide(bench, code, **seen, **said)
        assert answer.status_code == 422
        assert part in answer.content.decode(), part
    assert kinds(code)[-1] == "specimen_received"
    decide(bench, code, **seen, **{"test-fbc": "done", "decided_by": "joren", "why": "Both hers."})
    assert kinds(code)[-2:] == ["override_given", "specimen_accepted"]
    assert last(code, "override_given").payload == {"finding": "label-two", "reason": "Both hers."}
    assert last(code, "specimen_accepted").payload["decided_by"] == "joren"


def test_a_newborns_tube_is_never_binned_by_a_rule(bench: Client) -> None:
    """Clotted, five days old: a named person decides, and may have it done."""
    code = received(bench, requisition(3), ("edta-3", ["fbc"]))
    page = bench.post(f"/reception/specimens/{code}/look/", {"clot": "yes"},
                      headers={"HX-Request": "true"})  # fmt: skip
    assert [t.kind for t in page.context["tests"]] == ["ask"]
    assert "cannot be replaced" in page.content.decode()
    decide(bench, code, clot="yes", **{"test-fbc": "done", "decided_by": "joren", "why": "Tiny."})
    assert state(code) == "accepted"
    assert last(code, "override_given").payload["finding"] == "clotted"


def test_a_stop_is_never_gone_past(bench: Client) -> None:
    """Whatever the form sends, a refused test is not done."""
    code = received(bench, requisition(2), ("edta-3", ["fbc"]))
    decide(bench, code, clot="yes", **{"test-fbc": "done", "decided_by": "joren", "why": "Please."})
    assert state(code) == "refused"
    assert "override_given" not in kinds(code)


def test_an_accepted_specimen_may_be_looked_at_again(bench: Client) -> None:
    """After the spin it is red: refused for potassium; nothing wrong changes nothing."""
    (code,) = drawn(requisition(2), ("gel-3.5", ["sodium", "potassium"]))
    scan(bench, code)
    assert decide(bench, code).status_code == 422
    assert decide(bench, code, haemolysis="6").status_code == 302
    assert last(code, "specimen_refused").payload["tests"] == ["potassium"]
    assert state(code) == "accepted"


def test_a_specimen_on_its_way_is_not_decided_on(bench: Client) -> None:
    """It must be received first."""
    (code,) = drawn(requisition(2))
    answer = decide(bench, code, leaking="yes")
    assert answer.status_code == 422
    assert "Receive it here first" in answer.content.decode()


# ---------------------------------------------------------------- who is told


def test_every_refusal_is_to_be_phoned_until_somebody_was_told(bench: Client) -> None:
    """One requester, two specimens, one call; then it is on the list of those told."""
    codes = [received(bench, requisition(2), ("edta-3", ["fbc"])) for _ in range(2)]
    for code in codes:
        decide(bench, code, leaking="yes")
    calls = bench.get("/reception/phone/").context["calls"]
    assert [(c.requester, c.ward, len(c.lines)) for c in calls] == [("Dr Halvek", "Surgery 2", 2)]
    assert calls[0].lines[0].rule == "Leaking or broken"
    answer = bench.post("/reception/phone/told/", {"code": codes, "told": "", "how": "phone"})
    assert answer.status_code == 422
    assert "Who was told" in answer.content.decode()
    bench.post("/reception/phone/told/", {"code": codes, "told": "Sister Ilva", "how": "phone"})
    page = bench.get("/reception/phone/")
    assert page.context["calls"] == []
    assert {each["told"] for each in page.context["done"]} == {"Sister Ilva"}
    payload = last(codes[0], "requester_told").payload
    assert payload == {"told": "Sister Ilva", "how": "phone"}


def test_refused_once_more_it_is_to_be_phoned_once_more(bench: Client) -> None:
    """Telling of one refusal does not count for a later one."""
    (code,) = drawn(requisition(2), ("gel-3.5", ["sodium", "potassium", "creatinine"]))
    scan(bench, code)
    decide(bench, code, haemolysis="6")
    bench.post("/reception/phone/told/", {"code": [code], "told": "Sister Ilva"})
    assert bench.get("/reception/phone/").context["calls"] == []
    decide(bench, code, leaking="yes")
    assert len(bench.get("/reception/phone/").context["calls"]) == 1


# ---------------------------------------------------------------- other specimens


def test_what_was_typed_about_a_call_stays(bench: Client) -> None:
    """Nobody was named: the page says so, and keeps what they said and how they were told."""
    code = received(bench, requisition(2))
    decide(bench, code, leaking="yes", ask_again="on")
    said = {"code": code, "told": " ", "how": "message", "note": "Will send somebody."}
    answer = bench.post("/reception/phone/told/", said)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "Who was told?" in page
    assert 'value="Will send somebody."' in page
    assert '<option value="message" selected>' in page


URINE = {"material": "urine", "patient": "OV-10001", "test": ["urine-culture"]}


def collected(hours: float) -> dict[str, str]:
    """A time of collection, so long ago, as the form sends it."""
    from django.utils import timezone

    at = timezone.localtime() - timedelta(hours=hours)
    return {"collected_date": f"{at:%Y-%m-%d}", "collected_time": f"{at:%H:%M}"}


def test_urine_is_registered_accepted_and_gets_a_number(bench: Client) -> None:
    """A sterile cup of half an hour: accepted, with a number of this desk's form."""
    form = URINE | collected(0.5) | {"vessel": "sterile cup", "volume_ml": "20"}
    answer = bench.post("/reception/register/", form)
    assert answer.status_code == 302, answer.content
    row = SpecimenNow.objects.get(material="urine")
    assert (row.state, row.container, row.volume_ul) == ("accepted", "sterile-cup", 20_000)
    page = bench.get(f"/reception/specimens/{row.code}/").content.decode()
    assert "check character holds" in page
    pdf = bench.post(f"/reception/specimens/{row.code}/label.pdf")
    assert pdf.content.startswith(b"%PDF")
    assert kinds(row.code)[-1] == "label_printed"


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ({"vessel": "clean cup"}, "wrong-container"),
        ({"preservative": "boric acid"}, "wrong-preservative"),
        ({"leaking": "yes"}, "leaking"),
        ({"volume_ml": "0.2"}, "volume-short"),
        (collected(30), "too-old"),
        ({"collected_time": ""}, "no-collection-time"),
    ],
)
def test_other_specimens_have_their_own_rules(
    bench: Client, more: dict[str, str], code: str
) -> None:
    """Vessel, preservative, leaking, volume, age, no time: each is found and waits."""
    form = URINE | collected(0.5) | {"vessel": "sterile cup", "volume_ml": "20"} | more
    assert bench.post("/reception/register/", form).status_code == 302
    row = SpecimenNow.objects.get(material="urine")
    assert row.state == "received"
    page = bench.get(f"/reception/specimens/{row.code}/")
    assert code in {f.code for f in page.context["verdict"].findings}


def test_a_timed_urine_wants_its_period_and_volume_and_is_never_binned(bench: Client) -> None:
    """Without them somebody is asked; in the wrong preservative a person decides."""
    form = URINE | collected(1) | {"material": "urine_24h", "test": ["urine-protein-24h"]}
    bench.post("/reception/register/", form)
    row = SpecimenNow.objects.get(material="urine_24h")
    page = bench.get(f"/reception/specimens/{row.code}/")
    assert [t.kind for t in page.context["tests"]] == ["ask"]
    assert "whole volume" in page.content.decode()
    whole = {"timed_hours": "24", "timed_volume_ml": "1450", "volume_ml": "50"}
    look = bench.post(f"/reception/specimens/{row.code}/look/", whole,
                      headers={"HX-Request": "true"})  # fmt: skip
    assert [t.kind for t in look.context["tests"]] == ["good"]


def test_blood_from_a_ward_is_registered_for_its_requisition(bench: Client) -> None:
    """The tests come from the requisition, and only those may be ticked."""
    row = requisition(1)
    piece = bench.get(
        "/reception/register/asked/", {"material": "blood", "requisition": row.number}
    )
    offered = {code for code, _, _ in piece.context["offered"]}
    assert "sodium" in offered
    form = {"material": "blood", "requisition": row.number, "tube": "gel-3.5",
            "test": ["sodium", "tsh"], "code": "WARD-77", **collected(0.5)}  # fmt: skip
    assert bench.post("/reception/register/", form).status_code == 302
    specimen = SpecimenNow.objects.get(code="WARD-77")
    assert (specimen.state, specimen.requisition) == ("accepted", row.number)
    assert last("WARD-77", "specimen_registered").payload["tests"] == ["sodium"]


@pytest.mark.parametrize(
    ("change", "part"),
    [
        ({"patient": ""}, "Whose is it"),
        ({"patient": "OV-0"}, "no patient"),
        ({"requisition": "R-0"}, "no requisition"),
        ({"test": []}, "What is to be examined"),
        ({"material": "blood"}, "What is to be examined"),
        ({"code": "a/b"}, "cannot be a number"),
        ({"collected_time": "25:99"}, "no date and time"),
        ({"volume_ml": "-3"}, "less than nothing"),
    ],
)
def test_a_slip_in_the_form_is_one_sentence_and_stores_nothing(
    bench: Client, change: dict[str, object], part: str
) -> None:
    """Everything that was typed stays on the page."""
    before = EventRow.objects.count()
    answer = bench.post("/reception/register/", URINE | collected(0.5) | change)
    assert answer.status_code == 422
    assert part in answer.content.decode()
    assert EventRow.objects.count() == before


def test_a_requisition_for_somebody_else_is_refused(bench: Client) -> None:
    """Label and requisition name two people."""
    form = URINE | collected(0.5) | {"requisition": requisition(2).number}
    answer = bench.post("/reception/register/", form)
    assert answer.status_code == 422
    assert "Look at the label again" in answer.content.decode()


# ---------------------------------------------------------------- who, and what is kept quiet


def test_quality_looks_and_changes_nothing(signed_in: Callable[[str], Client]) -> None:
    """Every page opens without a form that writes; every write is refused with 403."""
    bench, quality = signed_in("bench"), signed_in("quality")
    code = received(bench, requisition(2), ("edta-3", ["fbc"]))
    decide(bench, code, leaking="yes")
    for address in ("/reception/", "/reception/phone/", f"/reception/specimens/{code}/"):
        page = quality.get(address)
        assert page.status_code == 200
        forms = re.findall(r'<form[^>]*action="([^"]*)"', page.content.decode())
        assert not [a for a in forms if a.startswith("/reception/") and "open" not in a], address
    for address in ("scan/", "phone/told/", f"specimens/{code}/decide/"):
        assert quality.post(f"/reception/{address}").status_code == 403, address


def test_no_name_reaches_a_log_line(bench: Client, caplog: pytest.LogCaptureFixture) -> None:
    """A morning's work writes nothing about a patient to any logger."""
    caplog.set_level(logging.DEBUG)
    code = received(bench, requisition(2), ("edta-3", ["fbc"]))
    scan(bench, code)
    decide(bench, code, leaking="yes", ask_again="on")
    bench.get("/reception/phone/")
    lines = [r.getMessage() for r in caplog.records if not r.name.startswith("django.db")]
    assert not [line for line in lines if "Drumlin" in line or "OV-10002" in line]


def test_the_phone_list_is_read_by_its_index(bench: Client) -> None:
    """However long the log grows, the list looks at refusals and tellings only."""
    from django.db import connection

    if connection.vendor != "sqlite":
        return
    with connection.cursor() as cursor:
        cursor.execute("EXPLAIN QUERY PLAN " + selectors_way.TO_TELL, [VALLEY, 10])
        plan = " ".join(str(row) for row in cursor.fetchall())
    assert plan.count("events_to_tell") == 2, plan


def test_nothing_that_was_numbered_is_forgotten(bench: Client) -> None:
    """The fixture's numbers are given once: no label stands on two tubes."""
    codes = [*drawn(requisition(1)), *drawn(requisition(2))]
    assert len(set(codes)) == len(codes)
    assert not Accession.objects.filter(number__in=codes).exists()


def test_the_screens_agree_with_the_events_after_a_mornings_work(bench: Client) -> None:
    """Received, refused in part, registered, taken over: made again, all is the same."""
    from cubital.desk.record.rebuild import rebuild
    from cubital.desk.record.verify import verify

    code = received(bench, requisition(2), ("gel-3.5", ["sodium", "potassium"]))
    decide(bench, code, haemolysis="6", ask_again="on")
    newborn = received(bench, requisition(3), ("edta-3", ["fbc"]))
    decide(bench, newborn, clot="yes", **{"test-fbc": "not", "decided_by": "joren"})
    bench.post("/reception/register/", URINE | collected(0.5) | {"vessel": "clean cup"})
    (away,) = drawn(requisition(15), site=PASS)
    bench.post(f"/reception/specimens/{away}/here/", {"why": "The driver had it."})
    again = rebuild(only_compare=True)
    assert again.equal, again
    assert all(report.holds for report in verify().chains)
