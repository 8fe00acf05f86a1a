"""The solver's tubes and the sets beside them are one optimum: held against plain enumeration."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import combinations, product

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cubital.draw import Lot, Place
from cubital.draw.choose import Aim, choose_containers
from cubital.draw.decide import Levels
from cubital.draw.needs import ask
from cubital.draw.offers import Offers
from cubital.draw.pour import Variant, counted
from cubital.draw.scene import Scene
from cubital.draw.solve import Outcome, Problem, problem_of, serve_all, serve_what_fits
from cubital.requisition.values import OrderedTest, Requisition
from tests.draw.asking import asked, scene
from tests.draw.hands import MORNING, TODAY, someone
from tests.strategies import lots

SOME = (
    "culture-blood",
    "igra",
    "cfdna",
    "cryoglobulin",
    "fbc",
    "potassium",
    "acth",
    "zinc",
    "pt-inr",
)
FEW = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@st.composite
def problems(draw: st.DrawFn) -> Problem:
    """A few tests, half of them sets, at the sea, with or without a stock list."""
    codes = draw(st.lists(st.sampled_from(SOME), min_size=1, max_size=5, unique=True))
    tests = tuple(OrderedTest(code, draw(st.integers(1, 3))) for code in codes)
    patient = someone(draw(st.sampled_from([20, 2000, 15_000])), weight_g=15_000)
    requisition = Requisition("R-9", patient, tests, MORNING)
    here = scene(requisition, Place(lots=draw(st.none() | lots())))
    return problem_of(ask(tests, here), Offers(here, small=draw(st.booleans())))


def objective(outcome: Outcome, ranks: int, aim: Aim) -> tuple[int, int, int]:
    """Tubes, blood and preference in the order of the aim."""
    tubes, blood = len(outcome.pours), outcome.blood_ul
    return (tubes, blood, ranks) if aim == Aim.FEWEST_TUBES else (blood, tubes, ranks)


def every_combination(problem: Problem, aim: Aim, limit: int | None) -> list[tuple[int, int, int]]:
    """The objective of every way to draw the sets, each with the solver's best beside it."""
    found = []
    for combo in product(*problem.sets):
        if any(
            v.shortfall > ways[0].shortfall for v, ways in zip(combo, problem.sets, strict=True)
        ):
            continue
        taken = counted(pour for variant in combo for pour in variant.pours)
        left = None if limit is None else limit - sum(v.blood_ul for v in combo)
        if not problem.stock.holds(taken) or (left is not None and left < 0):
            continue
        choice = choose_containers(
            problem.question.needs,
            problem.question.kinds,
            aim=aim,
            stock=problem.stock_left(taken),
            blood_limit_ul=left,
        )
        if choice is not None:
            tubes = len(choice.tubes) + sum(len(v.pours) for v in combo)
            blood = choice.blood_ul + sum(v.blood_ul for v in combo)
            rank = choice.preference + sum(v.rank for v in combo)
            found.append((tubes, blood, rank) if aim == Aim.FEWEST_TUBES else (blood, tubes, rank))
    return found


@FEW
@given(problems(), st.sampled_from(list(Aim)), st.none() | st.integers(0, 70_000))
def test_everything_is_served_at_the_least_of_all_combinations(
    problem: Problem, aim: Aim, limit: int | None
) -> None:
    """The bound cuts nothing that would be better, and None means that none is possible."""
    outcome = serve_all(problem, aim, limit)
    ways = every_combination(problem, aim, limit)
    if outcome is None:
        assert ways == []
        return
    best = min(ways)
    tubes, blood = len(outcome.pours), outcome.blood_ul
    assert best[:2] == ((tubes, blood) if aim == Aim.FEWEST_TUBES else (blood, tubes))
    homes = {content.asked.test.code for pour in outcome.pours for content in pour.contents}
    homeless = {one.test.code for one in problem.homeless}
    assert homes | homeless == {one.test.code for one in problem.asked}


