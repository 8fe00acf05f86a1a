"""The day's list, the new requisition and files: what is stored, and what is refused whole."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client

from cubital.desk.record.models import Counter, Patient, Requisition

FORM = {
    "known_patient": "on",
    "number": "OV-10005",
    "test": ["fbc", "renal"],
    "priority-fbc": "1",
    "priority-renal": "9",
    "collect_date": "2026-11-25",
    "collect_time": "08:30",
    "requester": "Dr Halvek",
    "ward": "Ward 3",
}
NEW_PATIENT = {
    "number": "N-1",
    "family_name": "Ferrin",
    "given_name": "Tuva",
    "birth_date": "2019-02-03",
    "sex": "female",
    "weight_kg": "21.5",
    "veins": "thin",
    "condition": ["infusion|left|", "latex_allergy||"],
}


def rows() -> tuple[int, int, int]:
    """How much is stored, the running numbers included."""
    return Requisition.objects.count(), Patient.objects.count(), Counter.objects.count()


def said(answer: HttpResponse) -> str:
    """The sentence of a refused form."""
    assert answer.status_code == 422
    return str(answer.context["said"])


def test_the_day_lists_urgent_first_with_what_was_found(signed_in: Callable[[str], Client]) -> None:
    """Urgent ones lead, then by time; a waiting one carries its findings, a drawn one none."""
    answer = signed_in("bench").get("/")
    listed = answer.context["listed"]
    urgent = [each["row"].urgent for each in listed]
    assert urgent == sorted(urgent, reverse=True)
    times = [each["row"].collect_at for each in listed if not each["row"].urgent]
    assert times == sorted(times)
    for each in listed:
        assert (each["found"] is None) == (each["row"].state != "waiting")
    assert any(each["found"] and each["found"].stop for each in listed)
    assert not any(each["found"] and each["found"].refused for each in listed)


def test_the_list_asks_the_database_a_fixed_number_of_times(
    signed_in: Callable[[str], Client], django_assert_max_num_queries: Any
) -> None:
    """Sixteen requisitions cost no more questions than two would."""
    client = signed_in("collector")
    client.get("/")
    with django_assert_max_num_queries(22):
        client.get("/")


@pytest.mark.parametrize("day", ["2001-01-01", "rubbish", "9999-12-31", "0001-01-01", ""])
def test_any_day_has_a_page(signed_in: Callable[[str], Client], day: str) -> None:
    """A day far away is an empty list, a day that cannot be read is today."""
    answer = signed_in("quality").get("/", {"day": day})
    assert answer.status_code == 200


def test_work_at_the_other_place(signed_in: Callable[[str], Client]) -> None:
    """The pass post has its own list; a place that is not there changes nothing."""
    client = signed_in("collector")
    client.post("/work-at/", {"place": "ostrel-pass"})
    assert [each["row"].patient.number for each in client.get("/").context["listed"]] == [
        "OV-10015"
    ]
    client.post("/work-at/", {"place": "nowhere"})
    assert client.get("/").context["here"].code == "ostrel-pass"


def test_only_a_whole_number_takes_a_patient_at_once(
    signed_in: Callable[[str], Client],
) -> None:
    """Part of a name, or of a number, that fits one person shows that person to be chosen."""
    client = signed_in("collector")
    known = Patient.objects.get(number="OV-10005")
    Patient.objects.create(
        number="X-77", family_name="Unknown, man from the lift", given_name="", sex=known.sex
    )
    for typed in ("lift", "unknown, man from the lift", "X-7"):
        shown = client.get("/new/patient/", {"q": typed})
        assert shown["HX-Retarget"] == "#patient-answers"
        assert "draft" not in shown.context
        assert [each.number for each in shown.context["patients"]] == ["X-77"]
        assert "One fits" in shown.content.decode()
    for typed in ("X-77", " x-77 "):
        taken = client.get("/new/patient/", {"q": typed})
        assert taken.context["draft"].known_patient
        assert taken.context["draft"].patient.number == "X-77"


def test_a_name_nobody_has_begins_a_new_patient(signed_in: Callable[[str], Client]) -> None:
    """Enter opens the fields with the name in them; a number nobody has is no name."""
    client = signed_in("collector")
    new = client.get("/new/patient/", {"q": "Zzyfer"})
    assert not new.context["draft"].known_patient
    assert new.context["draft"].patient.family_name == "Zzyfer"
    assert "family_name" in new["HX-Trigger-After-Settle"]
    number = client.get("/new/patient/", {"q": "OV-99999"})
    assert number["HX-Retarget"] == "#patient-answers"
    assert "Nobody is registered as" in number.content.decode()
    assert client.get("/new/patient/", {"q": ""})["HX-Retarget"] == "#patient-answers"


def test_a_known_patient_and_two_tests(signed_in: Callable[[str], Client]) -> None:
    """Stored with panels opened, priorities kept, and the JSON shape beside it."""
    answer = signed_in("collector").post("/new/", FORM)
    assert answer.status_code == 302
    row = Requisition.objects.get(ward="Ward 3")
    assert answer["Location"] == f"/requisitions/{row.number}/"
    tests = {test.code: (test.priority, test.through) for test in row.tests.all()}
    assert tests["fbc"] == (1, [])
    assert tests["potassium"] == (9, ["renal"])
    assert row.patient.number == "OV-10005"
    assert row.entered_by.username == "mira"
    assert row.document["schema"] == "cubital.requisition/1"
    assert row.number.startswith("OL-")


def test_a_new_patient_comes_with_what_must_be_known(signed_in: Callable[[str], Client]) -> None:
    """Units of the form become the record's, and conditions keep their side."""
    form = {**FORM, **NEW_PATIENT}
    del form["known_patient"]
    assert signed_in("collector").post("/new/", form).status_code == 302
    patient = Patient.objects.get(number="N-1")
    assert patient.weight_g == 21_500
    assert {(c.code, c.side) for c in patient.conditions.all()} == {
        ("infusion", "left"),
        ("latex_allergy", ""),
    }


