"""
The exact choice of containers: cases worked out by hand, invariants, and every way tried out.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest
from benchmarks.cases import rough, shipped
from hypothesis import given, settings
from hypothesis import strategies as st

from cubital.draw.choose import Aim, Kind, Need, choose_containers, choose_what_fits
from tests.draw.questions import Asked, broken_rules, counted_out, objectives, questions

GEL_5 = Kind("gel-5", "core", 5000, 5000, 500, 40)
GEL_3 = Kind("gel-3", "core", 3000, 3000, 500, 40)
HEPARIN_4 = Kind("heparin-4", "core", 4000, 4000, 500, 40)
MICRO = Kind("micro", "core", 250, 500, 50, 40)


def need(volume_ul: int, *kinds: int, own_tube: bool = False) -> Need:
    """A need that takes these kinds, the first best."""
    return Need("t", volume_ul, tuple((kind, rank) for rank, kind in enumerate(kinds)), own_tube)


# ---------------------------------------------------------------- worked out by hand


def test_nothing_asked_takes_nothing() -> None:
    """No needs: no tubes, no blood."""
    choice = choose_containers([], [GEL_5])
    assert choice is not None
    assert (choice.tubes, choice.blood_ul, choice.preference) == ((), 0, 0)


def test_tests_share_the_smallest_tube_that_holds_them() -> None:
    """Two tests that fit into 3 mL do not take 5 mL, although 5 mL is preferred."""
    choice = choose_containers([need(900, 0, 1), need(1600, 0, 1)], [GEL_5, GEL_3])
    assert choice is not None
    assert [(tube.kind, tube.needs, tube.blood_ul) for tube in choice.tubes] == [(1, (0, 1), 3000)]
    assert choice.preference == 2


def test_the_dead_volume_counts_once_a_tube() -> None:
    """2.5 mL beside 0.5 mL of dead volume fill 3 mL; one µL more needs the larger tube."""
    full = choose_containers([need(1250, 0, 1), need(1250, 0, 1)], [GEL_5, GEL_3])
    over = choose_containers([need(1250, 0, 1), need(1251, 0, 1)], [GEL_5, GEL_3])
    assert full is not None
    assert over is not None
    assert (full.blood_ul, over.blood_ul) == (3000, 5000)


def test_an_own_tube_is_not_shared() -> None:
    """A test that wants a tube of its own gets one beside the others."""
    choice = choose_containers([need(100, 0), need(100, 0, own_tube=True), need(100, 0)], [GEL_3])
    assert choice is not None
    assert sorted(tube.needs for tube in choice.tubes) == [(0, 2), (1,)]


def test_so_many_tests_share_a_tube_and_no_more() -> None:
    """Five tests, two to a tube, take three tubes."""
    choice = choose_containers([need(10, 0)] * 5, [replace(GEL_3, max_tests=2)])
    assert choice is not None
    assert sorted(len(tube.needs) for tube in choice.tubes) == [1, 2, 2]


def test_one_additive_for_all_beats_the_preferred_ones() -> None:
    """Two tests that prefer different additives share the one that both accept."""
    choice = choose_containers([need(100, 0, 1), need(100, 1)], [GEL_3, HEPARIN_4])
    assert choice is not None
    assert [(tube.kind, tube.needs) for tube in choice.tubes] == [(1, (0, 1))]


def test_fewest_tubes_and_least_blood_differ() -> None:
    """One tube of 5 mL, or seven micro-tubes that draw less: the aim decides."""
    needs = [need(400, 0, 1)] * 7
    few = choose_containers(needs, [GEL_5, MICRO], aim=Aim.FEWEST_TUBES)
    small = choose_containers(needs, [GEL_5, MICRO], aim=Aim.LEAST_BLOOD)
    assert few is not None
    assert small is not None
    assert (len(few.tubes), few.blood_ul) == (1, 5000)
    assert (len(small.tubes), small.blood_ul) == (7, 7 * 450)


def test_a_blood_limit_takes_more_and_smaller_tubes() -> None:
    """Under a limit of 4 mL one tube of 5 mL becomes one of 3 mL and one micro-tube."""
    needs = [need(450, 0, 1, 2)] * 6
    choice = choose_containers(needs, [GEL_5, GEL_3, MICRO], blood_limit_ul=4000)
    assert choice is not None
    assert sorted(tube.kind for tube in choice.tubes) == [1, 2]
    assert choice.blood_ul == 3500


def test_a_limit_that_nothing_keeps_has_no_answer() -> None:
    """Less than the needs and the dead volume of one tube together cannot be enough."""
    assert choose_containers([need(400, 0)], [MICRO], blood_limit_ul=449) is None
    assert choose_containers([need(400, 0)], [MICRO], blood_limit_ul=450) is not None


def test_stock_is_shared_by_all_kinds_of_a_container() -> None:
    """One tube on hand cannot stand at two stations, and another container steps in."""
    core, serology = GEL_3, replace(GEL_3, group="serology")
    needs = [need(100, 0, 2), need(100, 1)]
    choice = choose_containers(needs, [core, serology, HEPARIN_4], stock={"gel-3": 1})
    assert choice is not None
    assert sorted(tube.kind for tube in choice.tubes) == [1, 2]
    assert choose_containers(needs, [core, serology, HEPARIN_4], stock={"gel-3": 0}) is None


def test_a_container_missing_from_the_stock_is_without_limit() -> None:
    """Only containers that the stock names are counted."""
    choice = choose_containers([need(100, 0, own_tube=True)] * 3, [GEL_3], stock={"gel-5": 0})
    assert choice is not None
    assert len(choice.tubes) == 3


def test_preference_decides_between_equals() -> None:
    """Same tubes, same blood: each test goes where it is preferred."""
    other = replace(GEL_3, container="activator-3")
    needs = [need(2000, 0, 1), need(2000, 1, 0), need(100, 1, 0)]
    choice = choose_containers(needs, [GEL_3, other])
    assert choice is not None
    assert [(tube.kind, tube.needs) for tube in choice.tubes] == [(0, (0,)), (1, (1, 2))]
    assert choice.preference == 0


def test_a_need_without_a_kind_has_no_answer() -> None:
    """Nothing on offer, or nothing large enough."""
    assert choose_containers([need(100)], [GEL_3]) is None
    assert choose_containers([need(2501, 0)], [GEL_3]) is None


@pytest.mark.parametrize(
    ("wrong", "word"),
    [
        (need(100, 1), "no kind 1"),
        (need(100, -1), "no kind -1"),
        (need(0, 0), "not positive"),
        (need(-5, 0), "not positive"),
        (Need("t", 100, ((0, -1),)), "below 0"),
    ],
)
def test_a_question_that_makes_no_sense_is_refused(wrong: Need, word: str) -> None:
    """A kind that is not there, a volume or a rank that cannot be."""
    with pytest.raises(ValueError, match=word):
        choose_containers([wrong], [GEL_3])


# ---------------------------------------------------------------- every way tried out


@settings(max_examples=300, deadline=None)
@given(questions())
def test_it_is_what_trying_every_way_gives(asked: Asked) -> None:
    """The objectives of the answer, or that there is none, on small questions of every sort."""
    assert counted_out(asked) == objectives(asked.answer(), asked.aim)


@settings(max_examples=150, deadline=None)
@given(questions(most_needs=14, most_kinds=6))
def test_an_answer_keeps_every_rule(asked: Asked) -> None:
    """Every need once, fills, places, own tubes, stock, limit, and the sums."""
    choice = asked.answer()
    assert choice is None or broken_rules(asked, choice) == []


def test_answers_over_the_shipped_tables_keep_every_rule() -> None:
    """The same for requisitions over the shipped catalogue and for odd numbers."""
    for case in [*shipped(60, seed=3), *rough(60, seed=3, tests=(5, 20))]:
        asked = Asked(case.needs, case.kinds, case.aim, case.stock, case.blood_limit_ul)
        choice = asked.answer()
        assert choice is None or broken_rules(asked, choice) == [], case.name


# ---------------------------------------------------------------- invariants


@settings(max_examples=100, deadline=None)
@given(questions(most_needs=10, most_kinds=5), st.integers(0, 200), st.integers(0, 2))
def test_more_blood_or_more_stock_is_never_worse(asked: Asked, ul: int, tubes: int) -> None:
    """A looser limit and a fuller shelf leave every answer standing."""
    before = objectives(asked.answer(), asked.aim)
    looser = replace(
        asked,
        limit=None if asked.limit is None else asked.limit + ul,
        stock=None if asked.stock is None else {c: n + tubes for c, n in asked.stock.items()},
    )
    after = objectives(looser.answer(), asked.aim)
    assert before is None or (after is not None and after <= before)


@settings(max_examples=100, deadline=None)
@given(questions(most_needs=10, most_kinds=5), st.randoms(use_true_random=False))
def test_the_order_of_the_needs_does_not_matter(asked: Asked, rng: object) -> None:
    """Shuffled needs come to the same objectives; the same question to the same answer."""
    needs = list(asked.needs)
    rng.shuffle(needs)  # type: ignore[attr-defined]
    shuffled = replace(asked, needs=tuple(needs))
    assert objectives(asked.answer(), asked.aim) == objectives(shuffled.answer(), asked.aim)
    assert asked.answer() == asked.answer()


@settings(max_examples=60, deadline=None)
@given(questions(most_needs=8, most_kinds=4))
def test_one_need_less_is_never_harder(asked: Asked) -> None:
    """Leaving a need out never takes more tubes or, by that aim, more blood."""
    before = objectives(asked.answer(), asked.aim)
    for i in range(len(asked.needs)):
        fewer = replace(asked, needs=(*asked.needs[:i], *asked.needs[i + 1 :]))
        after = objectives(fewer.answer(), asked.aim)
        assert before is None or (after is not None and after <= before)


# ---------------------------------------------------------------- what fits


def fitting(asked: Asked, priorities: list[int]) -> tuple[int, ...]:
    """The served set by trying every subset."""
    ladder = sorted(set(priorities))
    best: tuple[tuple[int, ...], tuple[int, ...]] | None = None
    for count in range(len(asked.needs) + 1):
        for served in combinations(range(len(asked.needs)), count):
            some = replace(asked, needs=tuple(asked.needs[i] for i in served))
            if some.answer() is None:
                continue
            counts = tuple(-sum(priorities[i] == rung for i in served) for rung in ladder)
            if best is None or (counts, served) < best:
                best = (counts, served)
    assert best is not None
    return best[1]


@settings(max_examples=100, deadline=None)
@given(questions(most_needs=6, most_kinds=3), st.data())
def test_what_fits_is_the_best_of_all_subsets(asked: Asked, data: st.DataObject) -> None:
    """The served set, and that its tubes are the optimum for that set."""
    priority = st.integers(1, 3)
    size = len(asked.needs)
    priorities = data.draw(st.lists(priority, min_size=size, max_size=size))
    choice, left_out = choose_what_fits(
        asked.needs,
        priorities,
        asked.kinds,
        aim=asked.aim,
        stock=asked.stock,
        blood_limit_ul=asked.limit,
    )
    served = fitting(asked, priorities)
    assert sorted((*served, *left_out)) == list(range(size))
    assert sorted(i for tube in choice.tubes for i in tube.needs) == list(served)
    some = replace(asked, needs=tuple(asked.needs[i] for i in served))
    assert objectives(choice, asked.aim) == objectives(some.answer(), asked.aim)


def test_the_wanted_test_comes_before_two_others() -> None:
    """Priority 1 counts before any number of lower ones."""
    needs = [need(200, 0), need(200, 0), need(400, 0)]
    choice, left_out = choose_what_fits(needs, [2, 2, 1], [MICRO], blood_limit_ul=450)
    assert left_out == (0, 1)
    assert [tube.needs for tube in choice.tubes] == [(2,)]


def test_among_equals_the_earliest_is_served() -> None:
    """Two tests of one priority, room for one: the one that stands first, although it is larger."""
    choice, left_out = choose_what_fits(
        [need(400, 0), need(300, 0)], [1, 1], [MICRO], blood_limit_ul=450
    )
    assert left_out == (1,)
    assert choice.blood_ul == 450


def test_everything_is_left_out_where_there_is_no_blood() -> None:
    """No blood, or less than none: nothing is served and nothing is drawn."""
    for limit in (0, -1):
        choice, left_out = choose_what_fits([need(100, 0)], [1], [MICRO], blood_limit_ul=limit)
        assert (choice.tubes, choice.blood_ul, left_out) == ((), 0, (0,))


def test_each_need_wants_its_priority() -> None:
    """As many priorities as needs."""
    with pytest.raises(ValueError, match="2 priorities were given for 1 needs"):
        choose_what_fits([need(100, 0)], [1, 1], [MICRO])
