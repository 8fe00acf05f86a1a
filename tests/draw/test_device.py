"""Route, device and gauge."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cubital.catalogue import Catalogue, shipped
from cubital.catalogue.model import Device, DeviceRule, NeedleBore
from cubital.draw.device import (
    DeviceChoice,
    RouteChoice,
    capillary_possible,
    choose_device,
    choose_route,
    matching_rules,
)
from cubital.finding import Severity
from tests.draw.hands import laid_over, setting, someone

VEINS = ("good", "thin", "fragile", "hand", "unknown")


def chosen(
    days: int | None = 14_000,
    *,
    veins: str = "good",
    volume_ul: int = 5000,
    containers: int = 2,
    order_classes: tuple[str, ...] = ("edta",),
    devices: tuple[str, ...] | None = None,
    route: str = "venous",
    catalogue: Catalogue | None = None,
    choices: dict[str, str] | None = None,
) -> DeviceChoice:
    """The device for a patient of an age in days, with an ordinary rack unless told."""
    return choose_device(
        someone(days, veins=veins),
        catalogue or shipped(),
        choices or {},
        route=route,
        age=days,
        volume_ul=volume_ul,
        containers=containers,
        order_classes=order_classes,
        devices=devices,
    )


def codes(choice: DeviceChoice | RouteChoice) -> set[str]:
    """The codes of the findings."""
    return {finding.code for finding in choice.findings}


def rule(gauge: int, veins: str, rank: int, device: str = "straight") -> DeviceRule:
    """A laboratory's own rule for everybody, before all shipped ones."""
    return DeviceRule(
        device=device,
        gauge=gauge,
        age_from_days=0,
        age_to_days=54786,
        veins=veins,
        rank=rank,
        sentence=f"Ours: {gauge} G.",
        source="memory",
        layer="district",
    )


# ---------------------------------------------------------------- device


@given(
    st.integers(0, 40_000),
    st.sampled_from(VEINS),
    st.integers(0, 60_000),
    st.sampled_from(["who", "local"]),
    st.sampled_from([("edta",), ("citrate", "edta")]),
)
def test_everybody_gets_a_device_that_a_rule_names(
    days: int, veins: str, volume: int, table: str, classes: tuple[str, ...]
) -> None:
    """At any age, with any veins: a rule of the chosen table that fits, its hub colour, a time."""
    catalogue, choices = shipped(), {"device-table": table}
    planned = chosen(
        days, veins=veins, volume_ul=volume, order_classes=classes, choices=choices
    ).device
    rules = matching_rules(someone(days, veins=veins), catalogue, choices, route="venous", age=days)
    assert (planned.device, planned.gauge) in {(r.device, r.gauge) for r in rules}
    assert all(r.choice in ("", f"device-table:{table}") for r in rules)
    assert planned.hub_colour == catalogue.needles[planned.gauge].hub_colour
    assert planned.draw_time_s > 0
    assert planned.reasons[0].sentence


def test_the_lowest_rank_is_taken_and_its_row_is_the_reason() -> None:
    """A laboratory's own rule of a lower rank wins, and the plan says whose rule it was."""
    mine = laid_over(rule(20, "any", 1))
    planned = chosen(catalogue=mine).device
    assert (planned.device, planned.gauge, planned.hub_colour) == ("straight", 20, "yellow")
    assert planned.reasons[0].layer == "district"


def test_what_is_not_on_hand_is_not_proposed() -> None:
    """Only what the place has; when nothing fits, an ask and no device."""
    assert chosen(devices=("syringe",)).device.device == "syringe"
    nothing = chosen(devices=("heel_lancet",))
    assert (nothing.device.device, nothing.device.gauge) == ("", 0)
    assert codes(nothing) == {"device-none"}
    assert nothing.findings[0].severity == Severity.ASK


def test_an_unknown_age_is_drawn_like_an_adult() -> None:
    """Without a birth date the rules of the adult's first day hold."""
    grown = shipped().number("adult_from_days")
    assert chosen(None).device == chosen(grown).device


def test_unknown_veins_of_the_old_are_not_taken_for_good_ones() -> None:
    """Unknown: the rule for any vein comes first; noted good: the wider gauge."""
    old = 80 * 366
    assert chosen(old, veins="unknown").device.gauge == 22
    assert chosen(old, veins="good").device.gauge == 21


