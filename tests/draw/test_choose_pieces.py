"""
The pieces of the container choice, each against trying every way: sharing out, piles, pairs, racks.
"""

from __future__ import annotations

from itertools import combinations_with_replacement, product

from hypothesis import given, settings
from hypothesis import strategies as st

from cubital.draw.choose_bins import may_be_parted
from cubital.draw.choose_model import Model, build_model
from cubital.draw.choose_pair import pack_pair, pair_is_small
from cubital.draw.choose_piles import Pile, Shape
from cubital.draw.choose_prices import Market
from cubital.draw.choose_question import read_question
from cubital.draw.choose_rack import Rack
from cubital.draw.choose_search import candidates
from cubital.draw.choose_share import share_out
from tests.draw.questions import Asked, questions

NO_LIMIT = (1 << 40, 0)


# ---------------------------------------------------------------- sharing out


@st.composite
def lots(draw: st.DrawFn) -> tuple[list[tuple[int, dict[int, int]]], list[int]]:
    """A few lots with their costs by place, and what the places hold."""
    places = range(draw(st.integers(1, 3)))
    costs = st.dictionaries(st.sampled_from(places), st.integers(0, 9), min_size=1)
    some = draw(st.lists(st.tuples(st.integers(1, 3), costs), min_size=1, max_size=3))
    return some, draw(st.lists(st.integers(0, 5), min_size=len(places), max_size=len(places)))


@settings(max_examples=200, deadline=None)
@given(lots())
def test_sharing_out_costs_the_least(case: tuple[list[tuple[int, dict[int, int]]], list[int]]):
    """As cheap as the cheapest way, and None exactly where there is none."""
    some, caps = case
    things = [costs for number, costs in some for _ in range(number)]
    ways = [
        sum(costs[place] for costs, place in zip(things, way, strict=True))
        for way in product(*things)
        if all(way.count(place) <= cap for place, cap in enumerate(caps))
    ]
    shares = share_out(some, caps)
    if shares is None:
        assert ways == []
        return
    total = 0
    for (number, costs), share in zip(some, shares, strict=True):
        assert sum(share.values()) == number
        total += sum(costs[place] * count for place, count in share.items())
    for place, cap in enumerate(caps):
        assert sum(share.get(place, 0) for share in shares) <= cap
    assert total == min(ways)


# ---------------------------------------------------------------- piles and bins


def parted(volumes: list[int], tubes: int, room: int, slots: int) -> list[list[int]]:
    """The loads of every way to part volumes among equal tubes."""
    found = []
    for way in product(range(tubes), repeat=len(volumes)):
        loads = [0] * tubes
        for volume, tube in zip(volumes, way, strict=True):
            loads[tube] += volume
        if max(loads) <= room and max(way.count(tube) for tube in range(tubes)) <= slots:
            found.append(loads)
    return found


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.sampled_from((7, 11, 20, 33)), min_size=1, max_size=6),
    st.integers(1, 3),
    st.sampled_from((20, 40, 55)),
    st.sampled_from((0, 15, 30, 55)),
    st.sampled_from((2, 9)),
    st.booleans(),
)
def test_a_pile_knows_what_its_tubes_hold(
    volumes: list[int], tubes: int, room: int, free: int, slots: int, sharp: bool
) -> None:
    """A pile grows while some way to part it is left; its blood is that of the best way."""
    sizes = sorted(set(volumes), reverse=True)
    volumes = sorted(volumes, reverse=True)
    free = min(free, room)
    shape = Shape(sizes, room, free, slots, tubes, counted=slots < len(volumes), sharp=sharp)
    pile: Pile | None = shape.empty
    for at, volume in enumerate(volumes, start=1):
        assert pile is not None
        before, pile = pile, pile.add(sizes.index(volume))
        ways = parted(volumes[:at], tubes, room, slots)
        assert (pile is None) == (ways == [])
        if pile is None:
            break
        assert before.spare >= volume
        if tubes > 1 or free < room:  # a single full tube keeps its load in another form
            beyond = min(sum(max(0, load - free) for load in loads) for loads in ways)
            assert pile.beyond <= shape.filled(pile)[0] == beyond


