"""The draw plan: stories of a morning, and what holds for every plan."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cubital.catalogue.model import OrderPlace
from cubital.draw import STANDING_CAUTIONS, DrawPlan, Lot, Place, PlannedContainer, plan_draw
from cubital.draw.allowance import allowance
from cubital.draw.physics import drawn_ul
from cubital.errors import InputError, RequisitionError
from cubital.finding import Severity
from cubital.requisition.values import OrderedTest, Requisition
from tests.draw.asking import CATALOGUE, SEA_LEVEL, asked, holding, needs_of, scene, sentences
from tests.draw.hands import MORNING, TODAY, drawn_before, laid_over, someone, with_condition
from tests.strategies import places, requisitions

PLENTY = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def plan(requisition: Requisition, place: Place = SEA_LEVEL, **how: bool) -> DrawPlan:
    """A plan of the shipped catalogue made on the morning of the tests."""
    return plan_draw(requisition, CATALOGUE, place, now=MORNING, **how)


def found(drawn: DrawPlan, code: str) -> list[str]:
    """The sentences of the findings of a code."""
    return sentences(drawn.findings, code)


# ---------------------------------------------------------------- stories


def test_an_adult_with_count_electrolytes_and_coagulation_takes_three_tubes_in_order() -> None:
    """Citrate, then serum, then EDTA, each with its tests, mixing and reasons."""
    drawn = plan(asked("fbc", "electrolytes", "pt-inr", "aptt"))
    classes = [CATALOGUE.additives[c.additive].order_class for c in drawn.containers]
    assert classes[0] == "citrate"
    assert classes[-1] == "edta"
    assert len(classes) == 3
    assert [c.position for c in drawn.containers] == [1, 2, 3]
    assert {t.code for t in drawn.containers[0].tests} == {"pt-inr", "aptt"}
    assert all(c.reasons and c.label_wanted for c in drawn.containers)
    assert drawn.device.device == "straight"
    assert drawn.aim == "fewest_tubes"
    assert drawn.not_drawn == ()
    assert drawn.cautions == STANDING_CAUTIONS


def test_potassium_is_never_chilled_for_a_neighbour() -> None:
    """What travels on ice and what is never chilled stand in two containers."""
    drawn = plan(asked("potassium", "homocysteine", "ammonia"))
    for container in drawn.containers:
        needs = {need for need, _ in container.handling}
        assert not {"ice_slurry", "never_chilled"} <= needs


def test_a_count_is_never_spun_with_a_plasma_test() -> None:
    """A hormone in EDTA plasma takes a tube beside the blood count's."""
    drawn = plan(asked("fbc", "acth"))
    assert holding(drawn, "fbc") == ["k2_edta"]
    assert len(drawn.containers) == 2


def test_a_newborn_with_jaundice_gives_one_micro_tube_kept_dark() -> None:
    """Least blood comes first, by micro-tube, within the limit of the weight."""
    drawn = plan(asked("newborn-jaundice", patient=someone(3, weight_g=3400)))
    assert drawn.aim == "least_blood"
    forms = {CATALOGUE.containers[c.container].form for c in drawn.containers}
    assert forms == {"micro"}
    assert any(("dark", 0) in c.handling for c in drawn.containers)
    assert drawn.allowance.limit_ul is not None
    assert drawn.allowance.planned_ul <= drawn.allowance.limit_ul
    assert ("blood-limit", "cautious") in drawn.choices


def test_a_skin_prick_asked_for_takes_micro_tubes_in_the_capillary_order() -> None:
    """EDTA before serum, by lancet, and coagulation is said not to be possible."""
    baby = someone(40, weight_g=4500)
    drawn = plan(asked("fbc", "bilirubin-total", "pt-inr", patient=baby), Place(route="capillary"))
    assert drawn.route == "capillary"
    assert drawn.order_profile == "capillary"
    classes = [CATALOGUE.additives[c.additive].order_class for c in drawn.containers]
    assert classes[0] == "edta"
    assert drawn.device.gauge == 0
    assert [one.test for one in drawn.not_drawn] == ["pt-inr"]
    assert found(drawn, "capillary-test")
    assert found(drawn, "test-not-drawn")


