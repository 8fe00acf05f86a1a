"""What each test needs at a place: groups, yields, dead volumes, containers offered."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cubital.draw import Lot, Place, plan_draw
from cubital.draw.needs import RANK_STEP, ask, dead_blood_ul, question
from cubital.draw.offers import BY_HAND, TRANSFER, VACUUM, Offers
from cubital.draw.physics import drawn_ul
from cubital.draw.sets import culture_row, is_set, split, variants
from cubital.draw.stock import propose_lots, stock_findings, stock_on
from tests.draw.asking import CATALOGUE, asked, needs_of, scene
from tests.draw.hands import MORNING, TODAY, laid_over, setting, someone

SOON = TODAY + timedelta(days=90)

# ---------------------------------------------------------------- yield


@given(st.integers(1, 20_000), st.integers(100, 9900).map(lambda n: n / 100), st.integers(50, 100))
@settings(max_examples=200, deadline=None)
def test_blood_for_a_volume_is_the_least_that_yields_it(
    matrix_ul: int, haematocrit: float, recovery: int
) -> None:
    """``ceil(volume / (recovery * (1 - Hct)))``, exactly: one µL less would not do."""
    here = replace(scene(asked("fbc")), haematocrit_percent=haematocrit, recovery_percent=recovery)
    share = Fraction(recovery, 100) * (1 - Fraction(round(haematocrit * 100), 10_000))
    blood = here.blood_for_ul(matrix_ul)
    assert blood * share >= matrix_ul
    assert (blood - 1) * share < matrix_ul


def test_yield_follows_the_patients_own_haematocrit_or_the_expected_high_one() -> None:
    """Known 30 %, else the row of the age: a newborn's is far higher than an adult's."""
    own = needs_of(asked("creatinine", patient=someone(haematocrit_percent=30.0)))
    adult = needs_of(asked("creatinine", patient=someone(sex="female")))
    newborn = needs_of(asked("creatinine", patient=someone(1)))
    volumes = [one["creatinine"].volume_ul for one in (own, adult, newborn)]
    assert volumes == sorted(volumes)
    assert len(set(volumes)) == 3
    assert "haematocrit of 30 %" in own["creatinine"].reason.sentence


def test_an_unknown_sex_takes_the_higher_haematocrit_and_an_unknown_age_the_adults() -> None:
    """The high end yields least, so it is the safe one."""
    unknown = scene(asked("fbc", patient=someone(sex="unknown"))).haematocrit_percent
    male = scene(asked("fbc", patient=someone(sex="male"))).haematocrit_percent
    ageless = scene(asked("fbc", patient=someone(None, sex="male"))).haematocrit_percent
    assert unknown == male == ageless


def test_whole_blood_is_not_divided_by_a_yield() -> None:
    """A blood count takes its volume as it stands in the table."""
    fbc = needs_of(asked("fbc"))["fbc"]
    assert fbc.volume_ul == CATALOGUE.volume_ul("fbc")
    assert fbc.state == "whole"


def test_dead_volume_is_turned_into_blood_where_the_tube_is_spun() -> None:
    """Once a container, in the station's matrix."""
    here = scene(asked("fbc"))
    row = CATALOGUE.dead_volume("core", "evacuated").dead_ul
    assert dead_blood_ul("core", "evacuated", "spun", here) == here.blood_for_ul(row)
    assert dead_blood_ul("core", "evacuated", "whole", here) == row


# ---------------------------------------------------------------- groups


def test_groups_part_what_must_not_share() -> None:
    """Ice from ambient, spun from whole, station from station, 37 °C from all."""
    needs = needs_of(
        asked("potassium", "ammonia", "fbc", "acth", "cryoglobulin", "ana", "creatinine")
    )
    groups = {code: one.group(one.cooling) for code, one in needs.items()}
    assert groups["potassium"] == groups["creatinine"]
    assert groups["ammonia"] != groups["potassium"]
    assert groups["acth"].endswith("ice/spun")
    assert groups["fbc"].endswith("ambient/whole")
    assert groups["cryoglobulin"] != groups["ana"]


