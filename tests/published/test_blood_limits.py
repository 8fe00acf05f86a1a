"""
Blood volume and blood limits.

Outside: Nadler, Hidalgo and Bloch 1962 (formula as quoted by a calculator; the figures are worked
out by hand from it), Linderkamp 1977 and a paediatric handbook as quoted, Howie 2011 (read).
"""

from __future__ import annotations

import pytest

from cubital.catalogue import shipped
from cubital.draw.allowance import allowance, nadler_ul, total_blood_volume_ul
from cubital.finding import Severity
from cubital.requisition.values import PriorDraw
from tests.draw.hands import MORNING, TODAY, drawn_before, someone

YEAR = 365.25


@pytest.mark.parametrize(
    ("sex", "height_mm", "weight_g", "litres"),
    [("male", 1750, 70_000, 4.824), ("female", 1600, 55_000, 3.461)],
)
def test_nadler(sex: str, height_mm: int, weight_g: int, litres: float) -> None:
    """Nadler 1962: a man of 1.75 m and 70 kg has 4.824 L, a woman of 1.60 m and 55 kg 3.461 L."""
    volume = nadler_ul(height_mm, weight_g, sex, shipped())
    assert volume / 1_000_000 == pytest.approx(litres, abs=0.0006)
    patient = someone(sex=sex, height_mm=height_mm, weight_g=weight_g)
    chosen = total_blood_volume_ul(patient, shipped(), {"tbv-adult": "nadler"}, TODAY)
    assert chosen[0] == volume


@pytest.mark.parametrize(
    ("age", "ml_per_kg"), [(0.04, 80), (0.5, 75), (2.5, 75), (5, 80), (10, 85), (40, 70)]
)
def test_handbook_volumes_by_age(age: float, ml_per_kg: int) -> None:
    """The Harriet Lane Handbook as quoted: term 80, to 3 years 75, 4-6 80, 7-18 85, adult 70."""
    patient = someone(int(age * YEAR), weight_g=10_000)
    choices = {"tbv-per-kg": "harriet_lane", "tbv-adult": "per_kg"}
    assert total_blood_volume_ul(patient, shipped(), choices, TODAY)[0] == 10_000 * ml_per_kg


@pytest.mark.parametrize(
    ("days", "sex", "ml_per_kg"),
    [
        (1, "male", 82),
        (14, "male", 84),
        (45, "male", 79),
        (150, "male", 77),
        (300, "male", 82),
        (500, "male", 86),
        (1000, "male", 80),
        (2000, "male", 77),
        (3200, "male", 80),
        (3200, "female", 73),
        (4700, "male", 74),
        (4700, "female", 68),
    ],
)
def test_measured_volumes_by_age(days: int, sex: str, ml_per_kg: int) -> None:
    """Linderkamp 1977 as quoted, by age and from seven years on by sex."""
    patient = someone(days, sex=sex, weight_g=10_000)
    volume, _ = total_blood_volume_ul(patient, shipped(), {"tbv-per-kg": "linderkamp_1977"}, TODAY)
    assert volume == 10_000 * ml_per_kg


def test_an_infant_of_four_kilograms() -> None:
    """
    4.0 kg at 77 mL a kg is 308 mL: 1 % is 3.1 mL, 2.5 % 7.7 mL, 5 % 15.4 mL.

    The percentages are those of Howie 2011 (1 to 5 % in 24 hours) and of an often cited 2.5 %.
    """
    infant = someone(120, weight_g=4000)
    measured = {"tbv-per-kg": "linderkamp_1977"}
    day = {
        limit.severity: limit.limit_ul
        for limit in allowance(infant, shipped(), measured, MORNING).limits
        if limit.window_h == 24
    }
    assert day == {Severity.ASK: 3080, Severity.STOP: 15_400}
    ill = allowance(infant, shipped(), {**measured, "blood-limit": "ill_2_5"}, MORNING)
    assert ill.stop_left_ul == 7700


@pytest.mark.parametrize("weeks", [1, 3, 7])
def test_no_policy_for_children_passes_a_tenth_in_eight_weeks(weeks: int) -> None:
    """Howie 2011: at most 10 % in eight weeks; its own policy stops there whenever it was taken."""
    taken = (drawn_before(weeks * 7 * 24, 60_000),)
    child = someone(1200, weight_g=10_000, prior_draws=taken)
    choices = {"blood-limit": "howie_2011", "tbv-per-kg": "harriet_lane"}
    allowed = allowance(child, shipped(), choices, MORNING)
    assert allowed.stop_left_ul == 75_000 - 60_000


def test_three_millilitres_a_kilogram() -> None:
    """From memory, often cited: a sick child gives at most 3 mL a kg in 24 hours."""
    child = someone(1200, weight_g=12_000, prior_draws=(drawn_before(3, 6000),))
    allowed = allowance(child, shipped(), {"blood-limit": "ml_per_kg_3"}, MORNING)
    assert allowed.stop_left_ul == 36_000 - 6000


def test_the_default_is_never_wider_than_howie() -> None:
    """Howie 2011: 5 % in 24 hours and 10 % in eight weeks are the most any guideline gives."""
    for weight in (900, 3500, 12_000, 40_000):
        for prior in ((), (PriorDraw(MORNING, weight * 2),)):
            child = someone(1200, weight_g=weight, prior_draws=prior)
            default = allowance(child, shipped(), {}, MORNING)
            widest = allowance(child, shipped(), {"blood-limit": "howie_2011"}, MORNING)
            assert default.stop_left_ul is not None
            assert widest.stop_left_ul is not None
            assert default.stop_left_ul <= widest.stop_left_ul
