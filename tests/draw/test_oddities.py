"""Awkward patients: what an experienced collector would miss on the plan is said."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from cubital.catalogue.model import PatientCaution
from cubital.catalogue.model_draw import WeightBand
from cubital.cli.show_plan import show_plan
from cubital.draw import DrawPlan, Place, plan_draw
from cubital.finding import Severity
from cubital.requisition.values import Requisition
from tests.draw.asking import CATALOGUE, SEA_LEVEL, asked, sentences
from tests.draw.hands import MORNING, drawn_before, laid_over, someone, with_condition

BANDS = CATALOGUE.rows(WeightBand)


def plan(requisition: Requisition, place: Place = SEA_LEVEL) -> DrawPlan:
    """A plan of the shipped catalogue made on the morning of the tests."""
    return plan_draw(requisition, CATALOGUE, place, now=MORNING)


def stops(drawn: DrawPlan) -> list[str]:
    """Codes of the findings that stop."""
    return [one.code for one in drawn.findings if one.severity == Severity.STOP]


# ---------------------------------------------------------------- nothing to draw


def test_where_nothing_can_be_drawn_the_plan_stops_the_needle_and_says_why() -> None:
    """A child who has given all it may: one stop, with the limit and what was taken."""
    child = someone(400, weight_g=8000, prior_draws=(drawn_before(20, 15_000),))
    drawn = plan(asked("fbc", "potassium", patient=child))
    assert drawn.containers == ()
    assert stops(drawn) == ["nothing-drawn"]
    (sentence,) = sentences(drawn.findings, "nothing-drawn")
    assert sentence.startswith("Nothing can be drawn as it stands: put in no needle")
    assert "15.0 mL taken, 0.0 mL left" in sentence


def test_where_no_container_is_on_hand_the_plan_stops_too() -> None:
    """An empty shelf is no reason for a prick."""
    assert stops(plan(asked("fbc"), Place(lots=()))) == ["nothing-drawn"]


def test_where_something_is_drawn_nothing_stops() -> None:
    """One test that is left out does not stop the others."""
    drawn = plan(asked("fbc", "pt-inr", "culture-blood", patient=someone(3, weight_g=1500)))
    assert drawn.containers
    assert drawn.not_drawn
    assert stops(drawn) == []


# ---------------------------------------------------------------- a skin prick gives more


def test_a_preterm_infant_gets_more_from_a_prick_and_the_plan_says_so() -> None:
    """The tubing of a winged set takes the whole limit; a prick has none."""
    infant = someone(1, weight_g=600)
    tests = ("bilirubin-total", "bilirubin-direct", "haematocrit")
    drawn = plan(asked(*tests, patient=infant))
    assert drawn.route == "venous"
    assert drawn.containers == ()
    assert {one.reason.sentence.rpartition(", ")[2] for one in drawn.not_drawn} == {
        "too little for it once the tubing of the device is full."
    }
    prick = plan(asked(*tests, patient=infant), Place(route="capillary"))
    served = [test.code for tube in prick.containers for test in tube.tests]
    (sentence,) = sentences(drawn.findings, "skin-prick-serves-more")
    assert sentence.startswith(
        f"From a vein 0 of 3 tests can be drawn, by a skin prick {len(served)}"
    )
    assert all(CATALOGUE.tests[code].name in sentence for code in served)


@pytest.mark.parametrize(
    ("patient", "place"),
    [
        (someone(1, weight_g=3400), SEA_LEVEL),  # all fits
        (someone(1, weight_g=600), Place(route="venous")),  # somebody has said so
        (someone(1, weight_g=600), Place(devices=("winged", "winged_syringe"))),  # no lancet
        (someone(900, weight_g=600), SEA_LEVEL),  # no infant
        (someone(1), SEA_LEVEL),  # no limit is known
    ],
)
def test_a_prick_is_not_spoken_of_without_need(patient: object, place: Place) -> None:
    """Only where it serves more, may be chosen, and can be done."""
    drawn = plan(asked("bilirubin-total", "haematocrit", patient=patient), place)
    assert sentences(drawn.findings, "skin-prick-serves-more") == []


# ---------------------------------------------------------------- weights that cannot be


@pytest.mark.parametrize(
    ("days", "weight_g", "odd"),
    [
        (200, 65_000, True),
        (200, 6_500, False),
        (16_000, 3_000, True),
        (16_000, 180_000, False),
        (0, 450, False),
        (1500, 150_000, True),
    ],
)
def test_a_weight_that_hardly_goes_with_the_age_is_asked_about(
    days: int, weight_g: int, *, odd: bool
) -> None:
    """The blood limit hangs on it: a slip of ten would let ten times the blood be taken."""
    drawn = plan(asked("fbc", patient=someone(days, weight_g=weight_g)))
    told = sentences(drawn.findings, "weight-odd")
    assert bool(told) == odd
    assert all(f"{weight_g / 1000:g} kg can hardly be" in sentence for sentence in told)


def test_the_bands_of_weight_take_every_age_and_rise() -> None:
    """No gap, no step back."""
    assert [row.age_from_days for row in BANDS][1:] == [row.age_to_days for row in BANDS][:-1]
    for one, after in pairwise(BANDS):
        assert one.weight_from_g < after.weight_from_g
        assert one.weight_to_g < after.weight_to_g


# ---------------------------------------------------------------- with what, and where


@pytest.mark.parametrize("code", ["bleeding_disorder", "low_platelets"])
def test_somebody_who_bleeds_gets_the_small_needle_that_the_caution_asks_for(code: str) -> None:
    """Good veins or not; and the reason names the condition."""
    assert plan(asked("fbc", patient=someone())).device.gauge == 21
    for veins in ("unknown", "good"):
        drawn = plan(asked("fbc", patient=with_condition(code, veins=veins)))
        assert drawn.device.gauge == 22
        assert any(code.replace("_", " ") in one.sentence for one in drawn.device.reasons)
    caution = next(row for row in CATALOGUE.rows(PatientCaution) if row.condition == code)
    assert "small needle" in caution.sentence


def test_where_the_elbow_gives_none_the_hand_comes_first() -> None:
    """As the device was chosen for it."""
    assert plan(asked("fbc", patient=someone(veins="hand"))).sites[0].site == "hand_back"
    assert plan(asked("fbc", patient=someone(veins="thin"))).sites[0].site == "median_cubital"


def test_what_has_no_vacuum_says_how_it_is_filled_from_a_vein() -> None:
    """Neither a gas syringe nor a micro-tube draws through a holder; a prick fills by drops."""
    gas = plan(asked("blood-gas"))
    assert any("luer end" in caution for caution in gas.containers[0].cautions)
    child = asked("fbc", patient=someone(900, weight_g=12_000))
    vein, prick = plan(child), plan(child, Place(route="capillary"))
    assert any("draws nothing itself" in caution for caution in vein.containers[0].cautions)
    assert prick.containers[0].cautions == ()


def test_a_tube_whose_vacuum_does_not_reach_the_mark_is_opened() -> None:
    """A transfer device fills by that same vacuum, so it would stop short."""
    drawn = plan(asked("pt-inr"), Place(altitude_m=3400))
    (caution,) = drawn.containers[0].cautions
    assert "its vacuum does not reach that. Open it, let the blood run down its wall" in caution


# ---------------------------------------------------------------- preparation


def test_lying_and_sitting_are_not_asked_of_one_draw() -> None:
    """Metanephrines lying, renin sitting: the plan says that it takes two."""
    both = plan(asked("metanephrines", "renin", "aldosterone"))
    (sentence,) = sentences(both.findings, "preparation-apart")
    assert sentence.startswith("Metanephrines, plasma wants the patient lying, Renin, Aldosterone")
    # a note to sit is a wish, no demand
    for tests in (("metanephrines", "calcium"), ("renin", "aldosterone"), ("metanephrines",)):
        assert sentences(plan(asked(*tests)).findings, "preparation-apart") == []


def test_nobody_asks_a_newborn_to_sit_for_a_quarter_of_an_hour() -> None:
    """Posture and rest are for those who can; fasting is still asked about."""
    for days, known in ((3, 0), (4000, 1)):
        drawn = plan(asked("calcium", patient=someone(days, weight_g=3400)))
        assert len(sentences(drawn.findings, "preparation-unknown")) == known
    assert sentences(
        plan(asked("insulin", patient=someone(3, weight_g=3400))).findings, "preparation-unknown"
    )


def test_a_laboratory_may_ask_it_sooner() -> None:
    """The age is a setting."""
    sooner = replace(CATALOGUE.setting("posture_from_days"), value="1")
    infant = asked("calcium", patient=someone(3, weight_g=3400))
    drawn = plan_draw(infant, laid_over(sooner), SEA_LEVEL, now=MORNING)
    assert sentences(drawn.findings, "preparation-unknown")


def test_on_a_terminal_a_test_that_is_not_drawn_is_said_once(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Not once as such and once more as a finding."""
    requisition = asked("fbc", "culture-blood", patient=someone(3, weight_g=900))
    drawn = plan(requisition)
    show_plan(drawn, requisition, CATALOGUE, SEA_LEVEL, why=False)
    told = " ".join(capsys.readouterr().out.split())
    assert told.count("Blood culture is not drawn") == 1
    assert "NOT DRAWN Blood culture is not drawn" in told


def test_severe_anaemia_gets_the_least_blood_at_any_age() -> None:
    """What the caution says, the containers do: no more blood than without it, and why."""
    tests = ("fbc", "electrolytes", "pt-inr")
    usual, spared = (
        plan(asked(*tests)),
        plan(asked(*tests, patient=with_condition("severe_anaemia"))),
    )
    assert (usual.aim, spared.aim) == ("fewest_tubes", "least_blood")
    assert spared.allowance.planned_ul < usual.allowance.planned_ul
    said = [reason.sentence for reason in spared.allowance.reasons]
    assert "With severe anaemia the least blood comes first." in said


def test_ammonia_is_never_done_on_a_skin_prick() -> None:
    """Where the prick is asked for, it is refused; where the plan chooses, it chooses a vein."""
    infant = someone(40, weight_g=4200)
    pricked = plan(asked("ammonia", patient=infant), replace(SEA_LEVEL, route="capillary"))
    assert sentences(pricked.findings, "capillary-test")
    assert plan(asked("ammonia", patient=infant)).route == "venous"
