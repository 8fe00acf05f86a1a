"""
The choice of containers for a whole requisition: the solver's tubes and the sets beside them.

Both draw on the same stock and the same blood limit, and the objectives add up, so the optimum of
the whole is found by going through the few unbeaten ways to draw the sets, the best first, with a
bound.
Volumes in µL of blood.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from cubital.draw.choose import Aim, Choice, choose_containers, choose_what_fits
from cubital.draw.combos import Combo, Merit, combos, scarce_of
from cubital.draw.needs import Asked, Question, question
from cubital.draw.offers import Offers
from cubital.draw.pour import SPECIMEN, Content, Pour, Variant
from cubital.draw.sets import is_set, split, variants
from cubital.draw.stock import Stock
from cubital.finding import Finding

NOTHING = Choice((), 0, 0)
Objective = tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class Problem:
    """
    What is to be chosen.

    Args:
        question: the tests that one container each can serve.
        sets: for each test that takes several containers, the ways to draw it, fullest first.
        homeless: tests that nothing on offer can serve.
        scarce: containers of which the stock may run out.
    """

    asked: tuple[Asked, ...]
    question: Question
    sets: tuple[tuple[Variant, ...], ...]
    homeless: tuple[Asked, ...]
    stock: Stock
    scarce: frozenset[str]

    def stock_left(self, taken: Counter[str]) -> dict[str, int] | None:
        """What of the containers that matter is left for the solver; None without a list."""
        left = self.stock.without(taken)
        if left is None:
            return None
        return {way.kind.container: left[way.kind.container] for way in self.question.ways}

    def least_alone_ul(self, one: Asked) -> int | None:
        """The least blood with which a test could be drawn if it were alone; None: it cannot."""
        for ways in self.sets:
            if ways[0].asked.index == one.index:
                return min(way.blood_ul for way in ways)
        laid = self.question
        for asked, need in zip(laid.asked, laid.needs, strict=True):
            if asked.index == one.index:
                kinds = [laid.ways[index].kind for index, _ in need.kinds]
                return min(max(k.fill_min_ul, k.dead_ul + need.volume_ul) for k in kinds)
        return None


@dataclass(frozen=True, slots=True)
class Outcome:
    """
    What is drawn, and what is not.

    Args:
        left_out: tests that did not fit the limit or the stock, in the requisition's order.
        findings: about sets that are drawn short.
    """

    pours: tuple[Pour, ...]
    left_out: tuple[Asked, ...]
    findings: tuple[Finding, ...]
    aim: Aim

    @property
    def blood_ul(self) -> int:
        """What all the containers take."""
        return sum(pour.fill_ul for pour in self.pours)


def problem_of(asked: Sequence[Asked], offers: Offers) -> Problem:
    """Part the tests into those the solver places, those that take a set, and the homeless."""
    laid = question([one for one in asked if not is_set(one)], offers)
    sets: list[tuple[Variant, ...]] = []
    homeless: list[Asked] = []
    for one in asked:
        if is_set(one):
            ways = variants(one, offers)
        elif one in laid.homeless:
            ways = split(one, offers)
        else:
            continue
        if ways:
            sets.append(ways)
        else:
            homeless.append(one)
    stock = offers.scene.stock
    scarce = scarce_of(stock, sets, len(laid.needs))
    return Problem(tuple(asked), laid, tuple(sets), tuple(homeless), stock, scarce)


# ---------------------------------------------------------------- everything


def serve_all(problem: Problem, aim: Aim, limit_ul: int | None) -> Outcome | None:
    """The optimum that serves every test but the homeless, or None when there is none."""
    if not problem.sets:
        choice = _choose(problem, aim, limit_ul, Combo())
        return None if choice is None else _outcome(problem, choice, Combo(), (), aim)
    base = _choose(problem, aim, None, Combo())
    if base is None:
        return None
    best: tuple[Objective, Choice, Combo] | None = None
    for combo in combos(
        [[v for v in ways if v.shortfall == ways[0].shortfall] for ways in problem.sets],
        lambda one: one.objective(aim),
        problem.stock,
        problem.scarce,
        limit_ul=limit_ul,
        optional=False,
    ):
        if best is not None and _objective(base, combo, aim) >= best[0]:
            break  # not even the solver's best without limit or sets could better it
        choice = _choose(problem, aim, limit_ul, combo)
        if choice is None:
            continue
        key = _objective(choice, combo, aim)
        if best is None or key < best[0]:
            best = (key, choice, combo)
    return None if best is None else _outcome(problem, best[1], best[2], (), aim)


def _choose(problem: Problem, aim: Aim, limit_ul: int | None, combo: Combo) -> Choice | None:
    """The solver's best beside some sets."""
    if not problem.question.needs:
        return NOTHING
    return choose_containers(
        problem.question.needs,
        problem.question.kinds,
        aim=aim,
        stock=problem.stock_left(combo.taken),
        blood_limit_ul=None if limit_ul is None else limit_ul - combo.blood_ul,
    )


