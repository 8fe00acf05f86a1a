"""Which tests a specimen is for: its event says it, else the chair's sheet, else the plan."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest

from cubital.custody import Event
from cubital.desk.draw.planning import plan_for
from cubital.desk.record import selectors_way
from cubital.desk.record.models import ChairSheet
from cubital.desk.record.requisitions import accessions_give
from cubital.desk.transport import known as loaded
from cubital.desk.transport.known import known_of
from tests.desk.way import VALLEY, drawn, made, requisition, stored


def bare(number: str, *, container: str, sheet: str = "") -> list[Event]:
    """A draw whose tube names no tests."""
    row = requisition(1)
    common: dict[str, Any] = {"site": VALLEY, "who": "mira", "at": datetime.now(UTC)}
    more = {"sheet": sheet} if sheet else {}
    return [
        made("draw_begun", "draw:D-9", patient=row.patient.number, requisition=row.number,
             **more, **common),
        made("identity_confirmed", "draw:D-9", identifiers=["name"], **common),
        made("attempt_begun", "attempt:A-9", draw="D-9", **common),
        made("tube_scanned", f"specimen:{number}", draw="D-9", patient=row.patient.number,
             container=container, **common),
        made("tube_filled", f"specimen:{number}", fill="full", **common),
        made("label_matched", f"specimen:{number}", **common),
    ]  # fmt: skip


def codes(number: str) -> list[str]:
    """The tests of a specimen as the screens know them."""
    return [test.code for test in known_of(selectors_way.specimen_now(number)).tests]


def test_its_own_event_says_it_with_the_requesters_priority(clinic: datetime) -> None:
    """The order of the event, the priorities of the requisition."""
    (number,) = drawn(requisition(3), ("gel-3.5", ["crp", "bilirubin-total"]))
    known = known_of(selectors_way.specimen_now(number))
    assert [(test.code, test.priority) for test in known.tests] == [
        ("crp", 3), ("bilirubin-total", 1),
    ]  # fmt: skip


def test_else_the_chairs_sheet_says_it(clinic: datetime) -> None:
    """The sheet by which the draw was made names the tests of each tube."""
    row = requisition(1)
    ChairSheet.objects.create(
        code="sheet-1", requisition=row,
        document={"tubes": [{"accession": "T-1", "tests": ["glucose", "hba1c"]}]},
    )  # fmt: skip
    stored(*bare("T-1", container="fluoride-2", sheet="sheet-1"))
    assert codes("T-1") == ["glucose", "hba1c"]


def test_else_the_plan_says_it(clinic: datetime) -> None:
    """The container of the plan that bears this number, and no other."""
    row = requisition(1)
    planned = plan_for(row).plan.containers
    last = planned[-1]
    numbers = accessions_give(
        requisition=row, containers=[(c.position, c.container) for c in planned], day=clinic.date()
    )
    stored(*bare(numbers[last.position], container=last.container))
    assert codes(numbers[last.position]) == [test.code for test in last.tests]


def test_what_nothing_names_is_for_nothing(clinic: datetime) -> None:
    """A number of no plan: nothing is guessed."""
    stored(*bare("T-2", container="gel-3.5"))
    assert codes("T-2") == []


def test_added_tests_count_and_cancelled_ones_do_not(clinic: datetime) -> None:
    """More from the same blood, and one that will not be done."""
    row = requisition(1)
    (number,) = drawn(row, ("gel-3.5", ["sodium", "potassium"]))
    common: dict[str, Any] = {"site": VALLEY, "who": "joren", "at": datetime.now(UTC)}
    stored(
        made("tests_added", f"specimen:{number}", tests=["crp"], **common),
        made("test_cancelled", f"requisition:{row.number}", test="potassium", reason="Twice.",
             **common),
    )  # fmt: skip
    assert codes(number) == ["sodium", "crp"]


@pytest.mark.parametrize("count", [1, 5])
def test_many_are_told_in_few_queries(
    clinic: datetime, count: int, django_assert_num_queries: Any
) -> None:
    """One query for all whose events name their tests."""
    numbers = drawn(requisition(2), *([("edta-3", ["fbc"])] * count))
    specimens = list(selectors_way.specimens_now(numbers).values())
    with django_assert_num_queries(1):
        found = loaded.tests_of(specimens)
    assert found == dict.fromkeys(numbers, ("fbc",))
