"""
Hypothesis strategies that several rooms share: patients, places and requisitions of the shipped
catalogue, all invented.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta, timezone

from hypothesis import strategies as st

from cubital.catalogue import shipped
from cubital.catalogue.model import OrderProfile
from cubital.draw import Lot, Place
from cubital.requisition.values import Condition, OrderedTest, Patient, PriorDraw, Requisition

VALLEY = timezone(timedelta(hours=5))
MORNING = datetime(2025, 3, 4, 8, 30, tzinfo=VALLEY)

TESTS: tuple[str, ...] = tuple(shipped().tests)
BANDS_G = ((28, 900, 4500), (365, 3000, 11_000), (4383, 8000, 45_000), (36_000, 35_000, 130_000))
"""(age in days up to, weight from, weight to), for weights that go with an age."""


@st.composite
def patients(draw: st.DrawFn) -> Patient:
    """A patient of any age, with much or little known about them."""
    start = 0
    until, light, heavy = draw(st.sampled_from(BANDS_G))
    for end, _, _ in BANDS_G:
        if end < until:
            start = end
    age = draw(st.integers(start, until - 1))
    birth = None if draw(st.integers(0, 19)) == 0 else MORNING.date() - timedelta(days=age)
    prior = st.builds(
        PriorDraw,
        st.integers(1, 2000).map(lambda hours: MORNING - timedelta(hours=hours)),
        st.integers(100, 60_000),
    )
    conditions = st.builds(
        Condition,
        st.sampled_from(["mastectomy", "fistula", "infusion"]),
        st.sampled_from(["left", "right"]),
    )
    return Patient(
        number="P-7",
        family_name="Ostrelin",
        given_name="Mira",
        birth_date=birth,
        sex=draw(st.sampled_from(["female", "male", "other", "unknown"])),
        weight_g=draw(st.none() | st.integers(light, heavy)),
        haematocrit_percent=draw(st.none() | st.none() | st.integers(18, 72).map(float)),
        veins=draw(st.sampled_from(["good", "thin", "fragile", "hand", "unknown"])),
        conditions=tuple(draw(st.lists(conditions, max_size=1))),
        prior_draws=tuple(draw(st.lists(prior, max_size=2))),
    )


def ordered_tests(
    codes: Sequence[str] = TESTS, *, min_size: int = 1, max_size: int = 10
) -> st.SearchStrategy[tuple[OrderedTest, ...]]:
    """Tests with the requester's priorities, each code once."""
    one = st.builds(OrderedTest, st.sampled_from(list(codes)), st.integers(1, 4))
    return st.lists(one, min_size=min_size, max_size=max_size, unique_by=lambda t: t.code).map(
        tuple
    )


@st.composite
def requisitions(draw: st.DrawFn, *, max_tests: int = 10) -> Requisition:
    """A requisition for that morning or later that week."""
    return Requisition(
        number="R-7",
        patient=draw(patients()),
        tests=draw(ordered_tests(max_size=max_tests)),
        collect_at=MORNING + timedelta(hours=draw(st.sampled_from([-2, 0, 0, 30]))),
    )


@st.composite
def lots(draw: st.DrawFn) -> tuple[Lot, ...]:
    """What lies on a shelf: most containers in use, some few, some expired or recalled."""
    found = []
    for container in shipped().containers.values():
        if not container.in_use and draw(st.integers(0, 4)):
            continue
        for nth in range(draw(st.integers(0, 2))):
            days = draw(st.sampled_from([-30, -1, 0, 1, 200]))
            found.append(
                Lot(
                    container=container.code,
                    number=f"{container.code}/{nth}",
                    expires_on=MORNING.date() + timedelta(days=days),
                    count=draw(st.sampled_from([1, 2, 50])),
                    recalled=draw(st.integers(0, 9)) == 0,
                )
            )
    return tuple(found)


@st.composite
def places(draw: st.DrawFn) -> Place:
    """A place between the sea and a high pass, with or without a stock list."""
    profiles = [row.code for row in shipped().rows(OrderProfile) if row.route == "venous"]
    return Place(
        altitude_m=draw(st.sampled_from([0, 0, 300, 1900, 3400, 4500])),
        lots=draw(st.none() | lots()),
        order_profile=draw(st.sampled_from(["", "", *profiles])),
        choices=draw(st.sampled_from([{}, {}, {"esr-place": "last"}, {"renin-cooling": "ice"}])),
        route=draw(st.sampled_from(["", "", "venous", "capillary"])),
    )