def test_much_blood_wants_a_wider_bore() -> None:
    """Over the longest time the next wider rule of the same kind is taken, with both reasons."""
    old = 80 * 366
    planned = chosen(old, veins="unknown", volume_ul=40_000, containers=4).device
    assert planned.gauge == 21
    assert "22 G was passed over for 21 G" in planned.reasons[1].sentence
    assert planned.draw_time_s <= shipped().decimal("draw_time_long_s")


def test_a_thin_vein_gets_no_wider_needle_for_speed() -> None:
    """However much blood: the rules for thin veins hold, and a note says that it takes long."""
    choice = chosen(veins="thin", volume_ul=60_000, containers=6)
    assert choice.device.gauge == 22
    assert "draw-long" in codes(choice)
    assert "draw-long" not in codes(chosen(veins="thin", volume_ul=5000))


def test_no_syringe_is_taken_for_speed() -> None:
    """A wider needle on a syringe is not an answer to a slow tube."""
    mine = laid_over(rule(23, "any", 1, "winged"), rule(18, "any", 2, "syringe"))
    planned = chosen(catalogue=mine, volume_ul=30_000, devices=("winged", "syringe")).device
    assert planned.device == "winged"


@pytest.mark.parametrize("classes", [("citrate",), ("edta",)])
def test_a_coagulation_test_forbids_a_fine_gauge(classes: tuple[str, ...]) -> None:
    """25 G is passed over for citrate and taken otherwise."""
    mine = laid_over(rule(25, "any", 1), rule(23, "any", 2))
    planned = chosen(catalogue=mine, order_classes=classes, volume_ul=2700, containers=1).device
    assert planned.gauge == (23 if classes == ("citrate",) else 25)
    passed = [reason for reason in planned.reasons if "25 G was passed over" in reason.sentence]
    assert [reason.source for reason in passed] == (
        ["lippi_2006_gauge"] if classes == ("citrate",) else []
    )


def test_a_poor_vein_gets_the_finest_gauge_that_does_no_harm() -> None:
    """Thin vein, citrate, and the rule for it too fine: the finest harmless one of the others."""
    mine = laid_over(rule(25, "thin", 1), rule(21, "any", 2), rule(23, "any", 3))
    planned = chosen(
        catalogue=mine,
        veins="thin",
        order_classes=("citrate",),
        devices=("straight",),
        days=200,
    ).device
    assert planned.gauge == 23


def test_when_every_gauge_harms_somebody_is_asked() -> None:
    """The proposal stays, with an ask."""
    mine = laid_over(setting("finest_gauge_coagulation", "20"))
    choice = chosen(catalogue=mine, order_classes=("citrate",))
    assert choice.device.gauge == 21
    asked = next(f for f in choice.findings if f.code == "gauge-coagulation")
    assert asked.severity == Severity.ASK


def test_a_syringe_brings_its_own_cautions() -> None:
    """Clotting when citrate is in the rack, and a second syringe when one is too small."""
    assert "syringe-clot" in codes(chosen(devices=("syringe",), order_classes=("citrate",)))
    assert "syringe-clot" not in codes(chosen(devices=("syringe",)))
    assert "syringe-size" in codes(chosen(devices=("syringe",), volume_ul=20_001))
    assert "syringe-size" not in codes(chosen(devices=("syringe",), volume_ul=20_000))
    assert codes(chosen(order_classes=("citrate",))) == set()


def test_a_draw_over_the_tourniquet_minute_is_said() -> None:
    """The minute is held against the estimate; a skin prick has no tourniquet."""
    assert "tourniquet-time" in codes(chosen(volume_ul=40_000, containers=5))
    assert "tourniquet-time" not in codes(chosen(volume_ul=5000))
    prick = chosen(30, route="capillary", volume_ul=1500, containers=3)
    assert prick.device.draw_time_s > 60
    assert codes(prick) == set()


def test_a_lancet_has_no_hub() -> None:
    """Gauge 0 and no colour, by age the heel or the finger."""
    heel = chosen(30, route="capillary").device
    finger = chosen(3000, route="capillary").device
    assert (heel.device, heel.gauge, heel.hub_colour) == ("heel_lancet", 0, "")
    assert finger.device == "finger_lancet"


def test_the_bore_is_read_from_the_table() -> None:
    """A laboratory that measures a narrower bore gets a longer estimate."""
    narrow = NeedleBore(gauge=22, wall="nominal", inner_mm=0.35, source="memory")
    assert (
        chosen(3000, catalogue=laid_over(narrow)).device.draw_time_s
        > chosen(3000).device.draw_time_s
    )


# ---------------------------------------------------------------- route


