"""The manager's pages: the place's policy, its own tables, its stock, its people."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from django.http import HttpResponse
from django.test import Client

from cubital.catalogue import shipped
from cubital.desk.place.forms import PlaceForm
from cubital.desk.record.models import Person, Place, Requisition, StockLot

SETTINGS = "key,value,unit,meaning,source\ntourniquet_max_s,50,s,Ours.,{source}\n"


def valley() -> Place:
    """The laboratory."""
    return Place.objects.get(code="ostrel-valley")


def form(**change: object) -> dict[str, object]:
    """The form as it stands, with changes."""
    start = {**PlaceForm.of(valley()), **change}
    return {name: value for name, value in start.items() if value is not False}


def refusal(answer: HttpResponse) -> str:
    """What a refused page says: its one sentence, or those at its fields."""
    assert answer.status_code == 422
    errors = answer.context["form"].errors.values()
    return str(answer.context.get("said") or "") + " ".join(e for each in errors for e in each)


def test_policy_is_stored_and_every_plan_follows(signed_in: Callable[[str], Client]) -> None:
    """Altitude, order of draw, a choice: the next plan stands on them and says so."""
    change = form(altitude_m=0, order_profile="local", **{"choice-mixing-turns": "local"})
    client = signed_in("manager")
    assert client.post("/place/", change).status_code == 302
    place = valley()
    assert (place.altitude_m, place.order_profile) == (0, "local")
    assert place.choices == {"mixing-turns": "local"}
    number = Requisition.objects.get(number__endswith="D01").number
    plan = client.get(f"/requisitions/{number}/").context["planned"].plan
    assert plan.order_profile == "local"
    assert ("mixing-turns", "local") in plan.choices


def test_an_answer_as_shipped_is_no_choice_of_ones_own(signed_in: Callable[[str], Client]) -> None:
    """The shipped option, ticked, follows the tables when their default changes."""
    signed_in("manager").post("/place/", form(**{"choice-mixing-turns": "published"}))
    assert valley().choices == {}


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"altitude_m": "9000"}, "6000"),
        ({"altitude_m": "high"}, "whole number"),
        ({"time_zone": "Ostrel/Valley"}, "no time zone"),
        ({"order_profile": "mine"}, "not one of the available"),
        ({"choice-renin-cooling": "hot"}, "not one of the available"),
        ({"label_size": "poster"}, "not one of the available"),
        ({"name": ""}, "required"),
        ({"catalogue_folder": "/no/such/folder"}, "There is no folder"),
        ({"catalogue_folder": "tables"}, "There is no folder"),
    ],
)
def test_policy_that_cannot_be_is_refused(
    signed_in: Callable[[str], Client], change: dict[str, str], words: str
) -> None:
    """One sentence, and the place stays as it was."""
    before = PlaceForm.of(valley())
    assert words in refusal(signed_in("manager").post("/place/", form(**change)))
    assert PlaceForm.of(valley()) == before


@pytest.mark.parametrize("name", ["Ostrel\rvalley", "Ostrel\nvalley", "Ostrel\x1b[31m"])
def test_the_name_of_a_place_stands_on_one_line(
    signed_in: Callable[[str], Client], name: str
) -> None:
    """It goes on labels, into tables and onto terminals: a sign that cannot be seen is refused."""
    before = valley().name
    answer = signed_in("manager").post("/place/", form(name=name))
    assert "stands on one line" in refusal(answer)
    assert valley().name == before


def test_tables_of_ones_own_are_checked_then_laid_over(
    signed_in: Callable[[str], Client], tmp_path: Path
) -> None:
    """A bad row is refused with file and row; a good folder is named on every plan."""
    folder = tmp_path / "ostrel"
    folder.mkdir()
    own = folder / "settings.csv"
    own.write_text(SETTINGS.format(source="no-such-source"), encoding="utf-8")
    client = signed_in("manager")
    change = form(catalogue_folder=str(folder))
    sentence = refusal(client.post("/place/", change))
    assert "settings.csv, row 2" in sentence
    assert valley().catalogue_folder == ""

    own.write_text(SETTINGS.format(source="common_practice"), encoding="utf-8")
    assert client.post("/place/", change).status_code == 302
    number = Requisition.objects.get(number__endswith="D01").number
    plan = client.get(f"/requisitions/{number}/").context["planned"].plan
    assert plan.layers == ("shipped", "ostrel")
    assert plan.edition != shipped().edition


def test_tables_that_break_later_stop_the_planning_and_nothing_else(
    signed_in: Callable[[str], Client], tmp_path: Path
) -> None:
    """Every page of that place says what is wrong; the manager's page still opens to mend it."""
    folder = tmp_path / "ostrel"
    folder.mkdir()
    own = folder / "settings.csv"
    own.write_text(SETTINGS.format(source="common_practice"), encoding="utf-8")
    client = signed_in("manager")
    client.post("/place/", form(catalogue_folder=str(folder)))
    own.write_text("key,value\nbroken", encoding="utf-8")
    answer = client.get("/")
    assert answer.status_code == 503
    assert "settings.csv" in answer.content.decode()
    page = client.get("/place/")
    assert page.status_code == 200
    assert "cannot be used" in page.context["said"]
    assert client.post("/place/", form(catalogue_folder="")).status_code == 302
    assert client.get("/").status_code == 200


