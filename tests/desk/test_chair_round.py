"""What the desk gives to a chair: the round, short draws, labels, habits, the kept page."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from cubital.chair.shape import sheet_from
from cubital.desk.chair.assets import assets, worker_version
from cubital.desk.record.models import (
    Accession,
    ChairSheet,
    Habit,
    Patient,
    PatientDraw,
    Person,
    Place,
    Requisition,
)
from cubital.desk.record.overrides import override_give

KORALT = "OV-10001"


@pytest.fixture
def collector(signed_in: Callable[[str], Client]) -> Client:
    """A collector's client."""
    return signed_in("collector")


def loaded(client: Client) -> dict[str, Any]:
    """The round."""
    answer = client.post("/chair/round/")
    assert answer.status_code == 200
    assert answer["Cache-Control"] == "no-store"
    return dict(answer.json())


def of(round_: dict[str, Any], patient: str) -> dict[str, Any]:
    """The first draw of a patient."""
    return next(each for each in round_["draws"] if each["patient"] == patient)


def test_a_round_holds_todays_waiting_requisitions_of_the_place(collector: Client) -> None:
    """Not the drawn, not the cancelled, not the pass post's; each with its sheet or a sentence."""
    Patient.objects.filter(number="OV-10014").update(family_name="", given_name="", birth_date=None)
    round_ = loaded(collector)
    waiting = Requisition.objects.filter(state="waiting", place__code="ostrel-valley")
    assert {d["requisition"] for d in round_["draws"]} == {row.number for row in waiting}
    for each in round_["draws"]:
        assert bool(each["sheet"]) != bool(each["refused"])
    assert "1 is known" in of(round_, "OV-10014")["refused"]
    assert round_["me"]["username"] == "mira"
    assert round_["place"] == {
        "code": "ostrel-valley", "name": "Ostrel valley laboratory", "labels": "before",
    }  # fmt: skip


def test_fewer_identifiers_are_asked_about_at_the_chair(collector: Client) -> None:
    """Two of three are known: the sheet says what lacks, and the plan does not ask again."""
    man = of(loaded(collector), "OV-10013")
    assert man["refused"] == ""
    assert man["sheet"]["few"]["lacking"] == ["birth date"]
    assert man["sheet"]["few"]["checks"] == ["wristband"]
    assert [q["code"] for q in man["sheet"]["questions"]] == ["name", "number"]
    assert "identifier-missing" not in {f["code"] for f in man["show"]["findings"]}
    everybody = [
        d["sheet"]["few"] for d in loaded(collector)["draws"] if d["patient"] != "OV-10013"
    ]
    assert {tuple(few["lacking"]) for few in everybody} == {()}
    assert all(reason["reads"] for few in everybody for reason in few["reasons"])


def test_loading_numbers_the_containers_once_and_keeps_each_sheet_once(collector: Client) -> None:
    """A second load gives the same numbers, the same sheets, and writes nothing new."""
    first = loaded(collector)
    counts = (Accession.objects.count(), ChairSheet.objects.count())
    second = loaded(collector)
    assert [d["sheet"] for d in second["draws"]] == [d["sheet"] for d in first["draws"]]
    assert (Accession.objects.count(), ChairSheet.objects.count()) == counts
    assert second["others"] == first["others"]
    numbers = {t["accession"] for d in first["draws"] if d["sheet"] for t in d["sheet"]["tubes"]}
    assert numbers == set(Accession.objects.values_list("number", flat=True))


def test_every_sheet_of_the_morning_is_read_back_and_shown_whole(collector: Client) -> None:
    """The kept document is the sheet; every tube has what the page draws of it."""
    for each in loaded(collector)["draws"]:
        if not each["sheet"]:
            continue
        kept = ChairSheet.objects.get(code=each["sheet"]["code"])
        assert sheet_from(kept.document).requisition == each["requisition"] == str(kept.requisition)
        assert kept.plan["schema"] == "cubital.plan/1"
        assert set(each["show"]["tubes"]) == {t["accession"] for t in each["sheet"]["tubes"]}
        for shown in each["show"]["tubes"].values():
            assert shown["colour"]
            assert shown["fill_ul"] >= shown["fill_min_ul"] > 0
        assert each["show"]["sites"], each["requisition"]


