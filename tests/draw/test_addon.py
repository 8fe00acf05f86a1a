"""Add-ons: which new tests need no new needle stick, and why the others do."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cubital.draw import AddOn, OnHand, Place, add_on
from cubital.draw.assign import Wish, assign
from cubital.draw.onhand import Fit
from cubital.errors import InputError
from cubital.finding import Reason
from cubital.requisition.values import OrderedTest, Requisition
from tests.draw.asking import CATALOGUE, SEA_LEVEL, asked, sentences
from tests.draw.hands import MORNING, laid_over, someone
from tests.strategies import TESTS, ordered_tests


def hours(count: float) -> datetime:
    """So many hours before the morning of the tests."""
    return MORNING - timedelta(hours=count)


def tube(
    container: str = "gel-5", age_h: float = 1.0, left_ul: int = 3000, **known: object
) -> OnHand:
    """A specimen on hand; accession A1 unless told."""
    accession = str(known.pop("accession", "A1"))
    return OnHand(accession, container, hours(age_h), left_ul, **known)  # type: ignore[arg-type]


def spun(
    container: str = "gel-5", age_h: float = 2.0, left_ul: int = 1500, **known: object
) -> OnHand:
    """A specimen spun half an hour after the draw."""
    return tube(container, age_h, left_ul, spun_at=hours(age_h - 0.5), **known)


def ask_for(requisition: Requisition, *specimens: OnHand, place: Place = SEA_LEVEL) -> AddOn:
    """The answer on the morning of the tests."""
    return add_on(requisition, specimens, CATALOGUE, place, now=MORNING)


def added(answer: AddOn) -> dict[str, str]:
    """Test -> accession."""
    return {one.test: one.accession for one in answer.added}


def why(answer: AddOn) -> str:
    """The sentence about the only test that needs a draw."""
    (missing,) = answer.needs_draw
    return missing.reason.sentence


# ---------------------------------------------------------------- stories


def test_a_tube_the_store_keeps_a_shorter_time_says_that_time() -> None:
    """The sooner of the test's own end and the store's, with the store's rule as a reason."""
    rule = Reason("Kept 7 days after its last test.", "common_practice", "district")
    kept = MORNING + timedelta(minutes=10)
    (alone,) = ask_for(asked("tsh"), spun(tests=("creatinine",))).added
    tube_ = spun(tests=("creatinine",), kept_until=kept, kept_why=rule)
    (one,) = ask_for(asked("tsh"), tube_).added
    assert alone.use_by > kept
    assert one.use_by == kept
    (said,) = [reason for reason in one.reasons if "thrown away" in reason.sentence]
    assert rule.sentence in said.sentence
    assert (said.source, said.layer) == (rule.source, rule.layer)


def test_a_store_that_keeps_longer_than_the_test_changes_nothing() -> None:
    """The test's own end stands, and nothing is said of the store."""
    (alone,) = ask_for(asked("tsh"), spun(tests=("creatinine",))).added
    long = spun(tests=("creatinine",), kept_until=alone.use_by + timedelta(days=1))
    assert ask_for(asked("tsh"), long).added == (alone,)


def test_a_tube_whose_time_in_the_store_is_over_still_serves() -> None:
    """It is there: the test's own end, and a sentence to take it out in time."""
    (alone,) = ask_for(asked("tsh"), spun(tests=("creatinine",))).added
    over = spun(tests=("creatinine",), kept_until=hours(0.2))
    (one,) = ask_for(asked("tsh"), over).added
    assert one.use_by == alone.use_by
    assert any("take it out" in reason.sentence for reason in one.reasons)


def test_a_spun_gel_tube_takes_a_thyroid_test_along() -> None:
    """Accepted additive, in time, enough serum: no needle stick, and until when."""
    answer = ask_for(asked("tsh"), spun(tests=("creatinine",)))
    (one,) = answer.added
    assert one.accession == "A1"
    assert one.volume_ul == CATALOGUE.volume_ul("tsh")
    keeps = next(
        row.keeps_h
        for row in CATALOGUE.stability("tsh")
        if row.matrix == "serum_plasma" and row.condition == "room"
    )
    assert one.use_by == hours(1.5) + timedelta(hours=keeps)
    assert one.reasons
    assert answer.needs_draw == ()


