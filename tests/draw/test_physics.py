"""Air, vacuum, citrate and time."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cubital.catalogue import shipped
from cubital.catalogue.model import Container, NeedleBore, Ratio
from cubital.draw.physics import (
    after_tubing_ul,
    citrate_advice,
    citrate_ul,
    draw_time_s,
    drawn_ul,
    pressure_hpa,
    relative_flow,
    tourniquet_finding,
)
from cubital.errors import InputError
from cubital.finding import Severity
from tests.draw.hands import laid_over, setting, tube

ALTITUDES = st.integers(-500, 11_000)
TUBES = st.builds(tube, st.integers(250, 10_000), st.integers(0, 4000), st.integers(0, 5000))


@given(ALTITUDES, ALTITUDES)
def test_pressure_falls_with_altitude(one: int, other: int) -> None:
    """Higher is thinner, strictly."""
    low, high = sorted((one, other))
    assert (pressure_hpa(low) > pressure_hpa(high)) == (low < high)


@pytest.mark.parametrize("altitude", [-501, 11_001, float("nan")])
def test_refuses_altitudes_outside_the_troposphere(altitude: float) -> None:
    """One clear sentence with the range."""
    with pytest.raises(InputError, match="between -500 and 11000"):
        pressure_hpa(altitude)


@given(TUBES, ALTITUDES, ALTITUDES)
def test_drawn_volume_never_rises_with_altitude(container: Container, one: int, other: int) -> None:
    """A tube draws at most as much higher up, never below nothing, never over its free volume."""
    low, high = sorted((one, other))
    above, below = drawn_ul(container, high), drawn_ul(container, low)
    assert 0 <= above <= below <= container.nominal_ul + container.headspace_ul


@given(
    st.integers(250, 10_000),
    st.integers(0, 4000),
    st.integers(0, 5000),
    st.integers(0, 5000),
    ALTITUDES,
)
def test_a_tube_made_for_higher_draws_no_less(
    nominal: int, headspace: int, one: int, other: int, altitude: int
) -> None:
    """The higher a tube was calibrated, the more it draws at a given place."""
    low, high = sorted((one, other))
    made_low, made_high = tube(nominal, headspace, low), tube(nominal, headspace, high)
    assert drawn_ul(made_low, altitude) <= drawn_ul(made_high, altitude)


@given(TUBES)
def test_a_tube_draws_its_nominal_volume_where_it_was_made_for(container: Container) -> None:
    """At its calibration altitude exactly the nominal volume."""
    assert drawn_ul(container, container.made_for_altitude_m) == container.nominal_ul


def test_more_headspace_loses_more() -> None:
    """The gas left in the tube decides the loss."""
    drawn = [drawn_ul(tube(2700, headspace), 3400) for headspace in (0, 500, 1000, 1500)]
    assert drawn[0] == 2700
    assert drawn == sorted(drawn, reverse=True)
    assert len(set(drawn)) == 4


def test_containers_filled_by_hand_take_their_nominal_volume_anywhere() -> None:
    """No vacuum, no loss: micro-tubes, bottles and syringes."""
    others = [c for c in shipped().containers.values() if c.form != "evacuated"]
    assert {c.form for c in others} == {"micro", "culture_bottle", "gas_syringe"}
    assert all(drawn_ul(c, 3400) == c.nominal_ul for c in others)


def test_air_of_the_tubing_is_missing_from_the_first_tube() -> None:
    """Half a millilitre of air is half a millilitre of blood less, and never less than none."""
    assert after_tubing_ul(2700, 500) == 2200
    assert after_tubing_ul(300, 500) == 0


# ---------------------------------------------------------------- citrate


@given(st.floats(20, 95), st.floats(20, 95), st.sampled_from(["h21_2024", "decimal_185"]))
def test_more_cells_want_less_citrate(one: float, other: float, form: str) -> None:
    """The citrate falls as the haematocrit rises, in both published forms."""
    low, high = sorted((one, other))
    choices = {"citrate-formula": form}
    amounts = [citrate_ul(2700, h, shipped(), choices) for h in (low, high)]
    assert amounts[0] >= amounts[1] > 0


@pytest.mark.parametrize("haematocrit", [0, 100, -5, 140])
def test_refuses_an_impossible_haematocrit(haematocrit: float) -> None:
    """Percent between 0 and 100."""
    with pytest.raises(InputError, match="between 0 and 100"):
        citrate_ul(2700, haematocrit, shipped(), {})


def test_citrate_advice_says_what_to_remove_and_warns_of_the_trap() -> None:
    """At 60 % a 2.7 mL tube loses 0.098 mL of its 0.300 mL; the total volume would mislead."""
    advice = citrate_advice(shipped().containers["citrate-2.7"], 60.0, shipped(), {})
    assert advice is not None
    assert advice.holds_ul == 300
    assert advice.keep_ul + advice.remove_ul == pytest.approx(300)
    assert advice.trap_ul == pytest.approx(advice.keep_ul * 3000 / 2700)
    assert advice.finding.severity == Severity.ASK
    assert advice.finding.subject == "citrate-2.7"
    for part in ("0.098 mL", "0.202 mL", "blood alone", "0.224 mL", "from a syringe"):
        assert part in advice.finding.sentence


def test_citrate_advice_follows_the_chosen_form() -> None:
    """The other form gives another amount and cites another source."""
    container = shipped().containers["citrate-2.7"]
    one = citrate_advice(container, 60.0, shipped(), {})
    other = citrate_advice(container, 60.0, shipped(), {"citrate-formula": "decimal_185"})
    assert one is not None
    assert other is not None
    assert other.keep_ul == pytest.approx(199.8)
    assert other.reason.source != one.reason.source


@pytest.mark.parametrize(
    ("code", "haematocrit"),
    [("citrate-2.7", None), ("citrate-2.7", 55.0), ("esr-1.6", 70.0), ("edta-3", 70.0)],
)
def test_no_citrate_advice_where_none_is_due(code: str, haematocrit: float | None) -> None:
    """Unknown, not over the setting, or no tube for coagulation."""
    assert citrate_advice(shipped().containers[code], haematocrit, shipped(), {}) is None


@given(st.floats(55.1, 95), st.integers(900, 5000))
def test_never_more_citrate_is_removed_than_is_there(haematocrit: float, blood: int) -> None:
    """What is removed lies between nothing and what the tube holds."""
    container = shipped().containers["citrate-2.7"]
    advice = citrate_advice(container, haematocrit, shipped(), {}, blood_ul=blood)
    assert advice is not None
    assert 0 <= advice.remove_ul < advice.holds_ul


def test_an_unknown_citrate_form_or_ratio_is_refused() -> None:
    """A laboratory's own option without a formula, or an additive without a ratio."""
    option = shipped().option("citrate-formula")
    mine = laid_over(replace(option, option="mine", default=False))
    with pytest.raises(InputError, match="no citrate formula is called mine"):
        citrate_ul(2700, 60, mine, {"citrate-formula": "mine"})
    other = laid_over(replace(shipped().additives["na_citrate_9nc"], code="citrate_new"))
    bare = replace(tube(2700, 1000), additive="citrate_new")
    assert "citrate_new" not in {row.additive for row in other.rows(Ratio)}
    with pytest.raises(InputError, match="no blood to additive ratio"):
        citrate_advice(bare, 60.0, other, {})