def only(problem: Problem, wanted: set[int]) -> Problem:
    """A problem with some of its tests."""
    laid = problem.question
    kept = [n for n, one in enumerate(laid.asked) if one.index in wanted]
    return replace(
        problem,
        asked=tuple(one for one in problem.asked if one.index in wanted),
        question=replace(
            laid,
            asked=tuple(laid.asked[n] for n in kept),
            needs=tuple(laid.needs[n] for n in kept),
        ),
        sets=tuple(ways for ways in problem.sets if ways[0].asked.index in wanted),
        homeless=(),
    )


def possible(problem: Problem, wanted: set[int], limit: int | None) -> bool:
    """Whether some tests can all be served, sets as short as need be."""
    some = only(problem, wanted)
    for combo in product(*some.sets):
        alone = replace(some, sets=tuple((variant,) for variant in combo))
        if serve_all(alone, Aim.LEAST_BLOOD, limit) is not None:
            return True
    return False


@FEW
@given(problems(), st.integers(0, 30_000))
def test_what_fits_is_the_best_subset_by_priority(problem: Problem, limit: int) -> None:
    """Against every subset: most of priority 1, then of 2, and so on."""
    servable = [one for one in problem.asked if one not in problem.homeless]
    ladder = sorted({one.ordered.priority for one in servable})
    best: list[int] = [-1] * len(ladder)
    for size in range(len(servable) + 1):
        for some in combinations(servable, size):
            counts = Counter(one.ordered.priority for one in some)
            merit = [counts[priority] for priority in ladder]
            if merit > best and possible(problem, {one.index for one in some}, limit):
                best = merit
    outcome = serve_what_fits(problem, Aim.LEAST_BLOOD, limit)
    left = {one.index for one in outcome.left_out}
    counts = Counter(one.ordered.priority for one in servable if one.index not in left)
    assert [counts[priority] for priority in ladder] == best
    assert outcome.blood_ul <= limit
    assert problem.stock.holds(counted(outcome.pours))
    homes = {content.asked.index for pour in outcome.pours for content in pour.contents}
    assert homes == {one.index for one in servable} - left


def test_a_set_is_drawn_as_full_as_fits_before_the_aim_counts() -> None:
    """Between one bottle and two sets the fullest that fits is taken."""
    here: Scene = scene(asked("culture-blood"))
    problem = problem_of(ask(asked("culture-blood").tests, here), Offers(here))
    volumes = [
        serve_what_fits(problem, Aim.LEAST_BLOOD, limit).blood_ul
        for limit in (9_999, 10_000, 20_000, 40_000)
    ]
    assert volumes == [0, 10_000, 20_000, 40_000]


def test_a_set_and_the_solver_share_one_shelf() -> None:
    """Two EDTA tubes on hand for cell-free DNA and a blood count that want three."""
    shelf = (Lot("edta-10", "E", TODAY, 2),)
    requisition = asked("cfdna", "fbc")
    here = scene(requisition, Place(lots=shelf))
    problem = problem_of(ask(requisition.tests, here), Offers(here))
    assert serve_all(problem, Aim.FEWEST_TUBES, None) is None
    outcome = serve_what_fits(problem, Aim.FEWEST_TUBES, None)
    assert len(outcome.left_out) == 1


def test_small_containers_are_a_second_home_before_thrift() -> None:
    """What only a micro-tube on the shelf serves is drawn into it, the aim unchanged."""
    shelf = (Lot("edta-micro-0.5", "M", TODAY, 2),)
    requisition = asked("fbc")
    here = scene(requisition, Place(lots=shelf))
    chosen = Levels(ask(requisition.tests, here), here, capillary=False).choose(None)
    assert chosen.level == "usual"
    assert chosen.outcome.aim == Aim.FEWEST_TUBES
    assert [pour.offer.container.code for pour in chosen.outcome.pours] == ["edta-micro-0.5"]


def test_variants_carry_what_they_take() -> None:
    """Blood and containers of a way are those of its pours."""
    here = scene(asked("igra"))
    problem = problem_of(ask(asked("igra").tests, here), Offers(here))
    variant: Variant = problem.sets[0][0]
    assert variant.taken == Counter({"igra-1": 4})
    assert variant.blood_ul == sum(pour.fill_ul for pour in variant.pours)