def test_a_test_may_go_along_on_ice_only_where_the_table_says_it_keeps_cold() -> None:
    """Glucose joins lactate on ice when a row says that its unseparated blood keeps there."""
    row = next(r for r in CATALOGUE.stability("glucose") if r.matrix == "whole_blood")
    cold = laid_over(replace(row, condition="fridge", keeps_h=4.0))
    never = laid_over(replace(row, condition="fridge", keeps_h=0.0))
    requisition = asked("lactate", "glucose")
    together = plan_draw(requisition, cold, now=MORNING)
    apart = plan_draw(requisition, never, now=MORNING)
    assert len(together.containers) == 1
    assert len(apart.containers) == 2


def test_a_serum_tube_is_not_chilled_for_a_neighbour() -> None:
    """Gastrin's serum on ice takes no other serum test along, even one that keeps cold."""
    row = next(r for r in CATALOGUE.stability("aldosterone") if r.matrix == "whole_blood")
    cold = laid_over(replace(row, condition="fridge", keeps_h=4.0))
    drawn = plan_draw(asked("gastrin", "aldosterone"), cold, now=MORNING)
    assert len(drawn.containers) == 2


# ---------------------------------------------------------------- offers


def test_an_evacuated_tube_is_offered_at_what_it_draws_here() -> None:
    """Least and most are what the vacuum gives at the altitude."""
    offers = Offers(scene(asked("fbc"), Place(altitude_m=1900)))
    for offer in offers.of("serum_gel"):
        assert offer.way == VACUUM
        assert offer.fill_min_ul == offer.fill_max_ul == drawn_ul(offer.container, 1900)


def test_micro_tubes_are_flexible_and_offered_only_where_they_should_be() -> None:
    """Between minimum fill and mark, for small patients and skin pricks."""
    adult = Offers(scene(asked("fbc")))
    small = Offers(scene(asked("fbc")), small=True)
    prick = Offers(scene(asked("fbc")), small=True, capillary=True)
    assert {offer.container.form for offer in adult.of("k2_edta")} == {"evacuated"}
    assert {offer.container.form for offer in prick.of("k2_edta")} == {"micro"}
    micro = [offer for offer in small.of("k2_edta") if offer.container.form == "micro"]
    assert micro
    for offer in micro:
        assert offer.way == BY_HAND
        assert offer.fill_min_ul < offer.fill_max_ul == offer.container.nominal_ul


def test_no_citrate_is_offered_to_a_skin_prick() -> None:
    """The setting names the classes that are never filled from a prick."""
    prick = Offers(scene(asked("fbc")), small=True, capillary=True)
    assert prick.of("na_citrate_9nc") == ()


def test_a_tube_to_the_mark_is_transferred_only_where_none_fills_by_itself() -> None:
    """At the pass the sea-level tubes go by syringe, unless an altitude tube is on hand."""
    pass_post = Place(altitude_m=3400)
    sea = Lot("citrate-2.7", "S", SOON, 5)
    high = Lot("citrate-2.7-alt3500", "H", SOON, 5)
    alone = Offers(scene(asked("fbc"), replace(pass_post, lots=(sea,))))
    both = Offers(scene(asked("fbc"), replace(pass_post, lots=(sea, high))))
    no_syringe = Offers(scene(asked("fbc"), replace(pass_post, lots=(sea,), devices=("straight",))))
    assert [(o.container.code, o.way) for o in alone.of("na_citrate_9nc")] == [
        ("citrate-2.7", TRANSFER)
    ]
    assert [(o.container.code, o.way) for o in both.of("na_citrate_9nc")] == [
        ("citrate-2.7-alt3500", VACUUM)
    ]
    assert no_syringe.of("na_citrate_9nc") == ()