def test_an_unspun_tube_gives_blood_by_its_yield() -> None:
    """The volume is that of blood while the tube is not separated."""
    answer = ask_for(asked("creatinine"), tube())
    (one,) = answer.added
    assert one.volume_ul > CATALOGUE.volume_ul("creatinine")


def test_a_wrong_additive_needs_a_draw() -> None:
    """Potassium is not done from EDTA."""
    answer = ask_for(asked("potassium"), tube("edta-3"))
    assert "is not accepted" in why(answer)
    assert answer.findings[0].code == "add-on-draw"


def test_a_count_cannot_be_done_from_spun_blood_nor_its_tube_be_spun() -> None:
    """Whole blood stays whole, both ways round."""
    assert "it is spun" in why(ask_for(asked("fbc"), spun("edta-3")))
    assert "want it whole" in why(ask_for(asked("hiv-viral-load"), tube("edta-3", tests=("fbc",))))


def test_the_age_of_unseparated_blood_decides_about_potassium() -> None:
    """One hour by the cautious choice, six by another: the laboratory's choice decides."""
    old = tube(age_h=3.0)
    cautious = ask_for(asked("potassium"), old)
    bolder = ask_for(
        asked("potassium"), old, place=Place(choices={"potassium-whole-blood": "hours_6"})
    )
    assert "keeps 1 h" in why(cautious)
    assert added(bolder) == {"potassium": "A1"}


def test_late_separation_is_not_mended_by_spinning() -> None:
    """Spun after three hours, potassium has passed its hour unseparated."""
    late = tube(age_h=4.0, left_ul=1500, spun_at=hours(1.0))
    assert "unseparated" in why(ask_for(asked("potassium"), late))


def test_chilled_blood_gives_no_potassium_and_blood_not_on_ice_no_ammonia() -> None:
    """How a specimen travelled and is kept counts."""
    assert "on ice" in why(ask_for(asked("potassium"), tube(cooling="ice")))
    assert "chilled" in why(ask_for(asked("potassium"), tube(condition="fridge", age_h=0.5)))
    assert "not on ice" in why(ask_for(asked("acth"), tube("edta-3", age_h=0.2)))


def test_minutes_to_the_centrifuge_are_kept() -> None:
    """Lactate is spun within its minutes or drawn anew; on ice and in time it is added."""
    fresh = tube("fluoride-2", age_h=0.1, left_ul=1900, cooling="ice", tests=("lactate",))
    late = tube("fluoride-2", age_h=1.0, left_ul=1900, cooling="ice", tests=())
    limit = next(r for r in CATALOGUE.handling("lactate") if r.need == "spin_within_min")
    assert limit.value < 60
    assert added(ask_for(asked("lactate"), fresh)) == {"lactate": "A1"}
    assert "centrifuge" in why(ask_for(asked("lactate"), late))


def test_the_way_to_the_laboratory_counts_when_it_is_known() -> None:
    """A malaria film that arrived in time may be made; one on the way too long may not."""
    limit = next(r for r in CATALOGUE.handling("malaria-film") if r.need == "to_lab_within_min")
    soon = tube("edta-3", age_h=1.8, received_at=hours(1.5))
    late = tube("edta-3", age_h=1.8, received_at=hours(0.1))
    assert limit.value == 60
    assert added(ask_for(asked("malaria-film"), soon)) == {"malaria-film": "A1"}
    assert "to the laboratory" in why(ask_for(asked("malaria-film"), late))


def test_the_dead_volume_is_left_in_the_tube() -> None:
    """Just enough, and one microlitre less."""
    dead = CATALOGUE.dead_volume("core", "evacuated").dead_ul
    need = CATALOGUE.volume_ul("tsh")
    assert added(ask_for(asked("tsh"), spun(left_ul=dead + need))) == {"tsh": "A1"}
    assert "dead volume" in why(ask_for(asked("tsh"), spun(left_ul=dead + need - 1)))


def test_own_tubes_stay_alone() -> None:
    """Neither shared with, nor added to."""
    assert "container of its own" in why(
        ask_for(asked("ammonia"), tube("edta-3", age_h=0.1, cooling="ice", tests=("acth",)))
    )
    assert "shares with none" in why(
        ask_for(asked("antibody-screen"), tube("edta-6", tests=("crossmatch",)))
    )


def test_no_more_tests_share_a_tube_than_its_station_allows() -> None:
    """The second place of the glycated station is the last."""
    most = CATALOGUE.stations["glycated"].max_tests_per_tube
    full = tube("edta-3", tests=("hba1c", "haemoglobin-variants")[:most])
    assert most == 2
    assert "already" in why(ask_for(asked("hba1c"), full))