# ---------------------------------------------------------------- what fits


def serve_what_fits(problem: Problem, aim: Aim, limit_ul: int | None) -> Outcome:
    """
    As much as fits, best by priority (1 first), exactly.

    Among equals the sets are drawn as full as can be; then the aim decides.
    """
    limit = None if limit_ul is None else max(0, limit_ul)
    ladder = sorted({one.ordered.priority for one in problem.asked})
    best: tuple[Merit, Choice, Combo, tuple[Asked, ...]] | None = None
    for combo in combos(
        problem.sets,
        lambda one: (*_wishes(one.variants, ladder), one.shortfall, *one.objective(aim)),
        problem.stock,
        problem.scarce,
        limit_ul=limit,
        optional=True,
    ):
        choice, out = _fitting(problem, combo, aim, limit)
        counts = _counts(problem.question.asked, out, ladder)
        wishes = _wishes(combo.variants, ladder)
        served = (mine - theirs for mine, theirs in zip(wishes, counts, strict=True))
        merit = (*served, combo.shortfall, *_objective(choice, combo, aim))
        if best is None or merit < best[0]:
            best = (merit, choice, combo, out)
    assert best is not None  # the empty combination always fits
    _, choice, combo, out = best
    drawn = {variant.asked.index for variant in combo.variants}
    undrawn = (ways[0].asked for ways in problem.sets if ways[0].asked.index not in drawn)
    left_out = sorted((*out, *undrawn), key=lambda one: one.index)
    return _outcome(problem, choice, combo, tuple(left_out), aim)


def _wishes(variants: Iterable[Variant], ladder: Sequence[int]) -> Merit:
    """How many sets are drawn of each priority, negative: more is better."""
    counts = Counter(variant.asked.ordered.priority for variant in variants)
    return tuple(-counts[priority] for priority in ladder)


def _counts(asked: Iterable[Asked], out: Iterable[Asked], ladder: Sequence[int]) -> Merit:
    """How many of the solver's tests are served of each priority."""
    counts = Counter(one.ordered.priority for one in asked)
    counts.subtract(one.ordered.priority for one in out)
    return tuple(counts[priority] for priority in ladder)


def _fitting(
    problem: Problem, combo: Combo, aim: Aim, limit_ul: int | None
) -> tuple[Choice, tuple[Asked, ...]]:
    asked = problem.question.asked
    if not asked:
        return NOTHING, ()
    choice, out = choose_what_fits(
        problem.question.needs,
        [one.ordered.priority for one in asked],
        problem.question.kinds,
        aim=aim,
        stock=problem.stock_left(combo.taken),
        blood_limit_ul=None if limit_ul is None else limit_ul - combo.blood_ul,
    )
    return choice, tuple(asked[index] for index in out)


# ---------------------------------------------------------------- shared


def _objective(choice: Choice, combo: Combo, aim: Aim) -> Objective:
    """The objective of the solver's tubes and some sets together."""
    tubes = len(choice.tubes) + combo.tubes
    blood = choice.blood_ul + combo.blood_ul
    rank = choice.preference + combo.rank
    return (tubes, blood, rank) if aim == Aim.FEWEST_TUBES else (blood, tubes, rank)


def _outcome(
    problem: Problem,
    choice: Choice,
    combo: Combo,
    left_out: tuple[Asked, ...],
    aim: Aim,
) -> Outcome:
    pours = list(_tubes(problem.question, choice))
    findings = []
    for variant in combo.variants:
        pours += variant.pours
        if variant.finding is not None:
            findings.append(variant.finding)
    return Outcome(tuple(pours), left_out, tuple(findings), aim)


def _tubes(laid: Question, choice: Choice) -> Iterable[Pour]:
    for tube in choice.tubes:
        way = laid.ways[tube.kind]
        inside = [laid.asked[index] for index in sorted(tube.needs)]
        yield Pour(
            offer=way.offer,
            purpose=SPECIMEN,
            contents=tuple(Content(one, one.volume_ul) for one in inside),
            fill_ul=tube.blood_ul,
            dead_ul=way.kind.dead_ul,
            filled_whole=any(one.filled_whole for one in inside),
        )
