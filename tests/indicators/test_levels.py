"""Published levels beside a figure."""

from __future__ import annotations

from cubital.catalogue import shipped
from cubital.indicators.intervals import Interval
from cubital.indicators.levels import HIGH, LOW, MEDIUM, beside, level_of


def test_levels_with_their_year():
    """What they are, what this is, and how far the interval reaches."""
    specification, survey = beside("Pre-HemR", 0.002, Interval(0.0004, 0.003), shipped())
    assert specification.sentence == (
        "IFCC specification of 2017: high performance up to 0.049 %, low above 0.882 %. This is"
        " medium performance, though the interval reaches high."
    )
    assert specification.levels == (HIGH, MEDIUM)
    assert survey.sentence == (
        "Korean survey, published 2024: half of the laboratories had at most 0.197 % (quartiles"
        " 0.007 % and 0.712 %). This lies in the third quarter."
    )
    assert (specification.year, survey.year) == (2017, 2024)
    assert {specification.source, survey.source} <= set(shipped().sources)


def test_an_interval_from_high_to_low_reaches_medium_too():
    """Nothing of many is still not known to be good."""
    (one, _) = beside("Pre-MisS", 0.0, Interval(0, 0.01), shipped())
    assert one.levels == (HIGH, MEDIUM, LOW)
    assert one.sentence.endswith(
        "This is high performance, though the interval reaches medium and low."
    )


def test_nothing_counted_shows_the_levels_alone():
    """And says nothing of this laboratory."""
    for one in beside("Pre-Clot", None, Interval(0, 1), shipped()):
        assert "This" not in one.sentence
        assert one.levels == ()


def test_an_indicator_without_published_levels_has_none():
    """The desk's own are nobody else's."""
    assert beside("desk-order", 0.1, Interval(0, 1), shipped()) == ()


def test_edges_belong_to_the_better_side():
    """Up to the high limit is high, up to the low limit is medium."""
    assert level_of(0.001, 0.001, 0.01) == HIGH
    assert level_of(0.01, 0.001, 0.01) == MEDIUM
    assert level_of(0.0101, 0.001, 0.01) == LOW


def test_quarters():
    """Where a share lies among the laboratories of the survey."""
    said = [
        beside("Pre-Clot", percent / 100, Interval(0, 1), shipped())[1].sentence.rpartition("This")
        for percent in (0.05, 0.2, 0.4, 0.5)
    ]
    assert [end for _, _, end in said] == [
        " lies within the best quarter.",
        " lies within the better half.",
        " lies in the third quarter.",
        " lies in the last quarter.",
    ]