def test_an_altitude_tube_overfills_at_the_sea_and_is_not_offered_there() -> None:
    """A ratio that is too thin is as wrong as one that is too thick."""
    shelf = (Lot("citrate-2.7-alt3500", "H", SOON, 5), Lot("citrate-1.8", "S", SOON, 5))
    offers = Offers(scene(asked("fbc"), Place(lots=shelf)))
    assert [o.container.code for o in offers.of("na_citrate_9nc")] == ["citrate-1.8"]


def test_without_a_stock_list_only_containers_in_use_are_offered() -> None:
    """``in_use`` decides where nobody counts."""
    offers = Offers(scene(asked("fbc")), small=True)
    for additive in CATALOGUE.additives:
        assert all(offer.container.in_use for offer in offers.of(additive))


# ---------------------------------------------------------------- the question


def test_ranks_put_a_better_additive_before_a_better_size() -> None:
    """The step between additives is larger than any container's rank."""
    assert all(container.rank < RANK_STEP for container in CATALOGUE.containers.values())
    requisition = asked("potassium")
    here = scene(requisition)
    laid = question(ask(requisition.tests, here), Offers(here))
    ranks: dict[str, list[int]] = {}
    for index, rank in laid.needs[0].kinds:
        ranks.setdefault(laid.ways[index].offer.container.additive, []).append(rank)
    best = [row.additive for row in CATALOGUE.accepted("potassium") if row.additive in ranks]
    for better, worse in pairwise(best):
        assert max(ranks[better]) < min(ranks[worse])


def test_tests_without_a_container_are_homeless_and_said_so() -> None:
    """Nothing on the shelf for one of two."""
    requisition = asked("fbc", "potassium")
    here = scene(requisition, Place(lots=(Lot("edta-3", "E", SOON, 1),)))
    laid = question(ask(requisition.tests, here), Offers(here))
    assert [one.test.code for one in laid.asked] == ["fbc"]
    assert [one.test.code for one in laid.homeless] == ["potassium"]


def test_a_container_filled_by_hand_is_filled_whole_where_a_test_wants_it() -> None:
    """The kind's least is the mark then, and only for that test."""
    row = CATALOGUE.handling("esr")
    assert any(handling.need == "filled_whole" for handling in row)
    whole = replace(CATALOGUE.handling("esr")[0], test="fbc", need="filled_whole")
    catalogue = laid_over(whole)
    baby = someone(100, weight_g=6000)
    drawn = plan_draw(asked("fbc", patient=baby), catalogue, now=MORNING)
    (tube,) = drawn.containers
    assert catalogue.containers[tube.container].form == "micro"
    assert tube.fill_ul == catalogue.containers[tube.container].nominal_ul


# ---------------------------------------------------------------- sets


def test_which_tests_are_sets() -> None:
    """Broths and tests of several containers stand beside the solver."""
    needs = needs_of(asked("culture-blood", "igra", "cfdna", "fbc", "cryoglobulin"))
    assert {code for code, one in needs.items() if is_set(one)} == {
        "culture-blood", "igra", "cfdna",
    }  # fmt: skip


def test_a_split_volume_keeps_its_sum_and_its_dead_volumes() -> None:
    """Shares differ by at most 1 µL and each container holds its share and the dead volume."""
    requisition = asked("cryoglobulin")
    one = needs_of(requisition)["cryoglobulin"]
    ways = split(one, Offers(scene(requisition)))
    assert ways
    for way in ways:
        shares = [content.volume_ul for pour in way.pours for content in pour.contents]
        assert sum(shares) == one.volume_ul
        assert max(shares) - min(shares) <= 1
        assert all(pour.needed_ul <= pour.offer.fill_max_ul for pour in way.pours)