def test_a_small_child_near_its_limit_gets_what_fits_by_priority() -> None:
    """The requester's first wish stays, the last is said not to be drawn, nothing is silent."""
    child = someone(200, weight_g=6000, prior_draws=(drawn_before(5, 3000),))
    tests = (
        OrderedTest("vitamin-d", 3),
        OrderedTest("fbc", 2),
        OrderedTest("pt-inr", 4),
        OrderedTest("bilirubin-total", 1),
    )
    requisition = Requisition("R-2", child, tests, MORNING)
    drawn = plan(requisition)
    limit = drawn.allowance.limit_ul
    assert limit is not None
    assert limit == 1500
    assert drawn.allowance.planned_ul <= limit
    assert holding(drawn, "bilirubin-total")
    assert "pt-inr" in [one.test for one in drawn.not_drawn]
    assert len(found(drawn, "test-not-drawn")) == len(drawn.not_drawn)


def test_a_confirmed_order_passes_a_limit_that_asks_but_the_finding_stays() -> None:
    """Only limits that stop hold then, and the plan still asks."""
    child = someone(200, weight_g=6000)
    requisition = asked("fbc", "pt-inr", "culture-blood", patient=child)
    first = plan(requisition)
    assert first.not_drawn
    assert found(first, "blood-limit-confirm")
    second = plan(requisition, limit_confirmed=True)
    assert second.not_drawn == ()
    assert [f.severity for f in second.findings if f.code == "blood-limit"] == [Severity.ASK]
    allowed = allowance(child, CATALOGUE, {}, MORNING)
    assert allowed.stop_left_ul is not None
    assert second.allowance.planned_ul <= allowed.stop_left_ul


def test_an_adult_near_the_limit_takes_smaller_tubes_before_losing_a_test() -> None:
    """Small containers and the least blood come before any test is left out."""
    drained = someone(weight_g=62_000, prior_draws=(drawn_before(3, 97_000),))
    drawn = plan(asked("fbc", "creatinine", "hba1c", patient=drained))
    assert drawn.not_drawn == ()
    assert drawn.aim == "least_blood"
    assert found(drawn, "smaller-tubes")
    assert drawn.allowance.limit_ul == 3000
    assert drawn.allowance.planned_ul <= 3000


def test_small_containers_for_want_of_others_are_not_blamed_on_the_limit() -> None:
    """One usual tube on the shelf, two wanted: the note speaks of the shelf."""
    until = TODAY + timedelta(days=90)
    shelf = (Lot("edta-3", "E", until, 1), Lot("edta-micro-0.5", "M", until, 9))
    drawn = plan(asked("fbc", "hba1c"), Place(lots=shelf))
    assert drawn.not_drawn == ()
    (sentence,) = found(drawn, "smaller-tubes")
    assert "on hand" in sentence


def test_a_test_that_alone_passes_the_limit_is_told_so() -> None:
    """The reason gives the least it would take."""
    child = someone(200, weight_g=6000)
    drawn = plan(asked("karyotype", "cryoglobulin", patient=child))
    reasons = {one.test: one.reason.sentence for one in drawn.not_drawn}
    assert "takes at least" in reasons["cryoglobulin"]


def test_a_requisition_without_tests_gives_an_empty_rack() -> None:
    """Nothing to draw, nothing left out."""
    drawn = plan(asked())
    assert drawn.containers == ()
    assert drawn.not_drawn == ()
    assert drawn.allowance.planned_ul == 0


def test_when_nothing_may_be_taken_every_test_is_listed_as_not_drawn() -> None:
    """A used-up limit gives an empty rack and a reason for each test."""
    drained = someone(weight_g=62_000, prior_draws=(drawn_before(3, 100_000),))
    drawn = plan(asked("fbc", "culture-blood", patient=drained))
    assert drawn.containers == ()
    assert [one.test for one in drawn.not_drawn] == ["fbc", "culture-blood"]
    assert drawn.allowance.planned_ul == 0


# ---------------------------------------------------------------- altitude


def test_at_the_pass_citrate_is_filled_by_syringe_to_the_mark() -> None:
    """At 3,400 m the vacuum leaves citrate under its minimum: syringe, caution and finding."""
    drawn = plan(asked("pt-inr"), Place(altitude_m=3400))
    (tube,) = drawn.containers
    container = CATALOGUE.containers[tube.container]
    assert drawn_ul(container, 3400) < container.nominal_ul * 9 // 10
    assert tube.fill_ul == container.nominal_ul
    assert tube.cautions
    assert CATALOGUE.devices[drawn.device.device].draws_by == "plunger"
    assert drawn.order_profile == "syringe"
    assert found(drawn, "fill-under")