@settings(max_examples=200, deadline=None)
@given(st.lists(st.integers(1, 40), max_size=7), st.lists(st.integers(1, 70), max_size=3))
def test_volumes_that_can_be_parted_are_never_refused(volumes: list[int], rooms: list[int]) -> None:
    """On small cases the quick answer is the true one."""
    ways = (
        all(
            sum(v for v, at in zip(volumes, way, strict=True) if at == room) <= rooms[room]
            for room in range(len(rooms))
        )
        for way in product(range(len(rooms)), repeat=len(volumes))
    )
    possible = any(ways)
    assert may_be_parted(sorted(volumes, reverse=True), tuple(sorted(rooms))) == possible


# ---------------------------------------------------------------- tubes of given kinds


def models(asked: Asked) -> list[Model]:
    """The models of a question's parts."""
    question = read_question(asked.needs, asked.kinds, None)
    return [build_model(part, question.shelf, {}) for part in question.parts]


def every_filling(model: Model, chosen: list[int]) -> tuple[int, int] | None:
    """(blood on top, preference) of the best way to fill tubes, by trying every way."""
    best = None
    options = [
        [t for t, j in enumerate(chosen) if model.ranks[c][j] >= 0] for _, _, c, _ in model.items
    ]
    for way in product(*options):
        loads, counts, rank = [0] * len(chosen), [0] * len(chosen), 0
        for (volume, _, c, _), t in zip(model.items, way, strict=True):
            loads[t] += volume
            counts[t] += 1
            rank += model.ranks[c][chosen[t]]
        if any(
            load > model.room[j] or count > model.slots[j]
            for load, count, j in zip(loads, counts, chosen, strict=True)
        ):
            continue
        over = sum(max(0, load - model.free[j]) for load, j in zip(loads, chosen, strict=True))
        best = (over, rank) if best is None else min(best, (over, rank))
    return best


@settings(max_examples=60, deadline=None)
@given(questions(most_needs=5, most_kinds=3), st.integers(2, 3))
def test_tubes_are_filled_best(asked: Asked, number: int) -> None:
    """Pairs by sums, racks by search, plain and sharp, and the bound at any price."""
    for model in models(asked):
        for chosen in map(list, combinations_with_replacement(range(len(model.kinds)), number)):
            if any(not any(mask >> j & 1 for j in chosen) for mask in model.masks):
                continue  # candidates hold a tube for every class
            expected = every_filling(model, chosen)
            floor = max(0, model.volume - sum(model.free[j] for j in chosen))
            market = Market(model)
            if expected is not None:
                market.improve(chosen, expected[0], 1 << 40)
                assert market.bound(chosen, expected[0]) <= expected[1]
            if number == 2 and pair_is_small(model, chosen):
                pair = pack_pair(model, chosen, NO_LIMIT)
                assert expected == (None if pair is None else pair[:2])
            for sharp in (False, True):
                rack = Rack(model, chosen, floor, NO_LIMIT, market.prices, sharp=sharp).fill(None)
                assert expected == (None if rack is None else rack[:2])


@settings(max_examples=100, deadline=None)
@given(questions(most_needs=6, most_kinds=3), st.integers(1, 3), st.none() | st.integers(50, 300))
def test_no_multiset_that_would_do_is_missed(asked: Asked, number: int, below: int | None) -> None:
    """Every multiset that can be filled with less blood is a candidate, bounded from below."""
    for model in models(asked):
        found = {tuple(chosen): bound for bound, chosen in candidates(model, number, below)}
        for chosen in combinations_with_replacement(range(len(model.kinds)), number):
            if any(chosen.count(j) > model.most[j] for j in chosen):
                continue
            filled = every_filling(model, list(chosen))
            blood = None if filled is None else filled[0] + model.drawn(list(chosen))
            if blood is not None and (below is None or blood < below):
                assert found[chosen] <= blood
