"""One requisition as JSON, and back."""

import json
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import cubital.requisition
from cubital.catalogue import Catalogue, shipped
from cubital.errors import RequisitionError
from cubital.requisition import requisition_from, requisition_to
from cubital.requisition.values import (
    Answers,
    Condition,
    OrderedTest,
    Patient,
    PriorDraw,
    Requisition,
)
from tests.requisition.conftest import NOW
from tests.requisition.examples import WHOLE, small

SCHEMA = json.loads(
    (Path(cubital.requisition.__file__).parent / "schema" / "requisition-1.json").read_text("utf-8")
)
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)


def read(document: Any) -> Requisition:
    """Read with the shipped tables on 2 March 2026."""
    return requisition_from(document, catalogue=shipped(), now=NOW)


def test_a_whole_requisition_is_read_and_written_back():
    """Nothing is lost or made up on the way."""
    requisition = read(WHOLE)
    assert requisition.patient.conditions == (Condition("mastectomy", "left"),)
    assert requisition.tests[0] == OrderedTest("potassium", 1)
    assert requisition.answers == Answers(10.5, None, False, 15.0, None)
    assert requisition_to(requisition) == WHOLE
    VALIDATOR.validate(WHOLE)


def test_what_is_left_out_has_its_default():
    """Unknown stays unknown; the time is now, the priority the usual one."""
    requisition = read(small())
    assert requisition.patient == Patient("OV-0417", "Sorrel")
    assert requisition.collect_at == NOW
    assert requisition.tests == (OrderedTest("potassium", 5),)
    assert requisition.answers == Answers()
    assert not requisition.urgent


def test_a_time_without_a_zone_gets_that_of_the_place():
    """Half past seven on the ward's clock."""
    requisition = read(small(collect_at="2026-03-02T07:30"))
    assert requisition.collect_at == datetime(2026, 3, 2, 7, 30, tzinfo=NOW.tzinfo)
    elsewhere = read(small(collect_at="2026-03-02T07:30Z"))
    assert elsewhere.collect_at - requisition.collect_at == timedelta(hours=5, minutes=45)


def test_now_needs_a_zone():
    """A time nobody can place is refused, not guessed."""
    with pytest.raises(RequisitionError, match="no time zone"):
        requisition_from(small(), catalogue=shipped(), now=datetime(2026, 3, 2))  # noqa: DTZ001


