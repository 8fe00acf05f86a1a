"""The place's centrifuges and shelves: a manager's data, with what each programme means there."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.test import Client

from cubital.desk.bench.forms import CentrifugeForm
from cubital.desk.bench.machines import counts_alone
from cubital.desk.record.models import Centrifuge, Place, Shelf, SpinNow
from tests.desk.bench import accepted, minutes, noon
from tests.desk.test_bench_board import text
from tests.desk.way import VALLEY, made, requisition, stored
from tests.labels.test_waste import read

GOOD = {
    "code": "new-36", "name": "The new one", "places": "36", "radius_mm": "185",
    "highest_rpm": "4000", "lowest_rpm": "300", "step_rpm": "10", "run_up_s": "50",
    "brake_s": "70", "swing": "on", "cooled": "on",
}  # fmt: skip


@pytest.fixture
def manager(signed_in: Callable[[str], Client]) -> Client:
    """The manager of the valley's laboratory."""
    noon()
    return signed_in("manager")


def machine(code: str = "big") -> Centrifuge:
    """A centrifuge of the valley."""
    return Centrifuge.objects.get(place__code=VALLEY, code=code)


def test_a_centrifuge_is_added_and_planned_with(
    manager: Client, signed_in: Callable[[str], Client]
) -> None:
    """On the list at once, and in the plan."""
    Centrifuge.objects.filter(place__code=VALLEY).delete()
    answer = manager.post("/bench/machines/add/", GOOD, follow=True)
    assert "The new one is on the list." in text(answer)
    assert machine("new-36").to_domain().radius_mm == 185
    accepted(requisition(2), ago=minutes(45))
    (run,) = signed_in("bench").get("/bench/runs/").context["runs"]
    assert run.centrifuge == "The new one"


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"places": "1"}, "greater than or equal to 2"),
        ({"radius_mm": "wide"}, "Enter a whole number"),
        ({"code": "two words"}, "Write 1 to 32 letters"),
        ({"code": "big"}, "has a centrifuge big already"),
        ({"lowest_rpm": "5000"}, "The lowest speed 5000 is above the highest 4000"),
        ({"step_rpm": "9000"}, "A step of 9000 is above the highest speed"),
        ({"name": ""}, "This field is required"),
    ],
)
def test_a_centrifuge_that_cannot_be_is_refused_in_words(
    manager: Client, wrong: dict[str, str], said: str
) -> None:
    """One sentence, the form as it was typed, nothing stored."""
    before = Centrifuge.objects.count()
    answer = manager.post("/bench/machines/add/", {**GOOD, **wrong})
    assert answer.status_code == 422
    assert said in text(answer)
    assert Centrifuge.objects.count() == before
    assert 'value="185"' in answer.content.decode() or "wide" in answer.content.decode()


def test_a_centrifuge_is_changed_and_taken_off(manager: Client) -> None:
    """Its facts change, its code stays; while it runs it stays on the list."""
    row = machine("small")
    facts = {**GOOD, "name": "Small, mended", "places": "12"}
    manager.post(f"/bench/machines/{row.pk}/", facts)
    row.refresh_from_db()
    assert (row.name, row.code) == ("Small, mended", "small")
    wrong = manager.post(f"/bench/machines/{row.pk}/", {**facts, "lowest_rpm": "9000"})
    assert "above the highest" in text(wrong)
    (code,) = accepted(requisition(2), ago=minutes(60))
    stored(made("spin_begun", "spin:R-8", site=VALLEY, who="joren",
                at=datetime.now(UTC), centrifuge="small", specimens=[code]))  # fmt: skip
    runs = manager.post(f"/bench/machines/{row.pk}/remove/", follow=True)
    assert "Small, mended runs" in text(runs)
    SpinNow.objects.update(state="done")
    manager.post(f"/bench/machines/{row.pk}/remove/")
    assert not Centrifuge.objects.filter(pk=row.pk).exists()


def test_only_a_manager_changes_what_a_centrifuge_is(signed_in: Callable[[str], Client]) -> None:
    """The bench sees it, and may only say that it is out of order."""
    row = machine()
    answer = signed_in("bench").post(f"/bench/machines/{row.pk}/", {"name": "Mine"})
    assert answer.status_code == 422
    assert "A manager changes a centrifuge." in text(answer)
    row.refresh_from_db()
    assert row.name != "Mine"


def test_out_of_order_and_back(signed_in: Callable[[str], Client]) -> None:
    """With a reason, by the bench itself; the plan does without it until it is back."""
    bench, row = signed_in("bench"), machine()
    accepted(requisition(2), ago=minutes(45))
    without = bench.post(f"/bench/machines/{row.pk}/order/", follow=True)
    assert f"What is wrong with {row.name}?" in text(without)
    bench.post(f"/bench/machines/{row.pk}/order/", {"why": "it shakes"})
    assert "No centrifuge spins" in text(bench.get("/bench/runs/"))
    assert "it shakes" in text(bench.get(f"/bench/machines/{row.pk}/"))
    bench.post(f"/bench/machines/{row.pk}/order/")
    assert len(bench.get("/bench/runs/").context["runs"]) == 1