def test_the_desk_gives_numbers_that_were_left_empty(signed_in: Callable[[str], Client]) -> None:
    """Two people without a number get two numbers."""
    client = signed_in("collector")
    form = {**FORM, **NEW_PATIENT, "number": ""}
    del form["known_patient"]
    client.post("/new/", form)
    client.post("/new/", {**form, "given_name": "Liv"})
    numbers = {row.number for row in Patient.objects.filter(family_name="Ferrin")}
    assert len(numbers) == 2


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"test": []}, "Add at least one test"),
        ({"test": ["no-such-test"]}, "no-such-test"),
        ({"collect_date": "yesterday"}, "when to collect"),
        ({"priority-fbc": "0"}, "from 1"),
        ({"fasting_h": "long"}, "hours without food"),
        ({"fasting_h": "-2"}, "Hours without food"),
        ({"weight_kg": "-5"}, "Write kilograms"),
        ({"weight_kg": "nan"}, "no number"),
        ({"weight_kg": "1e400"}, "no number"),
        ({"requester": "x" * 300}, "Requester"),
        ({"remarks": "a\x00b"}, "Remarks"),
    ],
)
def test_bad_input_is_one_sentence_and_nothing_is_stored(
    signed_in: Callable[[str], Client], change: dict[str, Any], words: str
) -> None:
    """What cannot be is said in the form's own words; what was typed stays; nothing is kept."""
    client, before = signed_in("collector"), rows()
    answer = client.post("/new/", {**FORM, **change})
    assert words in said(answer)
    assert "Dr Halvek" in answer.content.decode() or "requester" in change
    assert rows() == before


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"birth_date": "2999-01-01"}, "future"),
        ({"birth_date": "1712-01-01"}, "150 years"),
        ({"haematocrit": "120"}, "Write percent"),
        ({"condition": ["dragon|left|"]}, "dragon"),
        ({"family_name": " "}, "family name"),
        ({"number": "OV-10001"}, "another name"),
    ],
)
def test_a_new_patient_who_cannot_be_is_refused_whole(
    signed_in: Callable[[str], Client], change: dict[str, Any], words: str
) -> None:
    """Neither the patient nor the requisition is kept, nor a running number spent."""
    form = {**FORM, **NEW_PATIENT, **change}
    del form["known_patient"]
    client, before = signed_in("collector"), rows()
    assert words in said(client.post("/new/", form))
    assert rows() == before