def test_tubes_made_for_altitude_need_no_syringe() -> None:
    """With tubes made for 3,500 m on the shelf the plan draws by vacuum."""
    shelf = (
        Lot("citrate-2.7-alt3500", "A1", TODAY + timedelta(days=90), 10),
        Lot("citrate-2.7", "S1", TODAY + timedelta(days=90), 10),
    )
    drawn = plan(asked("pt-inr"), Place(altitude_m=3400, lots=shelf))
    (tube,) = drawn.containers
    assert tube.container == "citrate-2.7-alt3500"
    assert tube.lot == "A1"
    assert CATALOGUE.devices[drawn.device.device].draws_by == "vacuum"
    assert any("passed over" in reason.sentence for reason in tube.reasons)


def test_at_the_pass_without_a_syringe_coagulation_is_not_drawn() -> None:
    """No tube that fills and no syringe: the test is listed with that reason."""
    drawn = plan(asked("pt-inr", "creatinine"), Place(altitude_m=3400, devices=("straight",)))
    (missing,) = drawn.not_drawn
    assert missing.test == "pt-inr"
    assert "3400 m" in missing.reason.sentence


def test_an_underfilled_tube_whose_ratio_matters_less_is_offered_with_a_note() -> None:
    """EDTA draws little at the pass; where no other size fills, the plan says so."""
    shelf = (Lot("edta-3", "E1", TODAY + timedelta(days=90), 10),)
    drawn = plan(asked("fbc"), Place(altitude_m=3400, lots=shelf))
    (tube,) = drawn.containers
    assert tube.fill_ul == drawn_ul(CATALOGUE.containers["edta-3"], 3400)
    assert found(drawn, "fill-under")


# ---------------------------------------------------------------- stock


def test_an_expired_lot_is_not_offered_and_the_first_to_expire_is_proposed() -> None:
    """Yesterday's and recalled lots stay on the shelf, with a note each."""
    shelf = (
        Lot("edta-3", "LATE", TODAY + timedelta(days=200), 5),
        Lot("edta-3", "SOON", TODAY, 5),
        Lot("edta-3", "OLD", TODAY - timedelta(days=1), 5),
        Lot("edta-3", "BACK", TODAY + timedelta(days=50), 5, recalled=True),
    )
    drawn = plan(asked("fbc"), Place(lots=shelf))
    assert [c.lot for c in drawn.containers] == ["SOON"]
    assert len(found(drawn, "lot-expired")) == 1
    assert len(found(drawn, "lot-recalled")) == 1


def test_with_only_an_expired_lot_the_test_is_not_drawn() -> None:
    """Nothing on the shelf serves it, and the plan says which containers would."""
    shelf = (Lot("edta-3", "OLD", TODAY - timedelta(days=1), 5),)
    drawn = plan(asked("fbc"), Place(lots=shelf))
    (missing,) = drawn.not_drawn
    assert missing.test == "fbc"
    assert CATALOGUE.additives["k2_edta"].name in missing.reason.sentence


def test_too_few_containers_leave_the_less_wanted_test_out() -> None:
    """One tube, two tests that want one each: the requester's priority decides."""
    shelf = (Lot("edta-6", "E1", TODAY + timedelta(days=90), 1),)
    tests = (OrderedTest("hba1c", 3), OrderedTest("fbc", 1))
    drawn = plan(Requisition("R-3", someone(weight_g=62_000), tests, MORNING), Place(lots=shelf))
    assert holding(drawn, "fbc")
    (missing,) = drawn.not_drawn
    assert missing.test == "hba1c"
    assert "too few containers" in missing.reason.sentence


# ---------------------------------------------------------------- haematocrit


def test_at_a_high_haematocrit_citrate_is_taken_out_and_the_tube_filled_by_syringe() -> None:
    """The amount is in the caution, the form in the choices, and no vacuum is counted on."""
    thick = someone(weight_g=62_000, haematocrit_percent=62.0)
    drawn = plan(asked("pt-inr", patient=thick))
    (tube,) = drawn.containers
    assert found(drawn, "citrate-haematocrit")
    assert any("citrate out" in caution for caution in tube.cautions)
    assert tube.fill_ul == CATALOGUE.containers[tube.container].nominal_ul
    assert CATALOGUE.devices[drawn.device.device].draws_by == "plunger"
    assert ("citrate-formula", "h21_2024") in drawn.choices


