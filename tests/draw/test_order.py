"""The order of draw: profiles, the ESR tube's place, the discard tube, the tubing's air."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from cubital.catalogue.model import OrderProfile
from cubital.draw import DrawPlan, Lot, Place, plan_draw
from cubital.draw.order import order_of
from cubital.requisition.values import Patient
from tests.draw.asking import CATALOGUE, SEA_LEVEL, asked, scene, sentences
from tests.draw.hands import MORNING, TODAY, laid_over, someone

SOON = TODAY + timedelta(days=90)
EVERYTHING = (
    "culture-blood", "pt-inr", "esr", "ana", "zinc", "fbc", "glucose", "karyotype", "cryoglobulin",
)  # fmt: skip


def classes(drawn: DrawPlan) -> list[str]:
    """Order classes in the order of draw, each once."""
    found = (CATALOGUE.additives[c.additive].order_class for c in drawn.containers)
    return list(dict.fromkeys(found))


@pytest.mark.parametrize("profile", ["who2010", "gp41", "local"])
def test_a_rack_of_everything_follows_the_profile(profile: str) -> None:
    """Every class in the place its profile gives it."""
    drawn = plan_draw(asked(*EVERYTHING), CATALOGUE, Place(order_profile=profile), now=MORNING)
    order = order_of(scene(asked("fbc"), Place(order_profile=profile)), "venous", "vacuum")
    positions = [order.position(one) for one in classes(drawn)]
    assert drawn.order_profile == profile
    assert positions == sorted(positions)
    assert len(classes(drawn)) >= 7


def test_the_routes_default_holds_where_none_is_asked_for() -> None:
    """The venous default is the row that says so; a syringe has its own."""
    default = next(p for p in CATALOGUE.rows(OrderProfile) if p.default and p.route == "venous")
    here = scene(asked("fbc"))
    assert order_of(here, "venous", "vacuum").profile.code == default.code
    assert order_of(here, "venous", "plunger").profile.code == "syringe"
    assert order_of(here, "capillary", "drops").profile.code == "capillary"


def test_a_venous_profile_asked_for_does_not_rule_a_skin_prick() -> None:
    """The capillary route keeps its own order."""
    here = scene(asked("fbc"), Place(order_profile="local"))
    assert order_of(here, "capillary", "drops").profile.code == "capillary"


def test_the_esr_tubes_place_is_the_profiles_until_the_laboratory_chooses() -> None:
    """Last in the local profile, after citrate in the default, and where a choice puts it."""
    requisition = asked("esr", "pt-inr", "fbc", "glucose")
    local = plan_draw(requisition, CATALOGUE, Place(order_profile="local"), now=MORNING)
    usual = plan_draw(requisition, CATALOGUE, now=MORNING)
    chosen = Place(choices={"esr-place": "last"})
    last = plan_draw(requisition, CATALOGUE, chosen, now=MORNING)
    back = Place(order_profile="local", choices={"esr-place": "after_citrate"})
    after = plan_draw(requisition, CATALOGUE, back, now=MORNING)
    assert classes(local)[-1] == "citrate_esr"
    assert classes(usual)[:2] == ["citrate", "citrate_esr"]
    assert classes(last)[-1] == "citrate_esr"
    assert classes(after)[:2] == ["citrate", "citrate_esr"]
    assert ("esr-place", "last") in last.choices


def test_a_class_that_the_profile_does_not_name_comes_last() -> None:
    """With a reason that says so."""
    bare = OrderProfile(code="bare", name="bare", route="venous", source="memory")
    catalogue = laid_over(bare)
    drawn = plan_draw(asked("fbc"), catalogue, Place(order_profile="bare"), now=MORNING)
    (tube,) = drawn.containers
    assert any("does not name it" in reason.sentence for reason in tube.reasons)


# ---------------------------------------------------------------- discard


def hand_vein() -> Patient:
    """Somebody whose vein takes a winged set."""
    return someone(weight_g=62_000, veins="hand")


def test_with_a_winged_set_a_discard_tube_comes_before_citrate() -> None:
    """It takes the setting's volume, wants no label, and counts in the blood."""
    drawn = plan_draw(asked("pt-inr", "fbc", patient=hand_vein()), CATALOGUE, now=MORNING)
    first, second = drawn.containers[:2]
    assert drawn.device.device == "winged"
    assert first.purpose == "discard"
    assert first.fill_ul == CATALOGUE.number("discard_ul")
    assert not first.label_wanted
    assert first.tests == ()
    assert second.additive == "na_citrate_9nc"
    fills = sum(c.fill_ul for c in drawn.containers)
    assert drawn.allowance.tubing_ul == CATALOGUE.devices["winged"].tubing_air_ul
    assert drawn.allowance.planned_ul == fills + drawn.allowance.tubing_ul


