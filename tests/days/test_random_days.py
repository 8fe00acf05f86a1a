"""
Two hundred random days with faults: nothing is lost, and every fault that a rule is for is caught.
"""

from __future__ import annotations

from collections import Counter

import pytest

from cubital.catalogue import shipped
from cubital.custody import Specimen, fold, verify_chain
from tests.days.day import ARRIVAL_FAULTS, DESK_FAULTS, Day

DAYS = 200
STANDS = {
    "planned": "chair",
    "empty": "chair",
    "drawn": "chair",
    "labelled": "chair",
    "boxed": "box:",
    "in_transit": "box:",
    "missing": "box:",
    "received": "reception",
    "refused": "reception",
    "accepted": "bench",
    "spun": "bench",
    "aliquoted": "bench",
    "spinning": "centrifuge:",
    "stored": "storage:",
    "discarded": "waste",
}
"""Where a specimen in each state can be at all."""


@pytest.fixture(scope="module")
def days() -> list[Day]:
    """The days, run once."""
    return [Day(seed, shipped()).run() for seed in range(DAYS)]


def test_every_specimen_is_in_exactly_one_state_and_place(days: list[Day]) -> None:
    """At the end of each day every number that was given stands somewhere, once, and fits."""
    for day in days:
        items = {s: i for s, i in day.desk.items.items() if isinstance(i, Specimen)}
        assert sorted(items) == sorted(f"specimen:{each}" for each in day.specimens)
        assert len(day.specimens) == len(set(day.specimens))
        for item in items.values():
            assert item.place.startswith(STANDS[item.state]), item


def test_every_fault_is_caught_per_rule(days: list[Day]) -> None:
    """Injected and caught are counted per rule, over all days, and agree."""
    injected: Counter[str] = Counter()
    caught: Counter[str] = Counter()
    for day in days:
        injected += day.injected
        caught += day.caught
    assert set(injected) == set(ARRIVAL_FAULTS) | set(DESK_FAULTS)
    assert min(injected.values()) >= 5
    assert caught == injected


def test_what_is_refused_is_asked_for_again(days: list[Day]) -> None:
    """Each refusal leaves one recollection, and its tube is in the waste."""
    for day in days:
        kinds = Counter(record.event.kind for record in day.desk.records)
        assert kinds["specimen_refused"] == kinds["recollection_asked"] == day.asked_again


def test_the_record_of_each_day_can_be_made_again(days: list[Day]) -> None:
    """The chain holds, and folding all events anew gives the same items."""
    for day in days:
        for site in {record.event.site for record in day.desk.records}:
            own = [record for record in day.desk.records if record.event.site == site]
            assert verify_chain(site, own).holds
        assert fold(record.event for record in day.desk.records) == day.desk.items