def test_a_newborns_unknown_haematocrit_is_asked_for_before_citrate() -> None:
    """It is expected over the limit, so the plan notes that it should be known."""
    drawn = plan(asked("pt-inr", patient=someone(2, weight_g=3600)), limit_confirmed=True)
    assert found(drawn, "citrate-haematocrit-unknown")


# ---------------------------------------------------------------- sets, sites, choices


def test_blood_cultures_come_first_by_weight_and_aerobic_first_with_vacuum() -> None:
    """Two sets for an adult, each from its own puncture; the order within a set by device."""
    drawn = plan(asked("culture-blood", "fbc"))
    purposes = [c.purpose for c in drawn.containers]
    assert purposes == [
        "culture_aerobic", "culture_anaerobic", "culture_aerobic", "culture_anaerobic", "specimen",
    ]  # fmt: skip
    assert sum(c.fill_ul for c in drawn.containers[:4]) == 40_000
    assert all("own puncture" in c.cautions[0] for c in drawn.containers[:4])


def test_with_a_syringe_the_anaerobic_bottle_comes_first() -> None:
    """No air stands before the blood of a syringe."""
    drawn = plan(asked("culture-blood"), Place(devices=("syringe",)))
    assert [c.purpose for c in drawn.containers][:2] == ["culture_anaerobic", "culture_aerobic"]


def test_an_infants_culture_goes_into_one_paediatric_bottle_a_set() -> None:
    """By weight, within the limit that was confirmed."""
    infant = someone(100, weight_g=5500)
    drawn = plan(asked("culture-blood", patient=infant), limit_confirmed=True)
    assert {c.purpose for c in drawn.containers} == {"culture_paediatric"}


def test_a_culture_that_does_not_fit_whole_is_drawn_short_and_said_so() -> None:
    """One aerobic bottle is better than none: short volume goes to the aerobic bottle."""
    drained = someone(weight_g=62_000, prior_draws=(drawn_before(3, 88_000),))
    drawn = plan(asked("culture-blood", patient=drained))
    assert [c.purpose for c in drawn.containers] == ["culture_aerobic"]
    assert found(drawn, "culture-short")


def test_a_set_is_always_drawn_whole() -> None:
    """The four tubes of the interferon gamma release assay stand together."""
    drawn = plan(asked("igra"))
    assert len(drawn.containers) == CATALOGUE.tests["igra"].containers_needed
    assert {c.container for c in drawn.containers} == {"igra-1"}


def test_a_volume_beyond_every_container_is_spread_over_several() -> None:
    """Cryoglobulins at an ordinary haematocrit take more blood than one plain tube in use."""
    drawn = plan(asked("cryoglobulin"))
    assert len(drawn.containers) == 2
    whole = sum(test.volume_ul for c in drawn.containers for test in c.tests)
    assert whole == needs_of(asked("cryoglobulin"))["cryoglobulin"].volume_ul


def test_after_a_mastectomy_the_other_arm_is_proposed() -> None:
    """The shut side is listed with its reason, the free one comes first."""
    patient = replace(with_condition("mastectomy", "left"), weight_g=62_000)
    drawn = plan(asked("fbc", patient=patient))
    assert drawn.sites[0].side == "right"
    assert drawn.sites[0].verdict == "allowed"
    shut = [site for site in drawn.sites if site.side == "left"]
    assert shut
    assert all(site.verdict != "allowed" for site in shut)


def test_choices_that_mattered_are_shown_as_they_stand() -> None:
    """Renin on ice or not, by the laboratory's choice, moves the tube's handling."""
    for option, need in (("room", "never_chilled"), ("ice", "ice_slurry")):
        drawn = plan(asked("renin"), Place(choices={"renin-cooling": option}))
        assert ("renin-cooling", option) in drawn.choices
        assert need in {need for c in drawn.containers for need, _ in c.handling}


def test_preparation_and_cautions_are_among_the_findings() -> None:
    """Fasting not asked about, and what the patient carries."""
    drawn = plan(asked("gastrin", patient=with_condition("mastectomy", "left", weight_g=62_000)))
    assert found(drawn, "preparation-unknown")