REFUSED: list[tuple[dict[str, Any], str]] = [
    (small(number=""), "number: the field is empty. Write it."),
    (small(number="  "), "number: the field is empty. Write it."),
    (small(number="9" * 65), "number: the text has 65 signs. Write at most 64."),
    (small(number=7), "number: 7 cannot be used. Write a text."),
    (small(schema="cubital.requisition/2"),
     "schema: the shape “cubital.requisition/2” is not known. Write cubital.requisition/1."),
    (small(weight=3), ("weight: no field is called “weight”. Fields are schema, number, patient, "
     "tests, collect_at, requester, ward, urgent, answers, remarks.")),
    (small(collectat="x"), "collectat: no field is called “collectat”. Write collect_at."),
    (small(patient=None), "patient: the patient is missing. Write who the patient is."),
    (small(patient=[]), ("patient: a list stands where an object is needed. "
     "Write { … } with fields.")),
    (small(tests=[]), "tests: no test is asked for. Name at least one test or panel."),
    (small(tests="potassium"), "tests: “potassium” cannot be used. Write a list: [ … ]."),
    (small(tests=["potassium"] * 501), "tests: the list has 501 entries. Write at most 500."),
    (small(tests=["potassium", "glucos"]),
     "tests[2].code: no test or panel is called “glucos”. Did you mean glucose"),
    (small(tests=["qqqqq"]),
     "tests[1].code: no test or panel is called “qqqqq”. Look its code up."),
    (small(tests=[{"code": "potassium", "priority": 0}]),
     ("tests[1].priority: the priority 0 cannot be. "
     "Write a whole number from 1 (wanted most) to 99.")),
    (small(tests=[{"code": "potassium", "through": [3]}]),
     "tests[1].through: a list cannot be used. Write codes of panels, outermost first."),
    (small(collect_at="tomorrow"),
     ("collect_at: “tomorrow” cannot be used. "
     "Write a date and time such as 2026-03-02T07:30 or 2026-03-02T07:30+01:00.")),
    (small(collect_at="2026-02-30T07:30"), "collect_at: “2026-02-30T07:30” cannot be used. "),
    (small(collect_at="7\n30"), "collect_at: “7·30” cannot be used. "),
    (small(collect_at="2062-03-02T07:30"),
     "collect_at: 2062-03-02 is over 2 years ahead. Look the year up."),
    (small(collect_at="9999-12-31T23:59-14:00"), "collect_at: “9999-12-31T23:59-14:00” cannot"),
    (small(collect_at="0001-01-01T00:00"), "collect_at: “0001-01-01T00:00” cannot be used. "),
    (small(collect_at="1988-03-02T07:30", patient_birth_date="1988-11-05"),
     ("collect_at: 1988-03-02 is before the birth of the patient on 1988-11-05. "
      "Look both dates up.")),
    (small(patient_family_name="So\u202erre"),
     "patient.family_name: the text holds a control sign (U+202E). Take it out."),
    (small(urgent="yes"), "urgent: “yes” cannot be used. Write true or false."),
    (small(ward="a\x07b"), "ward: the text holds a control sign (U+0007). Take it out."),
    (small(ward="two\nlines"), "ward: the text holds a control sign (U+000A). Take it out."),
    (small(remarks="x" * 2001), "remarks: the text has 2001 signs. Write at most 2000."),
    (small(patient_weight_g=-3000), ("patient.weight_g: -3000 g cannot be. "
     "Write whole grams, for example 61000 for 61 kg.")),
    (small(patient_weight_g=61), ("patient.weight_g: 61 g cannot be. "
     "Write whole grams, for example 61000 for 61 kg.")),
    (small(patient_weight_g=61.5), "patient.weight_g: 61.5 cannot be used. Write whole grams"),
    (small(patient_weight_g=True), "patient.weight_g: true cannot be used. Write whole grams"),
    (small(patient_height_mm=165),
     ("patient.height_mm: 165 mm cannot be. Write whole millimetres, for example 1650.")),
    (small(patient_haematocrit_percent=0), ("patient.haematocrit_percent: 0 percent cannot be. "
     "Write percent, for example 42.")),
    (small(patient_haematocrit_percent=0.42), ("patient.haematocrit_percent: 0.42 percent cannot "
     "be. Write percent, for example 42.")),
    (small(patient_weight_g=float("inf")), "patient.weight_g: so large a number cannot be used. "),
    (small(patient_haematocrit_percent=float("nan")),
     "patient.haematocrit_percent: nan cannot be used. Write percent, for example 42."),
    (small(patient_birth_date="2026-03-03"),
     "patient.birth_date: the birth date 2026-03-03 lies in the future. Look the date up."),
    (small(patient_birth_date="1875-01-01"),
     "patient.birth_date: the birth date 1875-01-01 is over 150 years ago. Look the year up."),
    (small(patient_birth_date="05.11.1988"),
     "patient.birth_date: “05.11.1988” cannot be used. Write a date such as 1961-04-03."),
    (small(patient_sex="f"), ("patient.sex: “f” cannot be used. "
     "Write one of female, male, other, unknown.")),
    (small(patient_veins="bad"), ("patient.veins: “bad” cannot be used. "
     "Write one of good, thin, fragile, hand, unknown.")),
    (small(patient_conditions=[{"code": "mastectomie"}]),
     "patient.conditions[1].code: “mastectomie” is not known. Did you mean mastectomy?"),
    (small(patient_conditions=[{"code": "mastectomy", "site": "elbow-ish"}]),
     "patient.conditions[1].site: “elbow-ish” is not known. Write a code of sites.csv."),
    (small(patient_conditions=[{"code": "mastectomy", "side": "l"}]),
     "patient.conditions[1].side: “l” cannot be used. Write one of left, right, both."),
    (small(patient_prior_draws=[{"taken_at": "2026-03-03T07:00", "volume_ul": 9000}]),
     ("patient.prior_draws[1].taken_at: the blood taken at 2026-03-03 07:00 lies in the future. "
     "Look the time up.")),
    (small(patient_prior_draws=[{"taken_at": "2026-03-01T07:00"}]),
     "patient.prior_draws[1].volume_ul: the field is missing. Write when and how much."),
    (small(patient_prior_draws=[{"taken_at": "2026-03-01T07:00", "volume_ul": 0}]),
     ("patient.prior_draws[1].volume_ul: 0 µL cannot be. "
     "Write whole microlitres, for example 9000 for 9 mL.")),
    (small(answers={"fasting_h": -1}), ("answers.fasting_h: -1 hours cannot be. "
     "Write hours of 0 or more, or leave it out when it is not known.")),
    (small(answers={"fasting": 1}), ("answers.fasting: no field is called “fasting”. "
     "Write fasting_h.")),
]  # fmt: skip


@pytest.mark.parametrize(("document", "sentence"), REFUSED)
def test_a_bad_field_is_refused_with_one_sentence(document: dict[str, Any], sentence: str):
    """Where it stands, what is wrong with it, what to write."""
    with pytest.raises(RequisitionError) as caught:
        read(document)
    assert str(caught.value).startswith(sentence)
    assert "\n" not in str(caught.value)