def test_cultures_and_sets_are_always_drawn() -> None:
    """They take containers of their own from the vein."""
    answer = ask_for(asked("igra", "cfdna"), tube("igra-1"), tube("edta-10", accession="A2"))
    assert added(answer) == {}
    assert len(answer.needs_draw) == 2


def test_the_freshest_specimen_that_serves_is_taken() -> None:
    """Least age, whatever the order on the list."""
    old, new = spun(age_h=6.0), spun(age_h=2.0, accession="A2")
    assert added(ask_for(asked("tsh"), old, new)) == {"tsh": "A2"}


def test_scarce_serum_goes_to_the_tests_wanted_most() -> None:
    """Room for one of two: the requester's priority decides, the other is told why."""
    dead = CATALOGUE.dead_volume("core", "evacuated").dead_ul
    room = dead + max(CATALOGUE.volume_ul("tsh"), CATALOGUE.volume_ul("ferritin"))
    tests = (OrderedTest("tsh", 4), OrderedTest("ferritin", 1))
    requisition = Requisition("R-1", someone(), tests, MORNING)
    answer = ask_for(requisition, spun(left_ul=room))
    assert added(answer) == {"ferritin": "A1"}
    assert "tests that come first" in why(answer)


def test_what_nobody_can_make_up_for_is_asked() -> None:
    """Bilirubin on a tube that was not kept dark for an earlier test."""
    answer = ask_for(asked("bilirubin-total"), spun(tests=("creatinine",)))
    assert added(answer) == {"bilirubin-total": "A1"}
    assert "kept from light" in sentences(answer.findings, "add-on-check")[0]
    dark = ask_for(asked("bilirubin-total"), spun(tests=("bilirubin-direct",)))
    assert sentences(dark.findings, "add-on-check") == []


def test_a_table_without_a_figure_is_no_permission() -> None:
    """No row for a way of keeping, and a row of 0 hours, both need a draw."""
    row = next(
        r for r in CATALOGUE.stability("tsh")
        if r.matrix == "serum_plasma" and r.condition == "fridge"
    )  # fmt: skip
    never = laid_over(replace(row, keeps_h=0.0))
    cold = (spun(condition="fridge"),)
    answer = add_on(asked("tsh"), cold, never, now=MORNING)
    assert "must not be kept" in why(answer)
    frozen_blood = ask_for(asked("selenium"), tube("trace-plain-6"))
    assert "no table says" in why(frozen_blood)


def test_without_specimens_everything_needs_a_draw() -> None:
    """And says so plainly."""
    assert "no specimen is on hand" in why(ask_for(asked("tsh")))


@pytest.mark.parametrize(
    ("bad", "words"),
    [
        (tube("moon-tube"), "no container is called moon-tube"),
        (tube(condition="warm cupboard"), "cannot be kept"),
        (tube(cooling="by post"), "cannot have travelled"),
        (tube(left_ul=-5), "below 0"),
        (tube(tests=("moonstone",)), "no test is called moonstone"),
        (tube(age_h=-1.0), "future"),
        (tube(age_h=1.0, spun_at=hours(2.0)), "before it was drawn"),
        (tube(spun_at=hours(0.5).replace(tzinfo=None)), "no time zone"),
    ],
)
def test_a_specimen_that_cannot_be_true_is_refused(bad: OnHand, words: str) -> None:
    """One sentence, with the accession number."""
    with pytest.raises(InputError, match=words) as caught:
        ask_for(asked("tsh"), bad)
    assert "A1" in str(caught.value)


# ---------------------------------------------------------------- every answer


SPECIMENS = st.builds(
    OnHand,
    accession=st.sampled_from(["A1", "A2", "A3"]),
    container=st.sampled_from(["gel-5", "edta-3", "citrate-2.7", "li-heparin-4", "fluoride-2"]),
    collected_at=st.integers(1, 60).map(lambda h: hours(h / 4)),
    volume_left_ul=st.integers(0, 4000),
    spun_at=st.none() | st.just(hours(0.2)),
    condition=st.sampled_from(["room", "room", "fridge", "frozen"]),
    cooling=st.sampled_from(["ambient", "ambient", "ice"]),
    tests=st.lists(st.sampled_from(TESTS), max_size=2, unique=True).map(tuple),
)