def test_findings_stand_by_severity() -> None:
    """Stops first, then asks, then notes."""
    baby = someone(40, weight_g=4500)
    drawn = plan(asked("fbc", "pt-inr", "gastrin", patient=baby), Place(route="capillary"))
    ladder = [Severity.STOP, Severity.ASK, Severity.NOTE]
    ranks = [ladder.index(finding.severity) for finding in drawn.findings]
    assert ranks == sorted(ranks)
    assert ranks[0] == 0


# ---------------------------------------------------------------- what cannot be planned


def test_an_unknown_test_is_one_sentence() -> None:
    """The plan names the code and what to write."""
    requisition = replace(asked("fbc"), tests=(OrderedTest("moonstone"),))
    with pytest.raises(RequisitionError, match="moonstone"):
        plan(requisition)


@pytest.mark.parametrize(
    ("requisition", "place", "words"),
    [
        (asked("fbc"), Place(order_profile="backwards"), "no order of draw is called backwards"),
        (asked("fbc"), Place(choices={"esr-place": "never"}), "esr-place"),
        (asked("fbc"), Place(altitude_m=20_000), "altitude"),
        (
            asked("fbc", patient=someone(haematocrit_percent=100.0)),
            Place(),
            "haematocrit of 100 %",
        ),
        (asked("fbc", collect_at=MORNING.replace(tzinfo=None)), Place(), "time zone"),
    ],
)
def test_what_cannot_be_used_is_refused(requisition: Requisition, place: Place, words: str) -> None:
    """Each refusal says what and where."""
    with pytest.raises(InputError, match=words):
        plan(requisition, place)


def test_the_draw_is_reckoned_for_the_day_it_is_asked_for() -> None:
    """A lot that expires before the day of the draw is not offered for it."""
    shelf = (Lot("edta-3", "E1", TODAY + timedelta(days=1), 5),)
    later = asked("fbc", collect_at=MORNING + timedelta(days=2))
    assert plan(later, Place(lots=shelf)).containers == ()
    assert plan(asked("fbc"), Place(lots=shelf)).containers


def test_a_row_of_the_laboratory_is_named_as_such() -> None:
    """The layer of the deciding row reaches the reason."""
    old = CATALOGUE.volumes["fbc"]
    catalogue = laid_over(replace(old, volume_ul=300, layer="district"))
    drawn = plan_draw(asked("fbc"), catalogue, now=MORNING)
    (test,) = drawn.containers[0].tests
    assert test.volume_ul == 300
    assert test.reason.layer == "district"


# ---------------------------------------------------------------- every plan


@PLENTY
@given(requisitions(), places(), st.booleans())
def test_every_test_is_drawn_or_listed_and_the_blood_adds_up(
    requisition: Requisition, place: Place, confirmed: bool
) -> None:
    """No silent drop, nothing twice, the sum of the fills, never over the limit, repeatable."""
    drawn = plan(requisition, place, limit_confirmed=confirmed)
    homes = Counter(test.code for c in drawn.containers for test in c.tests)
    missing = Counter(one.test for one in drawn.not_drawn)
    for ordered in requisition.tests:
        if missing[ordered.code]:
            assert missing[ordered.code] == 1
            assert homes[ordered.code] == 0
        elif homes[ordered.code] > 1:
            alone = [c for c in drawn.containers if ordered.code in {t.code for t in c.tests}]
            assert all(len(c.tests) == 1 for c in alone)
        else:
            assert homes[ordered.code] == 1
    assert set(homes) | set(missing) == {ordered.code for ordered in requisition.tests}
    told = [f.subject for f in drawn.findings if f.code == "test-not-drawn"]
    assert sorted(told) == sorted(missing)
    fills = sum(c.fill_ul for c in drawn.containers)
    assert drawn.allowance.planned_ul == fills + drawn.allowance.tubing_ul
    allowed = allowance(
        requisition.patient, CATALOGUE, place.choices, max(MORNING, requisition.collect_at)
    )
    limit = allowed.stop_left_ul if confirmed else allowed.limit_ul
    assert limit is None or drawn.allowance.planned_ul <= limit
    assert drawn == plan(requisition, place, limit_confirmed=confirmed)


