"""The choice of containers: what every answer must keep, and brute force on tiny questions."""

from __future__ import annotations

from collections import Counter
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cubital.draw.choose import Aim, Choice, Kind, Need, choose_containers, choose_what_fits

KINDS = st.lists(
    st.builds(
        lambda name, low, more, dead, most: Kind(f"c{name}", "g", low, low + more, dead, most),
        st.integers(0, 2),
        st.integers(100, 500),
        st.sampled_from([0, 0, 300]),
        st.integers(0, 90),
        st.integers(1, 4),
    ),
    min_size=1,
    max_size=3,
)


@st.composite
def questions(draw):
    """A few needs over a few kinds, with or without stock and limit."""
    kinds = draw(KINDS)
    needs = []
    for number in range(draw(st.integers(1, 4))):
        chosen = draw(st.sets(st.integers(0, len(kinds) - 1), min_size=1))
        ranks = tuple((kind, draw(st.integers(0, 2))) for kind in sorted(chosen))
        needs.append(Need(f"t{number}", draw(st.integers(20, 200)), ranks, draw(st.booleans())))
    stock = draw(st.one_of(st.none(), st.just({"c0": 1, "c1": 2})))
    limit = draw(st.one_of(st.none(), st.integers(100, 2000)))
    return needs, kinds, stock, limit


def score(aim: Aim, tubes: int, blood: int, preference: int) -> tuple[int, int, int]:
    """The objectives in their order."""
    if aim is Aim.FEWEST_TUBES:
        return tubes, blood, preference
    return blood, tubes, preference


def kept(choice: Choice, needs, kinds, stock, limit) -> None:
    """Every rule of the question holds for an answer."""
    placed = sorted(index for tube in choice.tubes for index in tube.needs)
    assert placed == list(range(len(needs)))
    for tube in choice.tubes:
        kind = kinds[tube.kind]
        asked = kind.dead_ul + sum(needs[i].volume_ul for i in tube.needs)
        assert tube.blood_ul == max(kind.fill_min_ul, asked) <= kind.fill_max_ul
        assert len(tube.needs) <= kind.max_tests
        assert all(tube.kind in dict(needs[i].kinds) for i in tube.needs)
        assert len(tube.needs) == 1 or not any(needs[i].own_tube for i in tube.needs)
    assert choice.blood_ul == sum(tube.blood_ul for tube in choice.tubes)
    assert limit is None or choice.blood_ul <= limit
    used = Counter(kinds[tube.kind].container for tube in choice.tubes)
    assert all(used[code] <= count for code, count in (stock or {}).items())
    ranks = sum(dict(needs[i].kinds)[t.kind] for t in choice.tubes for i in t.needs)
    assert choice.preference == ranks


def brute(needs, kinds, stock, limit, aim):
    """The best of all ways to put needs into at most as many tubes as there are needs."""
    places = [(kind, copy) for kind in range(len(kinds)) for copy in range(len(needs))]
    best = None
    own = [[p for p in places if p[0] in dict(need.kinds)] for need in needs]
    for way in product(*own):
        tubes: dict[tuple[int, int], list[int]] = {}
        for index, place in enumerate(way):
            tubes.setdefault(place, []).append(index)
        blood = 0
        for (kind_index, _), inside in tubes.items():
            kind = kinds[kind_index]
            asked = kind.dead_ul + sum(needs[i].volume_ul for i in inside)
            alone = len(inside) > 1 and any(needs[i].own_tube for i in inside)
            if alone or len(inside) > kind.max_tests or asked > kind.fill_max_ul:
                break
            blood += max(kind.fill_min_ul, asked)
        else:
            used = Counter(kinds[kind].container for kind, _ in tubes)
            if any(used[code] > count for code, count in (stock or {}).items()):
                continue
            if limit is not None and blood > limit:
                continue
            ranks = sum(dict(needs[i].kinds)[place[0]] for i, place in enumerate(way))
            found = score(aim, len(tubes), blood, ranks)
            best = found if best is None else min(best, found)
    return best