def test_every_programme_is_shown_on_this_rotor(signed_in: Callable[[str], Client]) -> None:
    """Force and speed both ways, the difference of common practice, and what cannot run here."""
    client = signed_in("bench")
    page = client.get(f"/bench/machines/{machine().pk}/")
    by_name = {each.name: each for each in page.context["programmes"]}
    assert by_name["Serum"].here == "3250 turns = 2008 g"
    assert "3500 turns make 2329 g here" in by_name["Serum"].published
    assert by_name["Serum"].far
    assert not by_name["Serum or plasma at 37 °C"].runs
    assert "wants a warmed rotor" in text(page)
    small = client.get(f"/bench/machines/{machine('small').pk}/")
    assert "it wants buckets that swing out" in text(small)


def test_which_counts_need_no_balance_tube_is_said() -> None:
    """By the theorem: twelve places all but 1 and 11; five places only none or all."""
    assert "except 1, 11 of them" in counts_alone(Centrifuge(places=12))
    assert "except 1, 2, 3, 4 of them" in counts_alone(Centrifuge(places=5))


def test_the_laboratorys_own_table_is_taken_over(manager: Client) -> None:
    """A machine of the own tables is put on the list with one press."""
    folder = Path(__file__).parent.parent / "bench" / "ostrel"
    Place.objects.filter(code=VALLEY).update(catalogue_folder=str(folder))
    assert "valley swing-out rotor of 24" in text(manager.get("/bench/machines/"))
    manager.post("/bench/machines/take-over/", {"code": "valley-24"})
    assert machine("valley-24").brake_s == 60
    assert "The tables hold no centrifuge" in text(
        manager.post("/bench/machines/take-over/", {"code": "none"})
    )


def test_shelves_are_added_and_taken_off(manager: Client) -> None:
    """A code of its own, a kind of the catalogue; only an empty one leaves the list."""
    shelf = {"code": "FR-C", "name": "Fridge, shelf C", "kind": "refrigerator"}
    assert "is on the list" in text(
        manager.post("/bench/machines/shelves/add/", shelf, follow=True)
    )
    twice = manager.post("/bench/machines/shelves/add/", {**shelf, "code": "fr-c"})
    assert "has a shelf fr-c already" in text(twice)
    odd = manager.post("/bench/machines/shelves/add/", {**shelf, "code": "X", "kind": "pocket"})
    assert odd.status_code == 422
    (code,) = accepted(requisition(2), ("edta-3", ["fbc"]))
    at = datetime.now(UTC)
    stored(made("specimen_stored", f"specimen:{code}", site=VALLEY, who="joren", at=at,
                storage="FR-C", condition="fridge"))  # fmt: skip
    pk = Shelf.objects.get(code="FR-C").pk
    assert "holds 1 specimen." in text(manager.post(f"/bench/machines/shelves/{pk}/"))
    empty = Shelf.objects.get(place__code=VALLEY, code="DF-1").pk
    manager.post(f"/bench/machines/shelves/{empty}/")
    assert not Shelf.objects.filter(pk=empty).exists()


def test_the_form_names_every_fact() -> None:
    """What the model holds of a rotor the form asks for."""
    facts = {field.name for field in Centrifuge._meta.fields}
    unasked = facts - set(CentrifugeForm().fields)
    assert unasked == {"id", "place", "code", "out_since", "out_why", "out_by"}


def test_the_menu_leads_there(signed_in: Callable[[str], Client]) -> None:
    """The bench to its worklist, the manager to the machines."""
    for role, address in (("bench", "/bench/"), ("manager", "/bench/machines/")):
        page = signed_in(role).get("/").content.decode()
        assert re.search(rf'<a href="{address}">Bench</a>', page), role


def test_shelves_have_labels_that_a_scanner_reads(
    manager: Client, signed_in: Callable[[str], Client]
) -> None:
    """One shelf or all of them, for a manager and at the bench; elsewhere there is none."""
    for role in ("manager", "bench"):
        one = signed_in(role).get("/bench/storage/shelves/FR-A/label.pdf")
        assert one["Content-Type"] == "application/pdf"
        assert {code for _, code in read(one.content)} == {"FR-A"}
    every = manager.get("/bench/storage/labels.pdf").content
    codes = list(Shelf.objects.filter(place__code=VALLEY).values_list("code", flat=True))
    pages = range(len(codes))
    assert {code for page in pages for _, code in read(every, page)} == set(codes)
    assert manager.get("/bench/storage/shelves/NONE/label.pdf").status_code == 404


def test_no_label_is_said_in_a_sentence(manager: Client) -> None:
    """Paper that is too small, and no shelf at all."""
    long = {"code": "F" * 32, "name": "W" * 80, "kind": "refrigerator"}
    manager.post("/bench/machines/shelves/add/", long)
    Place.objects.filter(code=VALLEY).update(label_size="30x15")
    refused = manager.get(f"/bench/storage/shelves/{'F' * 32}/label.pdf")
    assert refused.status_code == 422
    assert "too small" in text(refused)
    Shelf.objects.all().delete()
    assert "No shelf is on the list" in text(manager.get("/bench/storage/labels.pdf"))
