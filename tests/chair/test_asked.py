"""What is still asked about the preparation, and what a "no" stops."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

from cubital.catalogue import shipped
from cubital.chair.asked import asked_to, preparation_asked, stopped_tests, without_tests
from cubital.draw import plan_draw
from cubital.requisition.values import Answers, OrderedTest, Patient, Requisition

AT = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)


def requisition(*codes: str, **answers: float) -> Requisition:
    """A requisition of an adult."""
    patient = Patient("1", "Ash", "Bo", AT.date().replace(year=1980), "female", weight_g=60_000)
    tests = tuple(OrderedTest(code) for code in codes)
    return Requisition("R-1", patient, tests, AT, "Dr Halvek", answers=Answers(**answers))


def asked(order: Requisition):
    """What is asked for it."""
    return preparation_asked(order, shipped(), {}, at=AT)


def test_what_is_not_known_is_asked_and_what_is_met_is_not() -> None:
    """Lithium wants 12 hours since the dose: unknown, met, not met."""
    (unknown,) = asked(requisition("lithium"))
    assert (unknown.need, unknown.state, unknown.tests) == ("after_dose_h", "unknown", ("lithium",))
    assert asked(requisition("lithium", since_dose_h=12)) == ()
    (unmet,) = asked(requisition("lithium", since_dose_h=3))
    assert unmet.state == "unmet"
    assert asked_to(unmet)["tests"] == ["lithium"]


def test_tests_that_want_the_same_are_asked_about_once() -> None:
    """Renin and aldosterone share one question."""
    needs = {each.need: each.tests for each in asked(requisition("renin", "aldosterone"))}
    assert needs["upright_h"] == ("renin", "aldosterone")


def test_a_demand_that_stops_takes_its_tests_out_of_the_plan() -> None:
    """Digoxin three hours after the dose is not drawn; the tube stays for the other test."""
    order = requisition("digoxin", "renal", "pt-inr", since_dose_h=3)
    order = replace(order, tests=tuple(OrderedTest(c) for c in ("digoxin", "creatinine", "pt-inr")))
    stopped = stopped_tests(asked(order))
    assert stopped == ("digoxin",)
    plan = without_tests(plan_draw(order, shipped(), now=AT), stopped)
    drawn = {test.code for container in plan.containers for test in container.tests}
    assert drawn == {"creatinine", "pt-inr"}


def test_a_tube_that_serves_nothing_else_is_not_drawn() -> None:
    """And where nothing is left, no discard tube is drawn either."""
    order = requisition("digoxin", "fbc", since_dose_h=3)
    plan = plan_draw(order, shipped(), now=AT)
    less = without_tests(plan, ("digoxin",))
    assert [c.position for c in less.containers] == [
        c.position for c in plan.containers if any(t.code == "fbc" for t in c.tests)
    ]
    assert without_tests(plan, ("digoxin", "fbc")).containers == ()