def dead_ul(container: PlannedContainer, requisition: Requisition, place: Place) -> int:
    """What the station leaves in a container, as blood."""
    if not container.tests or container.purpose != "specimen":
        return 0
    row = CATALOGUE.tests[container.tests[0].code]
    station = CATALOGUE.benches[row.bench].station
    form = CATALOGUE.containers[container.container].form
    dead = CATALOGUE.dead_volume(station, form).dead_ul
    return dead if row.matrix == "whole_blood" else scene(requisition, place).blood_for_ul(dead)


@PLENTY
@given(requisitions(), places())
def test_every_container_suits_its_tests(requisition: Requisition, place: Place) -> None:
    """Accepted additives, room for all and the dead volume, one station, one way of keeping."""
    drawn = plan(requisition, place)
    for container in drawn.containers:
        rows = [CATALOGUE.tests[test.code] for test in container.tests]
        for row in rows:
            assert container.additive in {a.additive for a in CATALOGUE.accepted(row.code)}
        stations = {CATALOGUE.benches[row.bench].station for row in rows}
        assert len(stations) <= 1
        assert len(rows) <= 1 or not any(row.own_tube for row in rows)
        needs = {need for need, _ in container.handling}
        assert not {"ice_slurry", "never_chilled"} <= needs
        assert not {"ice_slurry", "warm_37c"} <= needs
        assert len({row.matrix == "whole_blood" for row in rows}) <= 1
        taken = sum(test.volume_ul for test in container.tests)
        assert taken + dead_ul(container, requisition, place) <= container.fill_ul
        assert container.fill_min_ul <= container.fill_ul <= container.fill_max_ul
        if stations:
            (station,) = stations
            assert len(rows) <= CATALOGUE.stations[station].max_tests_per_tube


@PLENTY
@given(requisitions(), places())
def test_every_plan_follows_its_order_of_draw(requisition: Requisition, place: Place) -> None:
    """Positions count up, classes follow the profile, a discard tube stands first."""
    drawn = plan(requisition, place)
    assert [c.position for c in drawn.containers] == list(range(1, len(drawn.containers) + 1))
    kept = [c for c in drawn.containers if c.purpose != "discard"]
    assert len(drawn.containers) - len(kept) <= 1
    assert drawn.containers[-len(kept) :] == tuple(kept) or not kept
    places_of = {
        row.order_class: row.position
        for row in CATALOGUE.rows(OrderPlace)
        if row.profile == drawn.order_profile
    }
    if place.choices.get("esr-place") == "last":
        places_of["citrate_esr"] = 1 + max(places_of.values())
    positions = [places_of[CATALOGUE.additives[c.additive].order_class] for c in kept]
    assert positions == sorted(positions)


@PLENTY
@given(requisitions(), places())
def test_no_air_of_the_tubing_reaches_a_tube_whose_ratio_matters(
    requisition: Requisition, place: Place
) -> None:
    """A discard tube comes first, or the plan asks for one."""
    drawn = plan(requisition, place)
    if not drawn.containers or not drawn.device.device:
        return
    device = CATALOGUE.devices[drawn.device.device]
    first = drawn.containers[0]
    evacuated = CATALOGUE.containers[first.container].form == "evacuated"
    airy = device.draws_by == "vacuum" and device.tubing_air_ul > 0 and evacuated
    ratio = CATALOGUE.fill_limit(first.additive, place.choices).to_the_mark
    if airy and ratio and first.purpose != "discard":
        assert found(drawn, "discard-missing")
    if first.purpose == "discard":
        assert airy
        assert not first.label_wanted


@PLENTY
@given(requisitions(), places())
def test_no_plan_takes_a_lot_that_is_not_there(requisition: Requisition, place: Place) -> None:
    """Lots are on the shelf, in date, not recalled, and enough of them."""
    drawn = plan(requisition, place)
    if place.lots is None:
        assert {c.lot for c in drawn.containers} <= {""}
        return
    day: date = max(MORNING, requisition.collect_at).date()
    shelf = {lot.number: lot for lot in place.lots}
    for number, count in Counter(c.lot for c in drawn.containers).items():
        lot = shelf[number]
        assert not lot.recalled
        assert lot.expires_on >= day
        assert count <= lot.count
    for container in drawn.containers:
        assert shelf[container.lot].container == container.container


def test_a_single_number_of_turns_is_said_once() -> None:
    """Five turns are five, not five to five."""
    (gel,) = plan(asked("crp")).containers
    assert gel.inversions == (5, 5)
    assert "Mix by 5 full turns." in [reason.sentence for reason in gel.reasons]
