"""Preparation of the patient, and what the collector must know."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cubital.catalogue import Catalogue, shipped
from cubital.catalogue.model import PatientCaution, Preparation, SiteCondition
from cubital.draw.preparation import patient_findings, preparation_findings
from cubital.finding import Finding, Severity
from cubital.requisition.values import Answers, Condition, OrderedTest, Requisition
from tests.draw.hands import MORNING, laid_over, setting, someone

TEST = "sodium"
"""A test without preparation of its own: the rows of these tests are laid over it."""


def row(need: str, low: int = 0, high: int = 0, severity: str = "ask", **more: str) -> Preparation:
    """A row of preparation for the test of this module."""
    return Preparation(
        test=more.get("test", TEST),
        need=need,
        low=low,
        high=high,
        severity=severity,
        sentence=more.get("sentence", "The patient is prepared."),
        choice=more.get("choice", ""),
        source="preparation_practice",
        layer="district",
    )


def found(
    *rows: Preparation,
    tests: tuple[str, ...] = (TEST,),
    at: datetime = MORNING,
    catalogue: Catalogue | None = None,
    choices: dict[str, str] | None = None,
    **answers: float | bool | None,
) -> tuple[Finding, ...]:
    """The findings for a requisition under these rows and answers."""
    requisition = Requisition(
        number="R-1",
        patient=someone(),
        tests=tuple(OrderedTest(code) for code in tests),
        collect_at=at,
        answers=Answers(**answers),  # type: ignore[arg-type]
    )
    return preparation_findings(requisition, catalogue or laid_over(*rows), choices or {})


def test_the_test_of_this_module_wants_no_preparation() -> None:
    """So that what is found below comes from the rows laid over."""
    assert shipped().preparation(TEST) == ()
    assert found() == ()


@pytest.mark.parametrize(
    ("need", "answer"),
    [
        ("fasting_h", "fasting_h"),
        ("after_dose_h", "since_dose_h"),
        ("seated_min", "seated_min"),
        ("supine_min", "supine_min"),
    ],
)
@pytest.mark.parametrize(("value", "met"), [(7.9, False), (8, True), (14, True), (14.1, False)])
def test_a_duration_is_met_from_low_to_high(
    need: str, answer: str, value: float, met: bool
) -> None:
    """Ends count; outside them the row's own severity."""
    findings = found(row(need, 8, 14, "stop"), **{answer: value})
    if met:
        assert findings == ()
    else:
        (finding,) = findings
        assert (finding.code, finding.severity) == ("preparation-unmet", Severity.STOP)
        assert f"{value:g}" in finding.sentence
        assert (finding.subject, finding.layer) == (TEST, "district")


def test_without_a_high_end_longer_is_met() -> None:
    """High 0 is no limit."""
    assert found(row("after_dose_h", 6), since_dose_h=400) == ()
    assert found(row("after_dose_h", 6), since_dose_h=5.9) != ()


@pytest.mark.parametrize(
    ("value", "met"), [(11.3, False), (11.4, True), (12, True), (12.6, True), (12.7, False)]
)
def test_a_single_point_in_time_has_a_tolerance(value: float, met: bool) -> None:
    """12 hours are met within 5 % of them, by the setting."""
    assert (found(row("after_dose_h", 12, 12), since_dose_h=value) == ()) == met
    strict = laid_over(row("after_dose_h", 12, 12), setting("timed_tolerance_percent", "0"))
    assert (found(catalogue=strict, since_dose_h=value) == ()) == (value == 12)


@pytest.mark.parametrize(
    ("severity", "expected"),
    [("stop", Severity.ASK), ("ask", Severity.ASK), ("note", Severity.NOTE)],
)
@pytest.mark.parametrize("need", ["fasting_h", "before_dose", "no_smoking_h", "upright_h"])
def test_what_nobody_asked_about_is_never_harder_than_ask(
    need: str, severity: str, expected: Severity
) -> None:
    """Not known is not the same as not met."""
    (finding,) = found(row(need, 8, 0, severity))
    assert (finding.code, finding.severity) == ("preparation-unknown", expected)
    assert "ask before the draw" in finding.sentence


@pytest.mark.parametrize(("due", "code"), [(True, ""), (False, "unmet"), (None, "unknown")])
def test_before_the_next_dose(due: bool | None, code: str) -> None:
    """Met only while the next dose has not been given."""
    codes = [finding.code for finding in found(row("before_dose"), next_dose_due=due)]
    assert codes == ([f"preparation-{code}"] if code else [])


