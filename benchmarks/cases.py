"""
Random container questions, the same for the same seed: for the benchmark and for the tests.

``shipped`` compiles random requisitions over the shipped catalogue as a draw plan does: all ages,
haematocrits known and expected, four altitudes, blood in a syringe now and then, and if asked for
stock lists on which much is nearly out.  ``rough`` draws numbers without regard to any laboratory:
small and odd containers, fixed and flexible fills, few tests to a tube, short stock, tight limits.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from functools import cache

from cubital.catalogue import Catalogue
from cubital.catalogue import shipped as shipped_catalogue
from cubital.draw.choose import Aim, Kind, Need, choose_containers
from cubital.draw.needs import ask, question
from cubital.draw.offers import Offers
from cubital.draw.scene import scene_of
from cubital.draw.sets import is_set
from cubital.draw.values import Lot, Place
from cubital.requisition.values import OrderedTest, Patient, Requisition

NOW = datetime(2026, 1, 12, 7, 0, tzinfo=UTC)
ALTITUDES_M = (0, 600, 1900, 3400)
"""The last two are those of the invented Ostrel valley."""


@dataclass(frozen=True, slots=True)
class Case:
    """
    One question, ready for ``choose_containers``.

    Args:
        name: family and number.
    """

    name: str
    needs: tuple[Need, ...]
    kinds: tuple[Kind, ...]
    aim: Aim
    stock: dict[str, int] | None
    blood_limit_ul: int | None


def shipped(
    count: int, seed: int, tests: tuple[int, int] = (3, 25), *, stocked: float = 0.0
) -> Iterator[Case]:
    """
    Random requisitions of so many tests over the shipped catalogue, a third with a limit.

    Args:
        stocked: the share that keeps a stock list.
    """
    for number in range(count):
        rng = random.Random(f"shipped {seed} {number}")
        case = _requisition(rng, f"shipped {number}", rng.randint(*tests), stocked)
        yield _limited(case, rng) if number % 3 == 0 else case


def rough(count: int, seed: int, tests: tuple[int, int] = (1, 12)) -> Iterator[Case]:
    """Random numbers, hard on the search; about half with a limit, about half with a stock."""
    for number in range(count):
        rng = random.Random(f"rough {seed} {number}")
        case = _numbers(rng, f"rough {number}", rng.randint(*tests))
        yield _limited(case, rng) if rng.random() < 0.5 else case


def _limited(case: Case, rng: random.Random) -> Case:
    """With a limit around what the answer without one draws: often binding, at times hopeless."""
    free = choose_containers(case.needs, case.kinds, aim=case.aim, stock=case.stock)
    blood = free.blood_ul if free is not None else 1000
    return replace(case, blood_limit_ul=int(blood * rng.uniform(0.5, 1.1)))


@cache
def _orderable(catalogue: Catalogue) -> tuple[str, ...]:
    """Tests that one container serves; sets are planned beside the choice."""
    now = Requisition("0", Patient("0", "0"), (), NOW)
    scene = scene_of(now, catalogue, Place(), NOW)
    asked = ask([OrderedTest(code) for code in catalogue.tests], scene)
    return tuple(one.test.code for one in asked if not is_set(one))


def _requisition(rng: random.Random, name: str, count: int, stocked: float) -> Case:
    catalogue = shipped_catalogue()
    scene = scene_of(
        Requisition(name, _patient(rng), (), NOW), catalogue, _place(rng, catalogue, stocked), NOW
    )
    codes = _orderable(catalogue)
    by_syringe = rng.random() < 0.1
    offers = Offers(
        scene, small=scene.aim.small_containers or by_syringe, all_by_syringe=by_syringe
    )
    wanted = [OrderedTest(code) for code in rng.sample(codes, min(count, len(codes)))]
    laid = question(ask(wanted, scene), offers)
    return Case(name, laid.needs, laid.kinds, Aim(scene.aim.aim), _stock(scene.stock.counts), None)


def _stock(counts: object) -> dict[str, int] | None:
    return dict(counts) if isinstance(counts, dict) else None


def _patient(rng: random.Random) -> Patient:
    days = rng.choice((rng.randint(0, 60), rng.randint(60, 4000), rng.randint(4000, 32000)))
    known = rng.random() < 0.3
    return Patient(
        "0",
        "0",
        birth_date=NOW.date() - timedelta(days=days),
        sex=rng.choice(("female", "male")),
        haematocrit_percent=float(rng.randint(25, 65)) if known else None,
    )


def _place(rng: random.Random, catalogue: Catalogue, stocked: float) -> Place:
    """A stock list holds most containers of the catalogue, some of them nearly out."""
    lots = None
    if rng.random() < stocked:
        lots = tuple(
            Lot(code, "1", date(2027, 1, 1), rng.choice((1, 2, 3, 5, 20, 100)))
            for code in catalogue.containers
            if rng.random() < 0.85
        )
    return Place(altitude_m=rng.choice(ALTITUDES_M), lots=lots)


def _numbers(rng: random.Random, name: str, count: int) -> Case:
    size = rng.randint(1, 8)
    containers = max(1, size - rng.randint(0, 2))
    flexible = rng.random()
    kinds = []
    for _ in range(size):
        low = rng.choice((100, 250, 500, 1000, 2000))
        high = low + rng.choice((30, 200, 800)) if rng.random() < flexible else low
        kinds.append(
            Kind(
                container=f"c{rng.randrange(containers)}",
                group="g",
                fill_min_ul=low,
                fill_max_ul=high,
                dead_ul=rng.choice((0, 20, 50, 90)),
                max_tests=rng.choice((1, 2, 3, 4, 6, 40)),
            )
        )
    largest = rng.choice((20, 90, 300, 1200))
    needs = tuple(_need(rng, i, kinds, largest) for i in range(count))
    stock = None
    if rng.random() < 0.5:
        stock = {
            f"c{c}": rng.randint(1, 2 + count // 2) for c in range(containers) if rng.random() < 0.6
        }
    return Case(name, needs, tuple(kinds), rng.choice(list(Aim)), stock, None)


def _need(rng: random.Random, number: int, kinds: list[Kind], largest: int) -> Need:
    accepted = rng.sample(range(len(kinds)), rng.randint(1, min(4, len(kinds))))
    room = max(kinds[k].fill_max_ul - kinds[k].dead_ul for k in accepted)
    ranks = tuple((k, rng.choice((0, 0, 1, 2, 5))) for k in accepted)
    return Need(f"t{number}", min(room, rng.randint(1, largest)), ranks, rng.random() < 0.08)
