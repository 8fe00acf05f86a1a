"""
Container questions for tests: small ones drawn by Hypothesis, and answers counted out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from hypothesis import strategies as st

from cubital.draw.choose import Aim, Choice, Kind, Need, choose_containers

Objectives = tuple[int, int, int]
"""In the order of the aim."""


@dataclass(frozen=True)
class Asked:
    """One question."""

    needs: tuple[Need, ...]
    kinds: tuple[Kind, ...]
    aim: Aim
    stock: dict[str, int] | None
    limit: int | None

    def answer(self) -> Choice | None:
        """What the engine says."""
        return choose_containers(
            self.needs, self.kinds, aim=self.aim, stock=self.stock, blood_limit_ul=self.limit
        )


def objectives(choice: Choice | None, aim: Aim) -> Objectives | None:
    """What a choice comes to, in the order of the aim."""
    if choice is None:
        return None
    tubes = len(choice.tubes)
    if aim is Aim.LEAST_BLOOD:
        return choice.blood_ul, tubes, choice.preference
    return tubes, choice.blood_ul, choice.preference


@st.composite
def questions(draw: st.DrawFn, most_needs: int = 5, most_kinds: int = 3) -> Asked:
    """Small questions of every sort: fixed and flexible fills, stock, limit, own tubes."""
    containers = ("a", "b")
    kinds = draw(st.lists(_kinds(containers), min_size=1, max_size=most_kinds))
    numbers = range(len(kinds))
    need = st.builds(
        Need,
        test=st.just("t"),
        volume_ul=st.integers(1, 60),
        kinds=st.lists(
            st.tuples(st.sampled_from(numbers), st.integers(0, 3)),
            min_size=1,
            max_size=len(kinds),
            unique_by=lambda pair: pair[0],
        ).map(tuple),
        own_tube=st.sampled_from((False, False, False, True)),
    )
    return Asked(
        needs=tuple(draw(st.lists(need, max_size=most_needs))),
        kinds=tuple(kinds),
        aim=draw(st.sampled_from(list(Aim))),
        stock=draw(st.none() | st.dictionaries(st.sampled_from(containers), st.integers(0, 4))),
        limit=draw(st.none() | st.integers(0, 400)),
    )


@st.composite
def _kinds(draw: st.DrawFn, containers: Sequence[str]) -> Kind:
    low = draw(st.sampled_from((10, 40, 80)))
    return Kind(
        container=draw(st.sampled_from(containers)),
        group="g",
        fill_min_ul=low,
        fill_max_ul=low + draw(st.sampled_from((0, 0, 15, 60))),
        dead_ul=draw(st.sampled_from((0, 5, 20))),
        max_tests=draw(st.sampled_from((1, 2, 3, 9))),
    )


def broken_rules(asked: Asked, choice: Choice) -> list[str]:
    """Every rule of the question that an answer breaks; [] when it keeps them all."""
    broken = []
    needs, kinds = asked.needs, asked.kinds
    placed = sorted(i for tube in choice.tubes for i in tube.needs)
    if placed != list(range(len(needs))):
        broken.append(f"not every need once: {placed}")
    preference = 0
    for tube in choice.tubes:
        kind = kinds[tube.kind]
        inside = [needs[i] for i in tube.needs]
        drawn = max(kind.fill_min_ul, kind.dead_ul + sum(need.volume_ul for need in inside))
        if drawn != tube.blood_ul or drawn > kind.fill_max_ul:
            broken.append(f"a tube draws {tube.blood_ul}, not {drawn}")
        if not 1 <= len(inside) <= kind.max_tests:
            broken.append(f"{len(inside)} tests in a tube")
        if len(inside) > 1 and any(need.own_tube for need in inside):
            broken.append("an own tube is shared")
        for need in inside:
            ranks = [rank for named, rank in need.kinds if named == tube.kind]
            if not ranks:
                broken.append("a kind that was not named")
            preference += min(ranks, default=0)
    blood = sum(tube.blood_ul for tube in choice.tubes)
    if (blood, preference) != (choice.blood_ul, choice.preference):
        broken.append("the sums are wrong")
    if asked.limit is not None and blood > asked.limit:
        broken.append("over the limit")
    used = Counter(kinds[tube.kind].container for tube in choice.tubes)
    if any(used[container] > count for container, count in (asked.stock or {}).items()):
        broken.append("more than the stock")
    return broken


def counted_out(asked: Asked) -> Objectives | None:
    """The optimum by trying every way there is."""
    return min(_all_ways(asked, 0, []), default=None)


def _all_ways(
    asked: Asked, i: int, tubes: list[tuple[int, tuple[int, ...]]]
) -> Iterator[Objectives]:
    if i == len(asked.needs):
        value = _value(asked, tubes)
        if value is not None:
            yield value
        return
    for t, (kind, inside) in enumerate(tubes):
        yield from _all_ways(asked, i + 1, [*tubes[:t], (kind, (*inside, i)), *tubes[t + 1 :]])
    for kind in range(len(asked.kinds)):
        yield from _all_ways(asked, i + 1, [*tubes, (kind, (i,))])


def _value(asked: Asked, tubes: Sequence[tuple[int, tuple[int, ...]]]) -> Objectives | None:
    """What a way comes to; None when it breaks a rule."""
    blood = preference = 0
    used: Counter[str] = Counter()
    for number, inside in tubes:
        kind = asked.kinds[number]
        needs = [asked.needs[i] for i in inside]
        drawn = max(kind.fill_min_ul, kind.dead_ul + sum(need.volume_ul for need in needs))
        shared_own = len(needs) > 1 and any(need.own_tube for need in needs)
        if drawn > kind.fill_max_ul or len(needs) > kind.max_tests or shared_own:
            return None
        for need in needs:
            ranks: Mapping[int, int] = dict(need.kinds)
            if number not in ranks:
                return None
            preference += ranks[number]
        blood += drawn
        used[kind.container] += 1
    if asked.limit is not None and blood > asked.limit:
        return None
    if any(used[container] > count for container, count in (asked.stock or {}).items()):
        return None
    if asked.aim is Aim.LEAST_BLOOD:
        return blood, len(tubes), preference
    return len(tubes), blood, preference