IN_TABLES_OR_TIME_ALONE = (
    "no test or panel", "is not known", "in the future", "150 years", "02-30", "control sign",
    "nan cannot", "years ahead", "before the birth", "9999-12-31", "0001-01-01",
)  # fmt: skip


@pytest.mark.parametrize(("document", "sentence"), REFUSED)
def test_the_schema_refuses_what_the_reader_refuses(document: dict[str, Any], sentence: str):
    """But for what only the tables, the calendar or the clock can tell."""
    told_by_schema = not VALIDATOR.is_valid(document)
    only_here = any(part in sentence for part in IN_TABLES_OR_TIME_ALONE)
    assert told_by_schema or only_here or not str(document["number"]).strip()


def test_the_schema_is_sound():
    """It is a JSON Schema, and its first example of everything passes."""
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    assert VALIDATOR.is_valid(small())
    assert VALIDATOR.is_valid(WHOLE)


CATALOGUE: Catalogue = shipped()
lines = st.text(
    st.characters(exclude_categories=("C", "Z")) | st.just(" "), max_size=30
).map(str.strip)  # fmt: skip
moments = st.datetimes(
    datetime(2025, 12, 1), datetime(2026, 3, 1), timezones=st.just(NOW.tzinfo)  # noqa: DTZ001
)  # fmt: skip
durations = st.none() | st.floats(0, 1000).map(lambda x: round(x, 3))
requisitions = st.builds(
    Requisition,
    number=lines.filter(bool),
    patient=st.builds(
        Patient,
        number=lines,
        family_name=lines,
        given_name=lines,
        birth_date=st.none() | st.dates(date(1900, 1, 1), date(2025, 11, 30)),
        sex=st.sampled_from(["female", "male", "other", "unknown"]),
        weight_g=st.none() | st.integers(500, 200_000),
        height_mm=st.none() | st.integers(300, 2_200),
        haematocrit_percent=st.none() | st.floats(1, 99),
        veins=st.sampled_from(["good", "thin", "fragile", "hand", "unknown"]),
        conditions=st.lists(
            st.builds(
                Condition,
                st.sampled_from(sorted(CATALOGUE.conditions)),
                st.sampled_from(["left", "right", "both", ""]),
                st.sampled_from(["", *CATALOGUE.sites]),
            ),
            max_size=3,
        ).map(tuple),
        prior_draws=st.lists(
            st.builds(PriorDraw, moments, st.integers(1, 30_000)), max_size=3
        ).map(tuple),
    ),
    tests=st.lists(
        st.builds(
            OrderedTest,
            st.sampled_from(sorted(CATALOGUE.tests)),
            st.integers(1, 99),
            st.lists(st.sampled_from(sorted(CATALOGUE.panels)), max_size=2).map(tuple),
        ),
        min_size=1,
        max_size=6,
        unique_by=lambda test: test.code,
    ).map(tuple),
    collect_at=moments,
    requester=lines,
    ward=lines,
    urgent=st.booleans(),
    answers=st.builds(
        Answers, durations, durations, st.none() | st.booleans(), durations, durations
    ),
    remarks=lines,
)  # fmt: skip


@settings(max_examples=80)
@given(requisitions)
def test_every_requisition_goes_to_json_and_back(requisition: Requisition):
    """Through text, by the schema, and equal again."""
    document = json.loads(json.dumps(requisition_to(requisition)))
    VALIDATOR.validate(document)
    assert read(document) == requisition


def test_a_time_that_the_clocks_leave_out_is_refused_not_guessed():
    """With its offset it is taken; of an hour that comes twice the first is meant."""
    now = datetime(2026, 3, 28, 8, tzinfo=ZoneInfo("Europe/Berlin"))
    gap = small(collect_at="2026-03-29T02:30")
    with pytest.raises(RequisitionError, match="the clocks go forward over 2026-03-29 02:30"):
        requisition_from(gap, catalogue=CATALOGUE, now=now)
    told = requisition_from(
        small(collect_at="2026-03-29T02:30+01:00"), catalogue=CATALOGUE, now=now
    )
    assert told.collect_at == datetime(2026, 3, 29, 1, 30, tzinfo=UTC)
    twice = requisition_from(small(collect_at="2026-10-25T02:30"), catalogue=CATALOGUE, now=now)
    assert twice.collect_at.astimezone(UTC) == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)


def test_a_newborns_blood_is_wanted_by_the_days_of_the_place():
    """Just after midnight here it is still the day before in UTC."""
    wanted = small(collect_at="2026-03-01T19:00Z", patient_birth_date="2026-03-02")
    assert read(wanted).patient.birth_date == date(2026, 3, 2)