def test_the_first_place_of_a_new_desk(db: None) -> None:
    """Before any place there is a page that says so; the manager sets one up and works there."""
    for name, role in (("m", "manager"), ("c", "collector")):
        Person.objects.create(username=name, role=role)
    manager, collector = Client(), Client()
    manager.force_login(Person.objects.get(username="m"))
    collector.force_login(Person.objects.get(username="c"))
    assert "Set up the first place" in manager.get("/").content.decode()
    assert "Set up the first place" not in collector.get("/").content.decode()
    new = {"name": "Hut", "code": "hut", "letters": "hu", "altitude_m": "2500", "time_zone": "UTC"}
    assert manager.post("/place/new/", new).status_code == 302
    assert Place.objects.get(code="hut").letters == "HU"
    assert collector.get("/").context["here"].code == "hut"
    assert "already exists" in refusal(manager.post("/place/new/", new))


def test_stock_is_listed_counted_and_recalled(signed_in: Callable[[str], Client]) -> None:
    """A new lot, another count, a recall: and plans offer it no more."""
    client = signed_in("manager")
    lot = {
        "container": "edta-3",
        "number": "NEW-1",
        "expires_on": (datetime.now(UTC) + timedelta(days=30)).date().isoformat(),
        "count": "50",
    }
    assert client.post("/stock/", lot).status_code == 302
    assert "already on the list" in refusal(client.post("/stock/", lot))
    row = StockLot.objects.get(number="NEW-1")
    client.post(f"/stock/{row.pk}/", {"count": "12", "recalled": "on"})
    row.refresh_from_db()
    assert (row.count, row.recalled) == (12, True)
    client.post(f"/stock/{row.pk}/", {"count": "-3"})
    row.refresh_from_db()
    assert row.count == 12


def test_a_recalled_lot_is_not_proposed(signed_in: Callable[[str], Client]) -> None:
    """What is recalled disappears from the rack, or the test from the plan with its reason."""
    client = signed_in("collector")
    number = Requisition.objects.get(number__endswith="D05").number
    before = client.get(f"/requisitions/{number}/").context["planned"].plan
    lots = {each.lot for each in before.containers}
    assert lots != {""}
    StockLot.objects.filter(number__in=lots).update(recalled=True)
    after = client.get(f"/requisitions/{number}/").context["planned"].plan
    assert not lots & {each.lot for each in after.containers}


def test_a_lot_of_another_place_cannot_be_changed_from_here(
    signed_in: Callable[[str], Client],
) -> None:
    """The stock of the pass post is the pass post's."""
    lot = StockLot.objects.filter(place__code="ostrel-pass")[0]
    answer = signed_in("manager").post(f"/stock/{lot.pk}/", {"count": "1"})
    assert answer.status_code == 404


def test_somebody_new_may_sign_in_and_is_let_out_again(signed_in: Callable[[str], Client]) -> None:
    """The manager adds a collector, who signs in; then the door is shut."""
    manager = signed_in("manager")
    new = {
        "username": "tova",
        "given_name": "Tova",
        "family_name": "Rind",
        "role": "collector",
        "password": "seven-cold-rivers",
    }
    assert manager.post("/people/", new).status_code == 302
    sign = {"username": "tova", "password": "seven-cold-rivers"}
    tova = Client()
    assert tova.post("/sign-in/", sign).status_code == 302
    assert tova.get("/people/").status_code == 403
    row = Person.objects.get(username="tova")
    manager.post(f"/people/{row.pk}/", {"role": "collector"})
    assert Client().post("/sign-in/", sign).status_code == 200


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"password": "tova"}, "password"),
        ({"password": "12345678"}, "password"),
        ({"username": "mira"}, "already exists"),
        ({"username": "not a name!"}, "username"),
        ({"role": "king"}, "not one of the available"),
    ],
)
def test_a_person_who_cannot_be_added(
    signed_in: Callable[[str], Client], change: dict[str, str], words: str
) -> None:
    """A guessed password, a name that is taken, a role that is not there."""
    new = {"username": "tova", "role": "collector", "password": "seven-cold-rivers", **change}
    before = Person.objects.count()
    assert words in refusal(signed_in("manager").post("/people/", new)).casefold()
    assert Person.objects.count() == before


def test_the_desk_never_loses_its_last_manager(signed_in: Callable[[str], Client]) -> None:
    """Neither another role nor a shut door for the only one; nor half of such a change."""
    manager = Person.objects.get(role="manager")
    old = manager.password
    client = signed_in("manager")
    for change in ({"role": "bench", "is_active": "on"}, {"role": "manager"}):
        change["password"] = "seven-cold-rivers"
        assert "only manager" in refusal(client.post(f"/people/{manager.pk}/", change))
    manager.refresh_from_db()
    assert (manager.role, manager.is_active, manager.password) == ("manager", True, old)


def test_catalogue_pages_hold_what_the_tables_say(signed_in: Callable[[str], Client]) -> None:
    """Every test and panel has a page, and every source is listed."""
    client = signed_in("quality")
    catalogue = shipped()
    for code in (*catalogue.tests, *catalogue.panels):
        answer = client.get(f"/catalogue/{code}/")
        assert answer.status_code == 200, code
    text = client.get("/catalogue/sources/").content.decode()
    assert text.count("<tr>") == len(catalogue.sources) + 1
    assert client.get("/catalogue/no-such/").status_code == 404
