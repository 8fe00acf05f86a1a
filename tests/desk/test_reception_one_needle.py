"""Two tubes refused from one requisition are one recollection, while it can still be one needle."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.utils import timezone

from cubital.desk.record import recollections, requisitions
from cubital.desk.record.models import Person, Requisition
from cubital.desk.record.overrides import override_give
from cubital.desk.record.rebuild import rebuild
from cubital.finding import Finding, Severity
from tests.desk.test_reception import decide, last, received
from tests.desk.way import drawn, requisition

Sign = Callable[[str], Client]
GEL, SECOND = ("gel-3.5", ["potassium"]), ("gel-3.5", ["creatinine"])


@pytest.fixture
def bench(signed_in: Sign) -> Client:
    """Somebody at the bench of the valley's laboratory."""
    return signed_in("bench")


def refused(client: Client, tube: tuple[str, list[str]], **seen: str) -> str:
    """A tube of the second requisition, refused and asked for again; gives its number."""
    code = received(client, requisition(2), tube)
    answer = decide(client, code, ask_again="on", **(seen or {"leaking": "yes"}))
    assert answer.status_code == 302, answer.content.decode()
    return code


def again() -> list[Requisition]:
    """The recollections of the second requisition, in the order of their numbers."""
    rows = Requisition.objects.filter(number__startswith=f"{requisition(2).number}-R")
    return list(rows.order_by("number"))


def test_two_refused_tubes_are_one_requisition_and_one_plan(bench: Client) -> None:
    """The second adds its tests; each specimen has its event and reason, the remarks name both."""
    one, two = refused(bench, GEL, haemolysis="6"), refused(bench, SECOND, leaking="yes")
    (row,) = again()
    assert [test.code for test in row.tests.all()] == ["potassium", "creatinine"]
    assert [test["code"] for test in row.document["tests"]] == ["potassium", "creatinine"]
    for code, reason, test in ((one, "haemolysed", "potassium"), (two, "leaking", "creatinine")):
        asked = last(code, "recollection_asked").payload
        assert (asked["reason"], asked["tests"]) == (reason, [test])
        assert asked["note"] == f"requisition {row.number}"
        assert row.number in bench.get(f"/reception/specimens/{code}/").content.decode()
    assert row.remarks.startswith(f"Recollection of {requisition(2).number}: Potassium")
    assert f"Also {two}: It leaks" in row.remarks
    assert row.document["remarks"] == row.remarks
    shown = bench.get(f"/requisitions/{row.number}/")
    (tube,) = shown.context["page"].tubes
    assert len(tube.tests) == 2
    assert two in shown.content.decode()
    assert rebuild(only_compare=True).equal


def test_the_same_test_of_two_tubes_is_asked_once(bench: Client) -> None:
    """Both reasons stay, the test stands once."""
    refused(bench, GEL)
    two = refused(bench, GEL)
    (row,) = again()
    assert [test.code for test in row.tests.all()] == ["potassium"]
    assert two in row.remarks


def numbered(row: Requisition) -> None:
    """A label of it was printed."""
    requisitions.accessions_give(
        requisition=row, containers=[(1, "gel-3.5")], day=timezone.localdate()
    )


def begun(row: Requisition) -> None:
    """Its draw began."""
    drawn(row, ended=False)


def cancelled(row: Requisition) -> None:
    """Somebody took it back."""
    requisitions.requisition_cancel(requisition=row, why="Not wanted.", now=timezone.now())


@pytest.mark.parametrize("happened", [numbered, begun, cancelled])
def test_what_is_on_its_way_already_is_left_as_it_is(
    bench: Client, happened: Callable[[Requisition], None]
) -> None:
    """A label printed, a draw begun, or taken back: the next refusal makes a new requisition."""
    refused(bench, GEL)
    (row,) = again()
    happened(row)
    refused(bench, SECOND)
    one, two = again()
    assert [test.code for test in one.tests.all()] == ["potassium"]
    assert [test.code for test in two.tests.all()] == ["creatinine"]
    assert two.number.endswith("-R2")
    third = f"{requisition(2).number}-R3"
    assert recollections.recollection_number(one.number) == third


def test_a_rule_gone_past_for_less_blood_does_not_hold_for_more(
    bench: Client, signed_in: Sign
) -> None:
    """An override on the plan was said of that plan: the tests of the next refusal stand apart."""
    refused(bench, GEL)
    (row,) = again()
    asks = Finding("blood-limit-confirm", Severity.ASK, "It is much blood.", "", row.number)
    override_give(
        requisition=row, finding=asks, why="The ward asked.",
        by=Person.objects.get(username="mira"), now=timezone.now(),
    )  # fmt: skip
    refused(bench, SECOND)
    assert len(again()) == 2