# ---------------------------------------------------------------- time


def test_flow_goes_with_the_fourth_power_of_the_bore() -> None:
    """21 G is the measure, finer is slower, and doubling the bore gives sixteen times the flow."""
    catalogue = shipped()
    flows = [relative_flow(gauge, catalogue) for gauge in (18, 20, 21, 22, 23, 25)]
    assert flows[2] == 1.0
    assert flows == sorted(flows, reverse=True)
    double = NeedleBore(gauge=16, wall="nominal", inner_mm=2 * 0.514, source="memory")
    assert relative_flow(16, laid_over(double)) == pytest.approx(16.0)


def test_a_gauge_without_a_bore_is_refused() -> None:
    """The sentence names the gauge and the table."""
    with pytest.raises(InputError, match=r"needle_bores\.csv: no nominal bore is known for 30 G"):
        relative_flow(30, shipped())


@settings(max_examples=50)
@given(st.integers(0, 60_000), st.integers(0, 60_000), st.sampled_from([0, 21, 22, 23]))
def test_more_blood_takes_longer(one: int, other: int, gauge: int) -> None:
    """Time rises with volume, and with the number of containers."""
    low, high = sorted((one, other))
    catalogue = shipped()
    assert draw_time_s(gauge, low, 2, catalogue) <= draw_time_s(gauge, high, 2, catalogue)
    assert draw_time_s(gauge, low, 2, catalogue) < draw_time_s(gauge, low, 3, catalogue)


def test_draw_time_counts_blood_and_changes() -> None:
    """At 400 µL a second through 21 G, 8 mL in three tubes: 20 s and two changes of 5 s."""
    catalogue = laid_over(
        setting("reference_flow_ul_per_s_21g", "400"), setting("tube_change_s", "5")
    )
    assert draw_time_s(21, 8000, 3, catalogue) == pytest.approx(30.0)
    assert draw_time_s(21, 0, 0, catalogue) == 0.0


def test_the_tourniquet_minute_is_kept_or_said() -> None:
    """Up to the setting nothing; over it a note with the mend."""
    assert tourniquet_finding(60.0, shipped()) is None
    finding = tourniquet_finding(61.0, shipped())
    assert finding is not None
    assert finding.severity == Severity.NOTE
    assert "release it as soon as blood flows" in finding.sentence
    assert tourniquet_finding(61.0, laid_over(setting("tourniquet_max_s", "90"))) is None