def test_other_patients_codes_are_in_the_round_and_never_ones_own(collector: Client) -> None:
    """Wristbands, requisitions and labels, with whose they are in words."""
    round_ = loaded(collector)
    whose = {text: (words, number) for text, words, number in round_["others"]}
    label = of(round_, KORALT)["sheet"]["tubes"][0]["accession"]
    words, number = whose[label]
    assert words == f"Koralt, Vesna, requisition {number}"
    assert {KORALT, number} <= set(whose)


def test_a_demand_that_is_not_met_takes_the_test_out(collector: Client) -> None:
    """Digoxin three hours after the dose: told, and in no tube of the sheet."""
    each = of(loaded(collector), "OV-10009")
    assert each["show"]["stopped"] == ["Digoxin"]
    assert "digoxin" not in {test for t in each["sheet"]["tubes"] for test in t["tests"]}


def test_a_stop_of_the_plan_bars_the_draw(collector: Client) -> None:
    """Every site shut: the page may only say that nothing is drawn."""
    salme = Patient.objects.get(number="OV-10006")
    assert of(loaded(collector), salme.number)["show"]["barred"] == []
    for side in ("left", "right"):
        salme.conditions.create(code="graft", side=side)
        salme.conditions.create(code="infected_skin", side=side, site="ankle_foot")
    show = of(loaded(collector), salme.number)["show"]
    assert [(f["code"], f["severity"]) for f in show["barred"]] == [("site-none", "stop")]
    assert show["sites"] == []


def test_nothing_to_draw_is_a_sentence_and_no_sheet(collector: Client) -> None:
    """So much blood was taken already that no more may be."""
    newborn = Patient.objects.get(number__startswith="OV-N")
    PatientDraw.objects.create(
        patient=newborn, taken_at=timezone.now() - timedelta(hours=1), volume_ul=40_000
    )
    each = of(loaded(collector), newborn.number)
    assert each["sheet"] is None
    assert "Nothing is to be drawn now" in each["refused"]


def test_what_was_answered_on_the_plan_is_not_asked_again(collector: Client) -> None:
    """An ask gone past with a reason before the round is no ask at the chair."""
    asks = [f for f in of(loaded(collector), KORALT)["show"]["findings"] if f["severity"] == "ask"]
    assert {f["code"] for f in asks} == {"test-twice"}
    from cubital.desk.draw.planning import plan_for

    row = Requisition.objects.get(number=of(loaded(collector), KORALT)["requisition"])
    planned = plan_for(row)
    finding = next(f for f in planned.findings if f.code == "test-twice")
    override_give(
        requisition=row, finding=finding, why="the requester wants both",
        by=Person.objects.get(username="mira"), now=planned.plan.planned_at,
    )  # fmt: skip
    assert not [
        f for f in of(loaded(collector), KORALT)["show"]["findings"] if f["severity"] == "ask"
    ]


