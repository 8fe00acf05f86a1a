"""
Citrate at a high haematocrit.

Outside: four pages that quote the formula with worked figures; each check names its own.
"""

from __future__ import annotations

import pytest

from cubital.catalogue import shipped
from cubital.draw.physics import citrate_advice, citrate_decimal_ul, citrate_h21_ul, citrate_ul

DECIMAL = {"citrate-formula": "decimal_185"}


def test_worked_example_of_h21() -> None:
    """CLSI H21-Ed6 (2024) as quoted: 2.7 mL, 60 % gives 0.202 mL; of 0.3 mL remove 0.098."""
    assert round(citrate_ul(2700, 60, shipped(), {})) == 202
    advice = citrate_advice(shipped().containers["citrate-2.7"], 60, shipped(), {})
    assert advice is not None
    assert round(advice.holds_ul) == 300
    assert round(advice.remove_ul) == 98


def test_worked_example_of_a_course() -> None:
    """A university course page: a 5 mL tube is 4.5 mL of blood, 60 % gives 0.34 mL."""
    assert round(citrate_ul(4500, 60, shipped(), {}) / 1000, 2) == 0.34


@pytest.mark.parametrize(
    ("haematocrit", "ml"), [(55, 0.416), (60, 0.370), (65, 0.324), (70, 0.277), (75, 0.231)]
)
def test_table_of_the_decimal_form(haematocrit: float, ml: float) -> None:
    """A page with the decimal form tables 5 mL of blood; it cuts the 70 % figure, 0.2775."""
    assert citrate_ul(5000, haematocrit, shipped(), DECIMAL) / 1000 == pytest.approx(ml, abs=6e-4)


@pytest.mark.parametrize(("haematocrit", "ml"), [(60, 0.075), (70, 0.06)])
def test_the_trap_is_what_pages_give_for_blood_and_citrate_together(
    haematocrit: float, ml: float
) -> None:
    """
    A calculator reads V as blood and citrate together: 0.075 mL in 1 mL at 60 %, 0.06 at 70 %.

    That is the trap: for a tube of 3.0 mL in all it says 0.224 mL where 2.7 mL of blood want 0.202.
    """
    assert citrate_h21_ul(1000, haematocrit, 595) / 1000 == pytest.approx(ml, abs=0.004)
    advice = citrate_advice(shipped().containers["citrate-2.7"], 60, shipped(), {})
    assert advice is not None
    assert round(advice.trap_ul) == 224
    assert advice.trap_ul / advice.keep_ul == pytest.approx(1.11, abs=0.005)


@pytest.mark.parametrize("haematocrit", range(56, 76))
def test_both_forms_agree_as_far_as_published(haematocrit: int) -> None:
    """Computed from the two stated forms: within 4 % of each other from 56 to 75 %."""
    one = citrate_h21_ul(2700, haematocrit, 595)
    other = citrate_decimal_ul(2700, haematocrit, 0.00185)
    assert other == pytest.approx(one, rel=0.04)


def test_the_usual_ratio_is_met_near_the_usual_haematocrit() -> None:
    """Computed: nine parts of blood and one of citrate is what the form gives at 40 %."""
    assert citrate_h21_ul(2700, 40, 595) == pytest.approx(300, rel=0.03)