@settings(max_examples=60)
@given(questions(), st.sampled_from(list(Aim)))
def test_as_good_as_trying_everything(question, aim) -> None:
    """On tiny questions the answer equals that of trying every way, also where there is none."""
    needs, kinds, stock, limit = question
    found = choose_containers(needs, kinds, aim=aim, stock=stock, blood_limit_ul=limit)
    best = brute(needs, kinds, stock, limit, aim)
    if found is None:
        assert best is None
    else:
        kept(found, needs, kinds, stock, limit)
        assert score(aim, len(found.tubes), found.blood_ul, found.preference) == best


@settings(max_examples=60)
@given(questions(), st.sampled_from(list(Aim)), st.integers(0, 500))
def test_a_looser_limit_is_never_worse(question, aim, more) -> None:
    """More blood allowed, or more containers on hand, never makes the answer worse."""
    needs, kinds, stock, limit = question
    tight = choose_containers(needs, kinds, aim=aim, stock=stock, blood_limit_ul=limit)
    if tight is None:
        return
    before = score(aim, len(tight.tubes), tight.blood_ul, tight.preference)
    wider = None if limit is None else limit + more
    for loose in (
        choose_containers(needs, kinds, aim=aim, stock=stock, blood_limit_ul=wider),
        choose_containers(needs, kinds, aim=aim, stock=None, blood_limit_ul=limit),
    ):
        assert loose is not None
        assert score(aim, len(loose.tubes), loose.blood_ul, loose.preference) <= before


@settings(max_examples=60)
@given(questions(), st.sampled_from(list(Aim)), st.randoms(use_true_random=False))
def test_the_order_of_the_needs_makes_no_difference(question, aim, dice) -> None:
    """The objectives stay when the requisition is written in another order."""
    needs, kinds, stock, limit = question
    mixed = list(needs)
    dice.shuffle(mixed)
    answers = [
        choose_containers(each, kinds, aim=aim, stock=stock, blood_limit_ul=limit)
        for each in (needs, mixed)
    ]
    values = [a and (len(a.tubes), a.blood_ul, a.preference) for a in answers]
    assert values[0] == values[1]


@settings(max_examples=60)
@given(questions(), st.data())
def test_what_fits_serves_the_most_of_each_priority(question, data) -> None:
    """No set of tests with a better count by priority can be served; the rest is named."""
    needs, kinds, stock, limit = question
    wants = [data.draw(st.integers(1, 2)) for _ in needs]
    choice, out = choose_what_fits(needs, wants, kinds, stock=stock, blood_limit_ul=limit)
    served = [i for i in range(len(needs)) if i not in out]
    assert sorted(i for tube in choice.tubes for i in tube.needs) == served
    counts = [sum(1 for i in served if wants[i] == p) for p in (1, 2)]
    for mask in range(1 << len(needs)):
        some = [i for i in range(len(needs)) if mask >> i & 1]
        better = [sum(1 for i in some if wants[i] == p) for p in (1, 2)]
        if better > counts:
            asked = [needs[i] for i in some]
            assert choose_containers(asked, kinds, stock=stock, blood_limit_ul=limit) is None


@pytest.mark.parametrize(
    "needs",
    [
        [Need("t", 10, ((7, 0),))],  # a kind that is not there
        [Need("t", 0, ((0, 0),))],  # no volume
    ],
)
def test_a_question_that_cannot_be_is_refused(needs) -> None:
    """Unknown kinds and empty volumes are the caller's slip."""
    with pytest.raises(ValueError):
        choose_containers(needs, [Kind("c", "g", 100, 500, 0, 5)])


def test_nothing_asked_nothing_drawn() -> None:
    """An empty requisition needs no tube."""
    found = choose_containers([], [Kind("c", "g", 100, 500, 0, 5)])
    assert found is not None
    assert found.tubes == ()