def test_the_same_person_is_not_registered_twice_by_slip(
    signed_in: Callable[[str], Client],
) -> None:
    """Same name and birth date is asked back; whoever says it is another person goes on."""
    client = signed_in("collector")
    known = Patient.objects.get(number="OV-10001")
    form = {
        **FORM,
        "number": "N-9",
        "family_name": known.family_name.upper(),
        "given_name": known.given_name,
        "birth_date": known.birth_date.isoformat(),
    }
    del form["known_patient"]
    assert "OV-10001" in said(client.post("/new/", form))
    assert client.post("/new/", {**form, "another_person": "on"}).status_code == 302


def test_the_same_number_twice_is_refused(signed_in: Callable[[str], Client]) -> None:
    """A requisition's number is given once."""
    client = signed_in("collector")
    client.post("/new/", {**FORM, "requisition_number": "A/1"})
    assert "already on the desk" in said(
        client.post("/new/", {**FORM, "requisition_number": "A/1", "test": ["fbc"]})
    )
    assert client.get("/requisitions/A/1/").status_code == 200


def test_finding_what_was_scanned(signed_in: Callable[[str], Client], clinic: datetime) -> None:
    """A requisition, a label, a patient, a name, or a sentence."""
    client = signed_in("collector")
    number = Requisition.objects.get(number__endswith="D02").number
    assert client.get("/find/", {"q": number.lower()})["Location"] == f"/requisitions/{number}/"
    assert client.get("/find/", {"q": "OV-10001"})["Location"] == "/patients/OV-10001/"
    assert "Koralt" in client.get("/find/", {"q": "koralt"}).content.decode()
    answer = client.get("/find/", {"q": "nothing of the sort"}, follow=True)
    assert "Nothing here is called" in answer.content.decode()


def test_the_bench_finds_no_patients_by_name(signed_in: Callable[[str], Client]) -> None:
    """A role that does not register people does not search them either."""
    answer = signed_in("bench").get("/find/", {"q": "koralt"}, follow=True)
    assert "Koralt, Vesna</bdi></strong>" not in answer.content.decode()


def test_cancelling_needs_a_reason_and_something_that_waits(
    signed_in: Callable[[str], Client],
) -> None:
    """Without a reason it stays; with one it is cancelled; a second time is refused."""
    client = signed_in("collector")
    row = Requisition.objects.get(number__endswith="D05")
    address = f"/requisitions/{row.number}/cancel/"
    client.post(address, {"why": " "})
    row.refresh_from_db()
    assert row.state == "waiting"
    client.post(address, {"why": "patient went home"})
    row.refresh_from_db()
    assert (row.state, row.cancelled_why) == ("cancelled", "patient went home")
    assert row.cancelled_by is not None
    assert row.cancelled_by.role == "collector"
    assert row.cancelled_at is not None
    page = client.get(f"/requisitions/{row.number}/").content.decode()
    assert f"patient went home (<bdi>{row.cancelled_by.shown_name}</bdi>" in page
    answer = client.post(address, {"why": "again"}, follow=True)
    assert "does not wait" in answer.content.decode()


def upload(client: Client, name: str, data: bytes) -> HttpResponse:
    """Send a file."""
    return client.post("/from-file/", {"file": SimpleUploadedFile(name, data)})


def shape(number: str, **more: Any) -> dict[str, Any]:
    """A requisition in JSON."""
    return {
        "schema": "cubital.requisition/1",
        "number": number,
        "patient": {"number": f"P-{number}", "family_name": "Ferrin", "birth_date": "1990-01-02"},
        "tests": ["fbc"],
        "collect_at": "2026-11-25T08:00",
        **more,
    }


def test_a_file_is_stored_whole(signed_in: Callable[[str], Client]) -> None:
    """Two requisitions of a JSON file, times in the place's own zone."""
    data = json.dumps([shape("F1"), shape("F2")]).encode()
    assert upload(signed_in("collector"), "morning.json", data).status_code == 302
    assert Requisition.objects.filter(number__in=["F1", "F2"]).count() == 2


