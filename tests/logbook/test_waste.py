"""Bags and boxes from opening to hand-over."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cubital.catalogue import shipped
from cubital.errors import InputError
from cubital.logbook import close, filled, hand_over, kept_too_long, open_bag, waste_table, weigh
from cubital.logbook.values import Bag

OPENED = datetime(2026, 11, 25, 7, tzinfo=UTC)


def bag(code: str = "W1", stream: str = "sharps") -> Bag:
    """A new bag of the local scheme."""
    return open_bag(shipped(), code=code, scheme="local", stream=stream, at=OPENED, who="mira")


def test_a_bag_goes_its_way() -> None:
    """Filled, closed at three quarters, weighed, handed over."""
    one, found = filled(bag(), 50, shipped())
    assert found == ()
    one, found = filled(one, 75, shipped())
    assert [f.code for f in found] == ["close-it"]
    one = hand_over(weigh(close(one, OPENED + timedelta(hours=9)), 850), OPENED, "collector van")
    assert (one.fill_percent, one.weight_g, one.handed_to) == (75, 850, "collector van")


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: weigh(bag(), 850),  # still open
        lambda: hand_over(bag(), OPENED, "van"),  # still open
        lambda: close(close(bag(), OPENED), OPENED),  # twice
        lambda: close(bag(), OPENED - timedelta(minutes=1)),  # before it was opened
        lambda: filled(close(bag(), OPENED), 80, shipped()),  # into a closed one
        lambda: filled(bag(), 101, shipped()),  # no percentage
        lambda: weigh(close(bag(), OPENED), 0),  # no weight
        lambda: weigh(close(bag(), OPENED), 850_000),  # tonnes
        lambda: hand_over(close(bag(), OPENED), OPENED, " "),  # to nobody
        lambda: bag(stream="glass"),  # not of this scheme
        lambda: open_bag(shipped(), code="W", scheme="moon", stream="x", at=OPENED, who="mira"),
    ],
)
def test_what_cannot_be_is_refused(wrong) -> None:
    """Each wrong step is one sentence, and the bag stays as it was."""
    with pytest.raises(InputError):
        wrong()


@given(st.lists(st.tuples(st.integers(0, 400), st.integers(1, 5000)), max_size=30))
def test_the_yearly_table_adds_up_to_the_daily_ones(bags: list[tuple[int, int]]) -> None:
    """Every closed bag is in exactly one line of each table."""
    closed = [
        weigh(close(bag(f"W{n}"), OPENED + timedelta(days=day)), grams)
        for n, (day, grams) in enumerate(bags)
    ]
    for by in ("day", "month", "year"):
        table = waste_table([*closed, bag("open")], UTC, by=by)
        assert sum(line.bags for line in table) == len(bags)
        assert sum(line.weight_g for line in table) == sum(grams for _, grams in bags)


def test_what_stands_too_long_is_named() -> None:
    """Closed, not handed over, and older than the laboratory's limit."""
    one = close(bag(), OPENED)
    assert kept_too_long([one, bag("W2")], OPENED + timedelta(hours=49), 48) == (one,)
    assert kept_too_long([one], OPENED + timedelta(hours=48), 48) == ()