def test_a_short_draw_is_answered_for_a_sheet_of_the_place_only(collector: Client) -> None:
    """So much blood fills these tubes; nonsense gets a sentence, as another place's sheet does."""
    sheet = of(loaded(collector), KORALT)["sheet"]

    def ask(**question: object) -> tuple[int, dict[str, Any]]:
        answer = collector.post(
            "/chair/short/", json.dumps(question), content_type="application/json"
        )
        return answer.status_code, answer.json()

    status, said = ask(sheet=sheet["code"], obtained_ul=4000, drawn=[])
    assert status == 200
    assert said["fills"]
    assert all(finding["words"] for finding in said["missed"])
    table = collector.get(f"/chair/short/{sheet['code']}/").json()
    assert table["after"][0][4000 // table["step_ul"]] == said
    for wrong in (
        {"sheet": "nobody", "obtained_ul": 1},
        {"sheet": sheet["code"], "obtained_ul": -1},
        {"sheet": sheet["code"], "obtained_ul": True},
        {"sheet": sheet["code"], "obtained_ul": 10, "drawn": "x"},
        {"sheet": sheet["code"], "obtained_ul": 10, "gone": [1]},
        {"sheet": ["x"], "obtained_ul": 10},
    ):
        status, said = ask(**wrong)
        assert (status, "sentence" in said) == (422, True), wrong
    for body in ("[]", "{", '"x"'):
        answer = collector.post("/chair/short/", body, content_type="application/json")
        assert answer.status_code == 422
    collector.post("/work-at/", {"place": "ostrel-pass"})
    assert ask(sheet=sheet["code"], obtained_ul=4000)[0] == 422
    assert collector.get(f"/chair/short/{sheet['code']}/").status_code == 404


def test_labels_are_printed_for_the_tubes_of_a_sheet(collector: Client) -> None:
    """All of them or some; none of another draw's."""
    round_ = loaded(collector)
    sheet, other = of(round_, KORALT)["sheet"], of(round_, "OV-10005")["sheet"]
    first = sheet["tubes"][0]["accession"]
    whole = collector.post("/chair/labels/", {"sheet": sheet["code"]})
    one = collector.post("/chair/labels/", {"sheet": sheet["code"], "tube": [first]})
    assert whole.content[:5] == one.content[:5] == b"%PDF-"
    pages = [len(re.findall(rb"/Type /Page\b", each.content)) for each in (whole, one)]
    assert pages == [len(sheet["tubes"]), 1]
    wrong = collector.post(
        "/chair/labels/", {"sheet": sheet["code"], "tube": [other["tubes"][0]["accession"]]}
    )
    assert wrong.status_code == 422
    assert "None of these tubes" in wrong.content.decode()


def test_labels_before_or_after_as_the_place_has_it(collector: Client) -> None:
    """The policy stands on the sheet."""
    Place.objects.update(label_when="after")
    round_ = loaded(collector)
    assert round_["place"]["labels"] == "after"
    assert of(round_, KORALT)["sheet"]["policy"]["labels"] == "after"


def test_what_a_person_likes_is_kept(collector: Client) -> None:
    """Reminders and sounds, on unless switched off."""
    assert (loaded(collector)["me"]["reminders"], Habit.objects.count()) == (True, 0)
    answer = collector.post(
        "/chair/habits/", json.dumps({"reminders": False}), content_type="application/json"
    )
    assert answer.json() == {"reminders": False, "sounds": True}
    assert loaded(collector)["me"]["reminders"] is False
    assert collector.post("/chair/habits/", "no", content_type="text/plain").status_code == 422


def test_the_kept_page_names_nobody(collector: Client) -> None:
    """What a device keeps of the page holds no patient, no person, no token."""
    page = collector.get("/chair/")
    text = page.content.decode()
    assert page.status_code == 200
    assert "csrftoken" in page.cookies
    assert "csrfmiddlewaretoken" not in text
    for name in ("Koralt", "mira", "Tolvan", "OV-"):
        assert name not in text


def test_every_file_of_the_page_is_kept_and_there(collector: Client) -> None:
    """The worker names every module, and each address gives its file."""
    answer = Client().get("/sw.js")
    assert answer["Content-Type"].startswith("text/javascript")
    text = answer.content.decode()
    assert worker_version() in text
    listed = json.loads(re.search(r"FILES = (\[.*?\]);", text).group(1))
    assert listed == assets()
    assert listed[0] == "/chair/"
    page = collector.get("/chair/").content.decode()
    for address in re.findall(r'(?:href|src)="(/static/[^"]+)"', page):
        assert address in listed
    from django.contrib.staticfiles import finders

    for address in listed[1:]:
        path = finders.find(address.removeprefix("/static/"))
        assert path, address
        if address.endswith(".js"):
            with open(path, encoding="utf-8") as file:  # noqa: PTH123
                for other in re.findall(r'from "\./([^"]+)"', file.read()):
                    assert f"/static/chair/{other}" in listed, (address, other)
