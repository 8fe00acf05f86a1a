"""
The choice of containers for a whole requisition: the solver's tubes and the sets beside them.

Both draw on the same stock and the same blood limit, and the objectives add up, so the optimum of
the whole is found by going through the few ways to draw the sets, the best first, with a bound.
Volumes in µL of blood.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import product

from cubital.draw.choose import Aim, Choice, choose_containers, choose_what_fits
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
    """

    asked: tuple[Asked, ...]
    question: Question
    sets: tuple[tuple[Variant, ...], ...]
    homeless: tuple[Asked, ...]
    stock: Stock

    def stock_left(self, taken: Counter[str]) -> dict[str, int] | None:
        """What of the containers that matter is left for the solver; None without a list."""
        left = self.stock.without(taken)
        if left is None:
            return None
        return {way.kind.container: left[way.kind.container] for way in self.question.ways}


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
    return Problem(tuple(asked), laid, tuple(sets), tuple(homeless), offers.scene.stock)


# ---------------------------------------------------------------- everything


def serve_all(problem: Problem, aim: Aim, limit_ul: int | None) -> Outcome | None:
    """The optimum that serves every test but the homeless, or None when there is none."""
    if not problem.sets:
        choice = _choose(problem, aim, limit_ul, Counter())
        return None if choice is None else _outcome(problem, choice, (), (), aim)
    base = _choose(problem, aim, None, Counter())
    if base is None:
        return None
    best: tuple[Objective, Choice, tuple[Variant, ...]] | None = None
    fullest = [[v for v in ways if v.shortfall == ways[0].shortfall] for ways in problem.sets]
    for combo in sorted(product(*fullest), key=lambda some: _objective(NOTHING, some, aim)):
        if best is not None and _objective(base, combo, aim) >= best[0]:
            break
        choice = _beside(problem, combo, aim, limit_ul)
        if choice is None:
            continue
        key = _objective(choice, combo, aim)
        if best is None or key < best[0]:
            best = (key, choice, combo)
    return None if best is None else _outcome(problem, best[1], best[2], (), aim)


def _beside(
    problem: Problem, combo: Sequence[Variant], aim: Aim, limit_ul: int | None
) -> Choice | None:
    taken = _taken(combo)
    left = None if limit_ul is None else limit_ul - sum(v.blood_ul for v in combo)
    if not problem.stock.holds(taken) or (left is not None and left < 0):
        return None
    return _choose(problem, aim, left, taken)


def _choose(problem: Problem, aim: Aim, limit_ul: int | None, taken: Counter[str]) -> Choice | None:
    if not problem.question.needs:
        return NOTHING
    return choose_containers(
        problem.question.needs,
        problem.question.kinds,
        aim=aim,
        stock=problem.stock_left(taken),
        blood_limit_ul=limit_ul,
    )


# ---------------------------------------------------------------- what fits


def serve_what_fits(problem: Problem, aim: Aim, limit_ul: int | None) -> Outcome:
    """
    As much as fits, best by priority (1 first), exactly.

    Among equals a set is drawn as full as can be, then the tests that stand earliest are served,
    then the aim decides.
    """
    best: tuple[tuple[object, ...], Choice, tuple[Variant, ...], tuple[Asked, ...]] | None = None
    ladder = sorted({one.ordered.priority for one in problem.asked})
    for options in product(*((*ways, None) for ways in problem.sets)):
        combo = tuple(v for v in options if v is not None)
        found = _fitting(problem, combo, aim, limit_ul)
        if found is None:
            continue
        choice, out = found
        served = _served(problem, combo, out)
        key = _merit(served, combo, choice, ladder, aim)
        if best is None or key < best[0]:
            best = (key, choice, combo, out)
    assert best is not None  # the empty combination always fits
    _, choice, combo, out = best
    drawn = {v.asked.index for v in combo}
    undrawn = (ways[0].asked for ways in problem.sets if ways[0].asked.index not in drawn)
    left_out = sorted((*out, *undrawn), key=lambda one: one.index)
    return _outcome(problem, choice, combo, tuple(left_out), aim)


def _fitting(
    problem: Problem, combo: Sequence[Variant], aim: Aim, limit_ul: int | None
) -> tuple[Choice, tuple[Asked, ...]] | None:
    taken = _taken(combo)
    left = None if limit_ul is None else max(0, limit_ul) - sum(v.blood_ul for v in combo)
    if not problem.stock.holds(taken) or (left is not None and left < 0):
        return None
    asked = problem.question.asked
    if not asked:
        return NOTHING, ()
    choice, out = choose_what_fits(
        problem.question.needs,
        [one.ordered.priority for one in asked],
        problem.question.kinds,
        aim=aim,
        stock=problem.stock_left(taken),
        blood_limit_ul=left,
    )
    return choice, tuple(asked[index] for index in out)


def _served(problem: Problem, combo: Sequence[Variant], out: Iterable[Asked]) -> tuple[Asked, ...]:
    missing = {one.index for one in out}
    kept = [one for one in problem.question.asked if one.index not in missing]
    kept += [variant.asked for variant in combo]
    return tuple(sorted(kept, key=lambda one: one.index))


def _merit(
    served: Sequence[Asked],
    combo: Sequence[Variant],
    choice: Choice,
    ladder: Sequence[int],
    aim: Aim,
) -> tuple[object, ...]:
    counts = Counter(one.ordered.priority for one in served)
    return (
        tuple(-counts[priority] for priority in ladder),
        sum(variant.shortfall for variant in combo),
        tuple(one.index for one in served),
        _objective(choice, combo, aim),
    )


# ---------------------------------------------------------------- shared


def _taken(combo: Iterable[Variant]) -> Counter[str]:
    taken: Counter[str] = Counter()
    for variant in combo:
        taken.update(variant.taken)
    return taken


def _objective(choice: Choice, combo: Iterable[Variant], aim: Aim) -> Objective:
    tubes, blood, rank = len(choice.tubes), choice.blood_ul, choice.preference
    for variant in combo:
        tubes += len(variant.pours)
        blood += variant.blood_ul
        rank += variant.rank
    return (tubes, blood, rank) if aim == Aim.FEWEST_TUBES else (blood, tubes, rank)


def _outcome(
    problem: Problem,
    choice: Choice,
    combo: Iterable[Variant],
    left_out: tuple[Asked, ...],
    aim: Aim,
) -> Outcome:
    pours = list(_tubes(problem.question, choice))
    findings = []
    for variant in combo:
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
