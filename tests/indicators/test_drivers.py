"""What goes with haemolysis: found where it is, refused where nothing can be told."""

from __future__ import annotations

import random
from collections.abc import Iterator
from typing import Any

import pytest

from cubital.catalogue import shipped
from cubital.errors import InputError
from cubital.indicators.drivers import CAUTION, FACTORS, Drivers, drivers, fit
from cubital.indicators.engine import Engine, duckdb_engine
from tests.indicators import valley
from tests.indicators.makers import lake_in_memory

ONLY_GAUGE = ("gauge",)


@pytest.fixture(scope="module")
def engine() -> Iterator[Engine]:
    """DuckDB in memory."""
    with duckdb_engine(threads=1) as opened:
        yield opened


def pattern(**more: Any) -> dict[str, Any]:
    """A thousand specimens of one kind, thirty of them haemolysed."""
    return {
        "site": "valley", "device": "straight", "gauge": 21, "attempt": "first", "tourniquet": 4,
        "transport": 2, "bad": 30, "of": 1000, **more,
    }  # fmt: skip


def asked(patterns: list[dict[str, Any]], factors: tuple[str, ...] = ONLY_GAUGE) -> Drivers:
    """The answer under the shipped policy."""
    return fit(patterns, factors, shipped())


def test_a_known_odds_ratio_is_found():
    """60 of 1000 against 30 of 1000: the odds of a two by two table."""
    found = asked([pattern(), pattern(gauge=23, bad=60)])
    (effect,) = found.effects
    assert effect.odds == pytest.approx((60 / 940) / (30 / 970))
    assert (effect.level, effect.reference) == ("23", "21")
    assert effect.low < effect.odds < effect.high
    assert effect.low > 1
    assert effect.sentence.startswith("Gauge 23 G against 21 G: 2.06 times the odds (interval 1.3")
    assert found.sentences == (CAUTION,)
    assert (found.events, found.of, found.refused) == (90, 2000, "")


def test_an_amount_is_told_by_its_unit():
    """Haemolysis doubles its odds with each half minute of tourniquet."""
    patterns = [
        pattern(tourniquet=3 * n, bad=round(1000 / (1 + 32 / 2**n)), of=1000) for n in range(5)
    ]
    (effect,) = asked(patterns, ("tourniquet",)).effects
    assert effect.odds == pytest.approx(2, rel=0.02)
    assert effect.sentence.startswith("Each 30 s of tourniquet:")
    hours = [pattern(transport=4 * n, bad=row["bad"]) for n, row in enumerate(patterns)]
    (effect,) = asked(hours, ("transport",)).effects
    assert effect.odds == pytest.approx(2, rel=0.02)
    assert effect.sentence.startswith("Each hour on the way:")


def test_few_events_give_no_model_but_a_sentence():
    """Nine events for one effect are one too few."""
    found = asked([pattern(bad=4), pattern(gauge=23, bad=5)])
    assert found.effects == ()
    assert found.refused == (
        "9 of 2,000 specimens tell of haemolysis; to estimate 1 effect takes at least 10 (10 each)."
        " There is no model: wait for more, or ask about fewer factors."
    )
    assert asked([pattern(bad=5), pattern(gauge=23, bad=5)]).refused == ""


def test_the_rarer_outcome_counts():
    """Nearly all haemolysed is as little as nearly none."""
    found = asked([pattern(bad=995), pattern(gauge=23, bad=996)])
    assert found.refused.startswith("9 of 2,000")


def test_missing_values_are_left_out_and_said():
    """With how many."""
    found = asked([pattern(), pattern(gauge=23, bad=60), pattern(gauge=None, of=7, bad=1)])
    assert "7 specimens are left out: something of gauge is missing." in found.sentences
    assert found.of == 2000


def test_a_factor_that_does_not_vary_is_said():
    """One device everywhere tells nothing of devices."""
    found = asked([pattern(), pattern(gauge=23, bad=60)], ("gauge", "device"))
    assert "The device hardly differs between specimens, so nothing is said of it." in (
        found.sentences
    )
    alone = asked([pattern()], ("device",))
    assert alone.refused == "No factor differs between specimens; there is nothing to compare."


def test_rare_levels_and_all_or_none_are_left_out_and_said():
    """An odds ratio of infinity is no finding."""
    found = asked(
        [pattern(), pattern(gauge=23, bad=60), pattern(gauge=25, bad=3, of=10),
         pattern(gauge=20, bad=0, of=500)]
    )  # fmt: skip
    assert [effect.level for effect in found.effects] == ["23"]
    assert "gauge 25 is left out (10 specimens): fewer than 30." in found.sentences
    assert "gauge 20 is left out (500 specimens): none is haemolysed." in found.sentences


def test_effects_that_cannot_be_told_apart_give_no_model():
    """Every thin needle at one place, every other at the other."""
    found = asked([pattern(), pattern(gauge=23, site="pass", bad=60)], ("gauge", "site"))
    assert found.effects == ()
    assert found.refused == (
        "The effects cannot be told apart in these specimens; there is no model."
    )


def test_a_pattern_of_all_or_none_gives_no_model():
    """Each level has both outcomes, yet together they separate: nothing to estimate."""
    found = asked(
        [
            pattern(gauge=21, attempt="first", bad=0, of=500),
            pattern(gauge=21, attempt="later", bad=500, of=500),
            pattern(gauge=23, attempt="first", bad=250, of=500),
            pattern(gauge=23, attempt="later", bad=500, of=500),
        ],
        ("gauge", "attempt"),
    )
    assert found.effects == ()


def test_nothing_at_all():
    """No specimens: a sentence, no error."""
    found = asked([], FACTORS)
    assert found.refused == "No factor differs between specimens; there is nothing to compare."
    assert (found.events, found.of) == (0, 0)


def test_an_unknown_factor_is_said(engine: Engine):
    """With the nearest."""
    lake = lake_in_memory(valley.years(months=1), engine)
    with pytest.raises(InputError, match=r"“guage” is no factor\. Write gauge\."):
        drivers(lake, shipped(), ("guage",))


def test_out_of_a_lake_the_planted_effect_is_found(engine: Engine):
    """Thin needles haemolyse twice as often in the invented valley; nothing else does."""
    rows = valley.years(sizes=(("valley", 800), ("pass", 400)), worse_from=202701)
    found = drivers(lake_in_memory(rows, engine), shipped())
    assert found.refused == ""
    by_factor = {effect.factor: effect for effect in found.effects}
    assert by_factor["gauge"].low > 1.3
    assert by_factor["gauge"].low < 2.06 < by_factor["gauge"].high
    assert set(by_factor) == {"gauge", "site", "attempt", "tourniquet", "transport"}
    assert "Site Ostrel pass post against Ostrel valley laboratory" in by_factor["site"].sentence


def test_an_effect_of_nothing_says_so():
    """The interval holds one, and the sentence says what that means."""
    rng = random.Random(5)
    patterns = [pattern(gauge=g, bad=rng.randrange(28, 33)) for g in (21, 23)]
    (effect,) = asked(patterns).effects
    assert effect.low < 1 < effect.high
    assert effect.sentence.endswith("; no difference is possible as well.")