def test_a_straight_needle_needs_no_discard_tube() -> None:
    """No tubing, no air."""
    drawn = plan_draw(asked("pt-inr"), CATALOGUE, now=MORNING)
    assert drawn.device.device == "straight"
    assert [c.purpose for c in drawn.containers] == ["specimen"]


def test_a_culture_first_takes_the_air_itself() -> None:
    """The aerobic bottle stands before citrate, so no discard tube is drawn."""
    drawn = plan_draw(asked("culture-blood", "pt-inr", patient=hand_vein()), CATALOGUE, now=MORNING)
    assert drawn.containers[0].purpose == "culture_aerobic"
    assert all(c.purpose != "discard" for c in drawn.containers)


def test_the_first_tube_of_a_winged_set_is_reckoned_shorter() -> None:
    """A serum tube first: the tubing's air is taken off its fill, and said."""
    drawn = plan_draw(asked("creatinine", patient=hand_vein()), CATALOGUE, now=MORNING)
    (tube,) = drawn.containers
    air = CATALOGUE.devices["winged"].tubing_air_ul
    assert tube.fill_ul == CATALOGUE.containers[tube.container].nominal_ul - air
    assert any("air" in caution for caution in tube.cautions)


def test_a_first_tube_that_the_air_leaves_too_short_gets_a_discard_tube() -> None:
    """EDTA of 1 mL would fall under its minimum; a plain tube, on the shelf, takes the air."""
    shelf = (Lot("edta-1", "E", SOON, 1), Lot("plain-4", "P", SOON, 3))
    place = Place(lots=shelf)
    drawn = plan_draw(asked("fbc", patient=hand_vein()), CATALOGUE, place, now=MORNING)
    assert [c.purpose for c in drawn.containers] == ["discard", "specimen"]
    assert drawn.containers[0].container == "plain-4"


def test_the_smallest_tube_that_holds_the_air_is_discarded() -> None:
    """Plain or of the additive that follows, whichever is smaller."""
    for citrate, smallest in (("citrate-1.8", "citrate-1.8"), ("citrate-4.5", "plain-4")):
        shelf = tuple(Lot(code, code, SOON, 3) for code in (citrate, "plain-4"))
        drawn = plan_draw(
            asked("pt-inr", patient=hand_vein()), CATALOGUE, Place(lots=shelf), now=MORNING
        )
        assert drawn.containers[0].purpose == "discard"
        assert drawn.containers[0].container == smallest


def test_without_a_tube_to_discard_the_plan_asks() -> None:
    """One citrate tube on the shelf and nothing plain: a finding with the mend."""
    shelf = (Lot("citrate-2.7", "C", SOON, 1),)
    drawn = plan_draw(
        asked("pt-inr", patient=hand_vein()), CATALOGUE, Place(lots=shelf), now=MORNING
    )
    assert [c.purpose for c in drawn.containers] == ["specimen"]
    assert sentences(drawn.findings, "discard-missing")


def test_a_syringe_lets_no_air_into_the_first_tube() -> None:
    """Winged set and syringe: the air stays in the syringe."""
    place = replace(SEA_LEVEL, devices=("winged_syringe",))
    drawn = plan_draw(asked("pt-inr", patient=hand_vein()), CATALOGUE, place, now=MORNING)
    assert drawn.device.device == "winged_syringe"
    assert [c.purpose for c in drawn.containers] == ["specimen"]


def test_the_discard_tube_and_the_tubing_stay_within_the_limit() -> None:
    """What the device adds is kept free when the containers are chosen."""
    child = someone(1500, weight_g=17_000, veins="hand")
    catalogue = laid_over(replace(CATALOGUE.setting("discard_ul"), value="3000"))
    drawn = plan_draw(asked("pt-inr", "fbc", "renal", patient=child), catalogue, now=MORNING)
    limit = drawn.allowance.limit_ul
    assert limit is not None
    assert any(c.purpose == "discard" for c in drawn.containers)
    assert drawn.allowance.planned_ul <= limit


# ---------------------------------------------------------------- mixing


def test_mixing_follows_the_chosen_table() -> None:
    """Published turns by default, the local ones by choice."""
    for option in ("published", "local"):
        choices = {"mixing-turns": option}
        drawn = plan_draw(asked("pt-inr", "fbc"), CATALOGUE, Place(choices=choices), now=MORNING)
        for container in drawn.containers:
            row = CATALOGUE.mixing(container.additive, choices)
            assert container.inversions == (row.inversions_low, row.inversions_high)
            assert row.choice.endswith(option)
