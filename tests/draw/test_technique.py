"""How the draw is done: the lines of the wall chart, from the laboratory's own numbers."""

from __future__ import annotations

from cubital.catalogue import Catalogue
from cubital.draw import Place, plan_draw
from cubital.draw.shape import plan_to
from cubital.draw.shape_back import plan_from
from cubital.draw.technique import COAGULATION_CLASS
from tests.draw.asking import CATALOGUE, asked
from tests.draw.hands import MORNING, laid_over, setting, someone, with_condition

REST = "Rest in one posture for 15 minutes first."
TOURNIQUET = "Tourniquet 75 to 100 mm above the site; on for 60 s at most."
SKIN = "Wipe the skin with alcohol for 30 s, then let it dry for 30 s."
ANGLE = "Bevel up, the needle at 15 to 30 degrees to the skin."


def lines(
    *tests: str, catalogue: Catalogue = CATALOGUE, route: str = "", **known: object
) -> list[str]:
    """What the plan for such tests says of the draw."""
    drawn = plan_draw(asked(*tests, **known), catalogue, Place(route=route), now=MORNING)
    return [one.sentence for one in drawn.technique]


def test_a_venous_draw_is_told_in_four_lines_each_with_its_source() -> None:
    """Rest, tourniquet, skin, angle; in the order in which they come."""
    assert lines("fbc") == [REST, TOURNIQUET, SKIN, ANGLE]
    drawn = plan_draw(asked("fbc"), CATALOGUE, now=MORNING)
    assert all(one.source in CATALOGUE.sources for one in drawn.technique)


def test_a_coagulation_tube_shortens_the_tourniquet() -> None:
    """As it does at the chair."""
    assert "Tourniquet 75 to 100 mm above the site; on for 45 s at most." in lines("fbc", "pt-inr")


def test_an_esr_tube_is_no_coagulation_tube_here_as_at_the_chair() -> None:
    """Both rooms ask the same class, so that the plan never says another time than the clock."""
    assert TOURNIQUET in lines("esr")
    classes = {
        CATALOGUE.additives[c.additive].order_class
        for c in plan_draw(asked("pt-inr"), CATALOGUE, now=MORNING).containers
    }
    assert COAGULATION_CLASS in classes


def test_what_a_test_demands_otherwise_is_not_said_twice_or_against_it() -> None:
    """No alcohol for ethanol, no tourniquet for lactate, its own posture for aldosterone."""
    assert SKIN not in lines("ethanol", "fbc")
    assert TOURNIQUET not in lines("lactate")
    assert REST not in lines("aldosterone")


def test_an_infant_is_not_asked_to_sit_still() -> None:
    """The other lines stay."""
    said = lines("fbc", route="venous", patient=someone(200, weight_g=7_000))
    assert said == [TOURNIQUET, SKIN, ANGLE]


def test_skin_that_reacts_to_alcohol_is_not_wiped_with_it() -> None:
    """The patient's caution names another antiseptic."""
    assert SKIN not in lines("fbc", patient=with_condition("alcohol_allergy"))


def test_a_skin_prick_has_no_tourniquet_and_no_needle() -> None:
    """Only the skin is cleaned; the depth of the heel stands with the site."""
    assert lines("bilirubin-total", route="capillary", patient=someone(3, weight_g=3_200)) == [SKIN]


def test_the_laboratorys_own_number_is_what_is_said() -> None:
    """And the layer says whose it is."""
    own = laid_over(setting("needle_angle_high_deg", "25"))
    assert "Bevel up, the needle at 15 to 25 degrees to the skin." in lines("fbc", catalogue=own)


def test_a_plan_kept_before_there_were_such_lines_is_still_read() -> None:
    """The member is not asked for; with it, the plan comes back whole."""
    drawn = plan_draw(asked("fbc"), CATALOGUE, now=MORNING)
    shape = plan_to(drawn, CATALOGUE)
    assert plan_from(shape) == drawn
    del shape["technique"]
    assert plan_from(shape).technique == ()