BAD_FILES = {
    "unknown test": ("a.json", json.dumps([shape("F1"), shape("F2", tests=["xyz"])]).encode()),
    "negative weight": (
        "a.json",
        json.dumps(
            shape("F1", patient={"number": "P", "family_name": "F", "weight_g": -1})
        ).encode(),
    ),
    "born in the future": (
        "a.json",
        json.dumps(
            shape("F1", patient={"number": "P", "family_name": "F", "birth_date": "2999-01-01"})
        ).encode(),
    ),
    "no patient number": ("a.json", json.dumps(shape("F1", patient={"family_name": "F"})).encode()),
    "somebody else's number": (
        "a.json",
        json.dumps(
            [shape("F1"), shape("F2", patient={"number": "OV-10001", "family_name": "Else"})]
        ).encode(),
    ),
    "empty": ("a.json", b""),
    "blank": ("a.csv", b"\n\n"),
    "wrong encoding": ("a.csv", "numéro,nom\n".encode("latin-1")),
    "not JSON": ("a.json", b"{nothing"),
    "shifted columns": ("a.csv", b"number,family_name,tests\nF1,fbc\n"),
    "unknown column": ("a.csv", b"number;tset\n"),
    "50 MB": ("a.csv", b"x" * 50_000_000),
}


@pytest.mark.parametrize("case", sorted(BAD_FILES))
def test_a_bad_file_is_one_sentence_and_nothing_is_stored(
    signed_in: Callable[[str], Client], case: str
) -> None:
    """Whatever is wrong with it, the sentence ends by saying that nothing was stored."""
    client, before = signed_in("collector"), rows()
    sentence = said(upload(client, *BAD_FILES[case]))
    assert sentence.endswith("Nothing was stored.")
    assert len(sentence) < 400
    assert rows() == before


def test_no_file_at_all(signed_in: Callable[[str], Client]) -> None:
    """The button without a file says so."""
    assert "No file was sent" in said(signed_in("collector").post("/from-file/"))


def test_numbers_that_the_desk_gives_stay_empty_on_a_refused_form(
    signed_in: Callable[[str], Client],
) -> None:
    """
    Nothing is reserved by a refusal: sent again as it stands, each form gets a number of its own.
    """
    client = signed_in("collector")
    blank = {**FORM, **NEW_PATIENT, "known_patient": "", "number": "", "test": []}
    refused = client.post("/new/", blank)
    assert said(refused)
    draft = refused.context["draft"]
    assert (draft.requisition_number, draft.patient.number) == ("", "")


def test_a_form_that_is_sent_twice_is_stored_once(signed_in: Callable[[str], Client]) -> None:
    """A double click, or Back and again: the same requisition, known patient or new."""
    client = signed_in("collector")
    new = {**FORM, **NEW_PATIENT, "known_patient": "", "number": ""}
    nobody = {**new, "family_name": "Unknown, woman from the bus", "birth_date": ""}
    scanned = {**FORM, "requisition_number": "PAPER-7"}
    for form in (FORM, new, nobody, scanned):
        first = client.post("/new/", form)
        before = rows()
        again = client.post("/new/", form, follow=True)
        assert again.redirect_chain[-1][0] == first["Location"]
        assert "stored already" in again.content.decode()
        assert rows() == before


def test_what_differs_is_stored_beside_it(signed_in: Callable[[str], Client]) -> None:
    """Another test, another time, another person who enters it, or the first one cancelled."""
    client = signed_in("collector")
    first = client.post("/new/", FORM)["Location"]
    others = ({**FORM, "test": ["fbc"]}, {**FORM, "collect_time": "08:31"})
    assert len({first, *(client.post("/new/", form)["Location"] for form in others)}) == 3
    assert signed_in("manager").post("/new/", FORM)["Location"] != first
    client = signed_in("collector")
    client.post(f"{first}cancel/", {"why": "entered for the wrong patient"})
    assert client.post("/new/", FORM)["Location"] != first
