"""
Blood volume by age, and how much of it may be taken.

Sources beside each check: Linderkamp et al. 1977, Table 1 (as a collection of formulas quotes it);
the Harriet Lane Handbook (as a research office quotes it); Nadler et al. 1962 (as a calculator
quotes it); Howie, Bull World Health Organ 2011;89:46 (abstract read); a research institute's
guidance on blood draw limits (read); Dallman 1977 (as a hospital page quotes it).
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from cubital.catalogue import shipped
from cubital.catalogue.model import BloodLimit, Haematocrit
from cubital.draw.allowance import allowance, blood_volume_row, nadler_ul, total_blood_volume_ul
from cubital.requisition.values import Patient

MONTH = 30.4375
YEAR = 365.25
NOW = datetime(2026, 3, 2, 8, tzinfo=UTC)

# Age in days, boys, girls: mL/kg, Linderkamp 1977, Table 1.
LINDERKAMP = [
    (1, 81.9, 81.9),
    (15, 84.4, 84.4),
    (1.5 * MONTH, 79.4, 79.4),
    (4 * MONTH, 76.6, 76.6),
    (9 * MONTH, 82.4, 82.4),
    (18 * MONTH, 86.1, 86.1),
    (3 * YEAR, 80.5, 79.0),
    (5 * YEAR, 76.7, 77.4),
    (8 * YEAR, 79.6, 72.7),
    (12 * YEAR, 74.4, 68.3),
]

# Age in days, mL/kg: Harriet Lane Handbook.
HARRIET_LANE = [
    (5, 80),
    (6 * MONTH, 75),
    (2 * YEAR, 75),
    (5 * YEAR, 80),
    (10 * YEAR, 85),
    (40 * YEAR, 70),
]


def per_kg(age_days: float, sex: str, option: str) -> int:
    """The mL per kg of an option."""
    row = blood_volume_row(int(age_days), sex, shipped(), {"tbv-per-kg": option})
    assert row is not None
    return row.ml_per_kg


def child(age_days: float, weight_g: int) -> Patient:
    """A child of an age and weight at ``NOW``."""
    born = NOW.date() - timedelta(days=int(age_days))
    return Patient("1", "Test", birth_date=born, sex="female", weight_g=weight_g)


@pytest.mark.parametrize(("age", "boys", "girls"), LINDERKAMP)
def test_measured_volumes(age: float, boys: float, girls: float) -> None:
    """Linderkamp 1977, Table 1, to the nearest mL (80.5 down)."""
    for sex, published in (("male", boys), ("female", girls)):
        assert abs(per_kg(age, sex, "linderkamp_1977") - published) <= 0.5


@pytest.mark.parametrize(("age", "published"), HARRIET_LANE)
def test_handbook_volumes(age: float, published: int) -> None:
    """Harriet Lane Handbook."""
    assert per_kg(age, "male", "harriet_lane") == published


@pytest.mark.parametrize(("age", "boys", "girls"), LINDERKAMP)
def test_default_takes_no_more_than_any_source(age: float, boys: float, girls: float) -> None:
    """Sources disagree: the shipped default never counts on more blood than one of them."""
    for sex, published in (("male", boys), ("female", girls)):
        default = per_kg(age, sex, "lower_of_both")
        assert default <= min(published + 0.5, per_kg(age, sex, "harriet_lane"))


def test_infant_of_four_kilograms() -> None:
    """4.0 kg × 77 mL (Linderkamp 1977, 3 to 6 months) is 308 mL, and 1 % of it 3.1 mL."""
    choices = {"tbv-per-kg": "linderkamp_1977", "blood-limit": "eu_2008"}
    infant = child(4 * MONTH, 4000)
    total, _ = total_blood_volume_ul(infant, shipped(), choices, NOW.date())
    assert total == 308_000
    left = allowance(infant, shipped(), choices, NOW)
    assert left.ask_left_ul == 3080


@pytest.mark.parametrize(
    ("sex", "height_mm", "weight_g", "litres"),
    [("male", 1750, 70_000, 4.824), ("female", 1600, 55_000, 3.461)],
)
def test_nadler(sex: str, height_mm: int, weight_g: int, litres: float) -> None:
    """Nadler 1962: 0.3669 h³ + 0.03219 w + 0.6041, and 0.3561 h³ + 0.03308 w + 0.1833."""
    assert nadler_ul(height_mm, weight_g, sex, shipped()) / 1e6 == pytest.approx(litres, abs=6e-4)


def test_every_child_limit_lies_within_what_guidelines_say() -> None:
    """Howie 2011: guidelines allow 1 to 5 % in 24 hours and at most 10 % in 8 weeks."""
    children = [
        row
        for row in shipped().rows(BloodLimit)
        if row.age_from_days < 18 * 365 and row.measure == "percent_of_tbv"
    ]
    assert children
    for row in children:
        assert row.value >= 1
        assert row.value <= (5 if row.window_h == 24 else 10)


def test_ill_children_give_less_than_well_ones() -> None:
    """A research institute: well 3 % a day and 10 % a month, ill 2.5 % and 5 %."""
    found = {
        (row.policy, row.window_h): row.value
        for row in shipped().rows(BloodLimit)
        if row.policy in ("well_3_10", "ill_2_5") and row.age_from_days == 0
    }
    assert found == {
        ("well_3_10", 24): 3,
        ("well_3_10", 720): 10,
        ("ill_2_5", 24): 2.5,
        ("ill_2_5", 720): 5,
    }


def test_three_percent_is_never_stopped_by_default() -> None:
    """Peplow 2019: 629 draws of up to 3 % of the blood without a sign of anaemia."""
    left = allowance(child(5 * YEAR, 18_000), shipped(), {}, NOW)
    assert left.total_blood_volume_ul is not None
    assert left.stop_left_ul is not None
    assert left.stop_left_ul >= 0.03 * left.total_blood_volume_ul


# Age in days, sex, mean, lower end (mean less 2 SD): haematocrit in percent, Dallman 1977.
DALLMAN = [
    (2, "male", 56, 45),
    (7, "male", 54, 42),
    (14, "male", 51, 39),
    (1.2 * MONTH, "male", 43, 31),
    (2.2 * MONTH, "male", 35, 28),
    (4 * MONTH, "male", 35, 29),
    (1 * YEAR, "male", 36, 33),
    (4 * YEAR, "male", 37, 34),
    (9 * YEAR, "male", 40, 35),
    (15 * YEAR, "female", 41, 36),
    (15 * YEAR, "male", 43, 37),
    (30 * YEAR, "female", 41, 36),
    (30 * YEAR, "male", 47, 41),
]


@pytest.mark.parametrize(("age", "sex", "mean", "low"), DALLMAN)
def test_high_end_of_the_haematocrit(age: float, sex: str, mean: int, low: int) -> None:
    """Dallman 1977: the high end lies as far above the mean as the low end below it."""
    found = [
        row.percent
        for row in shipped().rows(Haematocrit)
        if row.age_from_days <= int(age) < row.age_to_days and row.sex in ("any", sex)
    ]
    assert found == [2 * mean - low]