@pytest.mark.parametrize(
    ("days", "weight_g", "purposes"),
    [
        (2, 900, ["culture_paediatric"]),
        (30, 1900, ["culture_paediatric", "culture_paediatric"]),
        (400, 9000, ["culture_paediatric", "culture_paediatric"]),
        (3000, 25_000, ["culture_aerobic", "culture_aerobic"]),
    ],
)
def test_bottles_by_weight(days: int, weight_g: int, purposes: list[str]) -> None:
    """Small volumes go into paediatric bottles, one aerobic bottle a set up to 10 mL."""
    requisition = asked("culture-blood", patient=someone(days, weight_g=weight_g))
    one = needs_of(requisition)["culture-blood"]
    full = variants(one, Offers(scene(requisition)))[0]
    assert [pour.purpose for pour in full.pours] == purposes
    row, unknown = culture_row(scene(requisition))
    assert unknown is None
    assert full.blood_ul == row.first_set_ul + (row.sets - 1) * row.second_set_ul


def test_without_a_weight_a_small_child_takes_the_lightest_volume_and_is_asked_about() -> None:
    """An adult takes the heaviest, with a note."""
    child, unknown = culture_row(scene(asked("fbc", patient=someone(100))))
    adult, noted = culture_row(scene(asked("fbc", patient=someone(20_000))))
    assert child.first_set_ul < adult.first_set_ul
    assert unknown is not None
    assert unknown.severity == "ask"
    assert noted is not None
    assert noted.severity == "note"


def test_without_an_anaerobic_bottle_only_the_aerobic_part_is_drawn() -> None:
    """And the finding says so."""
    shelf = (Lot("culture-aerobic-10", "A", SOON, 4),)
    drawn = plan_draw(asked("culture-blood"), CATALOGUE, Place(lots=shelf), now=MORNING)
    assert [c.purpose for c in drawn.containers] == ["culture_aerobic"] * 2
    assert any(finding.code == "culture-short" for finding in drawn.findings)


# ---------------------------------------------------------------- stock


def test_lots_are_proposed_first_to_expire_first_and_run_out() -> None:
    """Three tubes: two of the lot that expires first, one of the next."""
    shelf = (
        Lot("edta-3", "LATE", TODAY + timedelta(days=99), 5),
        Lot("edta-3", "SOON", TODAY + timedelta(days=9), 2),
    )
    stock = stock_on(shelf, TODAY, CATALOGUE.setting("container_expiry_grace_days"))
    assert propose_lots(["edta-3"] * 3, stock) == ("SOON", "SOON", "LATE")
    assert stock.counts == {"edta-3": 7}
    assert stock.without({"edta-3": 3}) == {"edta-3": 4}
    assert stock.holds({"edta-3": 7})
    assert not stock.holds({"edta-3": 8})


def test_the_laboratory_decides_how_long_after_its_date_a_lot_is_used() -> None:
    """A setting, not a number in the code."""
    shelf = (Lot("edta-3", "OLD", TODAY - timedelta(days=3), 2),)
    strict = stock_on(shelf, TODAY, CATALOGUE.setting("container_expiry_grace_days"))
    loose = stock_on(shelf, TODAY, setting("container_expiry_grace_days", "3"))
    assert strict.counts == {}
    assert loose.counts == {"edta-3": 2}
    names = {"edta-3": "EDTA"}
    assert [f.code for f in stock_findings(strict, ["edta-3"], names)] == ["lot-expired"]
    assert stock_findings(strict, ["gel-5"], names) == ()


def test_no_stock_list_is_no_limit() -> None:
    """None is not an empty shelf."""
    rule = CATALOGUE.setting("container_expiry_grace_days")
    free = stock_on(None, TODAY, rule)
    assert free.counts is None
    assert free.without({"edta-3": 3}) is None
    assert free.holds({"edta-3": 300})
    assert free.has("edta-3", True)
    assert not free.has("edta-3", False)
    assert not stock_on((), TODAY, rule).has("edta-3", True)