@pytest.mark.parametrize(
    ("low", "high", "clock", "met"),
    [
        (8, 9, "07:59", False),
        (8, 9, "08:00", True),
        (8, 9, "09:00", True),
        (8, 9, "09:01", False),
        (22, 2, "23:30", True),
        (22, 2, "01:59", True),
        (22, 2, "12:00", False),
    ],
)
def test_a_window_of_the_clock(low: int, high: int, clock: str, met: bool) -> None:
    """In the requisition's own time zone, ends counted, over midnight where it runs so."""
    hour, minute = map(int, clock.split(":"))
    at = MORNING.replace(hour=hour, minute=minute)
    findings = found(row("clock_from_to", low, high), at=at)
    assert (findings == ()) == met
    assert all(clock in finding.sentence for finding in findings)


def test_the_time_of_the_draw_goes_before_the_time_asked_for() -> None:
    """A draw that happens later than it was asked for is held against its own time."""
    requisition = Requisition("R-1", someone(), (OrderedTest(TEST),), MORNING)
    catalogue = laid_over(row("clock_from_to", 8, 9))
    assert preparation_findings(requisition, catalogue, {}) == ()
    late = MORNING.replace(hour=11)
    assert preparation_findings(requisition, catalogue, {}, at=late) != ()


def test_tests_that_want_the_same_share_one_finding() -> None:
    """One question for the patient, both names in it; another sentence is another finding."""
    rows = [row("fasting_h", 8, test=test) for test in ("sodium", "potassium")]
    other = row("fasting_h", 8, test="chloride", sentence="No food, no tea.")
    findings = found(*rows, other, tests=("sodium", "potassium", "chloride"))
    assert len(findings) == 2
    names = [shipped().tests[test].name for test in ("sodium", "potassium")]
    assert findings[0].sentence.startswith(f"{names[0]}, {names[1]}: ")
    assert [finding.subject for finding in findings] == ["sodium", "chloride"]


def test_rows_of_another_choice_do_not_hold() -> None:
    """A row under an option counts when that option is chosen."""
    mine = row("fasting_h", 8, choice="heel-depth:mm_2_4")
    assert found(mine) == ()
    assert len(found(mine, choices={"heel-depth": "mm_2_4"})) == 1


@given(st.floats(0, 100), st.floats(0, 100))
def test_longer_fasting_is_never_worse_where_there_is_no_high_end(one: float, other: float) -> None:
    """Met once, met for longer."""
    low, high = sorted((one, other))
    if not found(row("fasting_h", 10), fasting_h=low):
        assert found(row("fasting_h", 10), fasting_h=high) == ()


def test_the_shipped_rows_can_all_be_met_or_asked() -> None:
    """Every shipped row gives an unknown finding, or a clock one, for a blank requisition."""
    night = MORNING.replace(hour=3)
    for test in {prepared.test for prepared in shipped().rows(Preparation)}:
        findings = found(tests=(test,), catalogue=shipped(), at=night)
        assert findings
        assert all(finding.source in shipped().sources for finding in findings)


# ---------------------------------------------------------------- the patient


def about(*codes: str, catalogue: Catalogue | None = None) -> tuple[Finding, ...]:
    """What the collector is told about a patient with these conditions."""
    patient = someone(conditions=tuple(Condition(code) for code in codes))
    return patient_findings(patient, catalogue or shipped())


def test_every_caution_is_said_with_its_own_severity() -> None:
    """Allergies, anticoagulants, fainting, isolation: the row's sentence and severity."""
    for caution in shipped().rows(PatientCaution):
        (finding,) = about(caution.condition)
        assert finding.severity == caution.severity
        assert (finding.sentence, finding.source) == (caution.sentence, caution.source)
        assert finding.subject == caution.condition


def test_conditions_of_sites_are_left_to_the_sites() -> None:
    """A condition that is in both tables is said, one of sites alone is not."""
    cautions = {caution.condition for caution in shipped().rows(PatientCaution)}
    for condition in shipped().rows(SiteCondition):
        assert bool(about(condition.condition)) == (condition.condition in cautions)


def test_an_unknown_condition_is_not_lost() -> None:
    """A note that asks what it means."""
    (finding,) = about("ostrel_fever")
    assert (finding.code, finding.severity) == ("condition-unknown", Severity.NOTE)
    assert "ostrel_fever" in finding.sentence
    assert finding.source in shipped().sources


def test_a_condition_noted_twice_is_said_once() -> None:
    """Left and right of the same caution give one sentence."""
    assert len(about("fainting_history", "latex_allergy", "fainting_history")) == 2


def test_a_laboratory_changes_a_severity() -> None:
    """Its own row decides."""
    caution = next(r for r in shipped().rows(PatientCaution) if r.condition == "fainting_history")
    mine = laid_over(replace(caution, severity="stop", layer="district"))
    (finding,) = about("fainting_history", catalogue=mine)
    assert (finding.severity, finding.layer) == (Severity.STOP, "district")