def route(
    days: int | None = 30,
    *,
    tests: tuple[str, ...] = ("bilirubin-total",),
    volume_ul: int = 500,
    asked: str = "",
    veins: str = "unknown",
    devices: tuple[str, ...] | None = None,
    choices: dict[str, str] | None = None,
    catalogue: Catalogue | None = None,
) -> RouteChoice:
    """The route for an infant with one test, unless told."""
    return choose_route(
        someone(days, veins=veins),
        catalogue or shipped(),
        choices or {},
        age=days,
        tests=tests,
        volume_ul=volume_ul,
        asked=asked,
        devices=devices,
    )


PRICK = {"infant-route": "capillary"}


def test_the_tests_of_this_module_are_in_the_catalogue() -> None:
    """One that a skin prick can give, and those that it cannot."""
    assert capillary_possible("bilirubin-total", shipped())
    assert not any(capillary_possible(test, shipped()) for test in ("pt-inr", "culture-blood"))


@given(st.sampled_from(sorted(shipped().tests)))
def test_only_tests_with_a_micro_tube_can_be_pricked(test: str) -> None:
    """One that a skin prick can give has a micro-tube of no forbidden class; ammonia never is."""
    catalogue = shipped()
    micro = {c.additive for c in catalogue.containers.values() if c.form == "micro"}
    allowed = {
        row.additive
        for row in catalogue.accepted(test)
        if catalogue.additives[row.additive].order_class not in ("culture", "citrate", "trace")
    }
    assert capillary_possible(test, catalogue) == (bool(micro & allowed) and test != "ammonia")


def test_a_newborn_is_drawn_from_a_vein_unless_the_laboratory_chose_otherwise() -> None:
    """The default is the published one; the other option, or poor veins, give a skin prick."""
    assert route().route == "venous"
    assert route().reasons[0].source == "who_2010_6_1"
    assert route(choices=PRICK).route == "capillary"
    assert route(veins="fragile").route == "capillary"
    assert "noted as fragile" in route(veins="fragile").reasons[0].sentence


@pytest.mark.parametrize("days", [None, 365, 14_000])
def test_beyond_infancy_the_vein_is_proposed(days: int | None) -> None:
    """From one year on, or at an unknown age, no skin prick is proposed by itself."""
    assert route(days, choices=PRICK, veins="fragile").route == "venous"


@pytest.mark.parametrize(
    ("told", "code"),
    [
        ({"tests": ("bilirubin-total", "pt-inr")}, "capillary-test"),
        ({"tests": ("culture-blood",)}, "capillary-test"),
        ({"volume_ul": 1501}, "capillary-volume"),
        ({"devices": ("straight", "winged")}, "capillary-device"),
    ],
)
def test_what_a_skin_prick_cannot_give_is_drawn_from_a_vein(told: dict, code: str) -> None:
    """Proposed: the vein, with the reason; asked for all the same: a stop that says why."""
    proposed = route(choices=PRICK, **told)
    assert proposed.route == "venous"
    assert proposed.findings == ()
    asked = route(asked="capillary", **told)
    assert asked.route == "capillary"
    assert codes(asked) == {code}
    assert {finding.severity for finding in asked.findings} == {Severity.STOP}
    assert proposed.reasons[0].sentence == asked.findings[0].sentence


def test_what_was_asked_for_is_done_where_it_can_be() -> None:
    """Asked for: a vein for a newborn, a finger prick for an adult."""
    assert route(choices=PRICK, asked="venous").route == "venous"
    assert route(asked="capillary", volume_ul=1500).findings == ()
    adult = route(14_000, asked="capillary")
    assert (adult.route, adult.findings) == ("capillary", ())


def test_a_laboratory_may_say_what_a_prick_never_fills() -> None:
    """The forbidden classes are a setting."""
    never = laid_over(
        setting("capillary_never_classes", "culture;serum_gel;clot_activator;plain;heparin_li")
    )
    assert not capillary_possible("bilirubin-total", never)


def test_a_needle_is_no_lancet() -> None:
    """A capillary device of a laboratory's own counts as a lancet; a venous one does not."""
    mine = laid_over(
        Device(
            code="toe_lancet",
            name="toe lancet",
            route="capillary",
            draws_by="drops",
            source="memory",
        )
    )
    assert route(choices=PRICK, devices=("toe_lancet",), catalogue=mine).route == "capillary"
    venous = replace(mine.devices["toe_lancet"], route="venous", draws_by="vacuum")
    moved = laid_over(venous)
    assert route(choices=PRICK, devices=("toe_lancet",), catalogue=moved).route == "venous"