@settings(max_examples=80, deadline=None)
@given(ordered_tests(max_size=8), st.lists(SPECIMENS, max_size=4, unique_by=lambda s: s.accession))
def test_every_new_test_is_added_or_listed(
    tests: tuple[OrderedTest, ...], specimens: list[OnHand]
) -> None:
    """Accepted, in time, within the volume left, each once."""
    requisition = Requisition("R-1", someone(weight_g=62_000), tests, MORNING)
    answer = ask_for(requisition, *specimens)
    missing = [one.test for one in answer.needs_draw]
    assert sorted([*added(answer), *missing]) == sorted(one.code for one in tests)
    shelf = {one.accession: one for one in specimens}
    taken: Counter[str] = Counter()
    for one in answer.added:
        additive = CATALOGUE.containers[one.container].additive
        assert additive in {row.additive for row in CATALOGUE.accepted(one.test)}
        assert one.use_by >= MORNING
        assert one.container == shelf[one.accession].container
        taken[one.accession] += one.volume_ul
    for accession, volume in taken.items():
        assert volume <= shelf[accession].volume_left_ul


# ---------------------------------------------------------------- exact assignment


@st.composite
def wishes(draw: st.DrawFn) -> tuple[list[Wish], list[int]]:
    """Up to five tests and three specimens, tight enough that not all fit."""
    shelves = draw(st.lists(st.integers(0, 12), min_size=1, max_size=3))
    ages = draw(st.lists(st.integers(0, 5), min_size=len(shelves), max_size=len(shelves)))
    found = []
    for _ in range(draw(st.integers(1, 5))):
        volume, state = draw(st.integers(1, 6)), draw(st.sampled_from(["spun", "whole"]))
        station = draw(st.sampled_from(["a", "b"]))
        dead, slots = (1, 2) if station == "a" else (3, 1)
        fits = tuple(
            (Fit(index, volume, dead, state, 0, ages[index], MORNING, (), ()), slots)
            for index in range(len(shelves))
            if volume + dead <= shelves[index] and draw(st.booleans())
        )
        found.append(Wish(draw(st.integers(1, 2)), station, draw(st.integers(0, 4)) == 0, fits))
    return found, shelves


def allowed(some: Sequence[Wish], given_to: Sequence[Fit | None], shelves: Sequence[int]) -> bool:
    """Whether an assignment keeps volumes, dead volumes, states, slots and own tubes."""
    for index, left in enumerate(shelves):
        here = [
            (wish, fit)
            for wish, fit in zip(some, given_to, strict=True)
            if fit is not None and fit.specimen == index
        ]
        if not here:
            continue
        volume = sum(fit.volume_ul for _, fit in here) + max(fit.dead_ul for _, fit in here)
        stations = Counter(wish.station for wish, _ in here)
        slots = {wish.station: dict(wish.fits)[fit] for wish, fit in here}
        if volume > left or len({fit.state for _, fit in here}) > 1:
            return False
        if len(here) > 1 and any(wish.alone for wish, _ in here):
            return False
        if any(count > slots[station] for station, count in stations.items()):
            return False
    return True


@settings(max_examples=150, deadline=None)
@given(wishes())
def test_the_assignment_is_the_best_of_all(case: tuple[list[Wish], list[int]]) -> None:
    """Against every assignment: most of priority 1, then of 2, then the least age in all."""
    some, shelves = case

    def merit(given_to: Sequence[Fit | None]) -> tuple[int, int, int]:
        served = [
            (wish.priority, fit.age_s)
            for wish, fit in zip(some, given_to, strict=True)
            if fit is not None
        ]
        counts = Counter(priority for priority, _ in served)
        return -counts[1], -counts[2], sum(age for _, age in served)

    options = [[None, *(fit for fit, _ in wish.fits)] for wish in some]
    best = min(merit(one) for one in product(*options) if allowed(some, one, shelves))
    chosen = assign(some, shelves)
    assert allowed(some, chosen, shelves)
    assert merit(chosen) == best


def test_a_long_list_on_one_short_tube_is_quick() -> None:
    """Twenty-five like tests and room for twelve: the bound cuts what cannot be better."""
    fit = Fit(0, 100, 500, "spun", 0, 60, MORNING, (), ())
    chosen = assign([Wish(5, "core", False, ((fit, 40),))] * 25, [1700])
    assert sum(one is not None for one in chosen) == 12
    assert all(one is not None for one in chosen[:12])
