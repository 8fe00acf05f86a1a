"""Whether a container fills properly here, and the way out when it does not."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cubital.catalogue import shipped
from cubital.catalogue.model import FillLimit
from cubital.draw.fill import fill_bounds_ul, fill_finding, fill_of, remedies
from cubital.finding import Severity
from tests.draw.hands import laid_over, setting, tube

VALLEY_M = 1900
PASS_M = 3400


@given(st.integers(1, 12_000), st.integers(0, 100), st.integers(100, 150))
def test_bounds_never_let_less_than_the_percentage_pass(nominal: int, low: int, high: int) -> None:
    """The minimum is rounded up and the maximum down, so neither is widened."""
    limit = FillLimit(
        additive="x", minimum_percent=low, maximum_percent=high, to_the_mark=True, source="memory"
    )
    least, most = fill_bounds_ul(tube(nominal, 0), limit)
    assert least * 100 >= nominal * low > (least - 1) * 100
    assert most * 100 <= nominal * high < (most + 1) * 100


@pytest.mark.parametrize(
    ("altitude", "verdict"), [(0, "kept"), (VALLEY_M, "under"), (PASS_M, "under")]
)
def test_the_citrate_tube_of_the_plain_fails_on_the_mountain(altitude: int, verdict: str) -> None:
    """2.7 mL with 1.2 mL headspace: full at the sea, under 90 % in the valley and on the pass."""
    fill = fill_of(shipped().containers["citrate-2.7"], altitude, shipped(), {})
    assert fill.verdict == verdict
    assert (fill.drawn_ul >= 2430) == (verdict == "kept")
    assert fill.to_the_mark
    assert (fill.minimum_ul, fill.maximum_ul) == (2430, 2970)


def test_a_tube_made_for_the_mountain_overdraws_by_the_sea() -> None:
    """Made for 3,500 m and used at sea level it takes more than its maximum."""
    container = shipped().containers["citrate-2.7-alt3500"]
    assert fill_of(container, PASS_M, shipped(), {}).verdict == "kept"
    assert fill_of(container, 0, shipped(), {}).verdict == "over"
    finding = fill_finding(container, 0, shipped(), {})
    assert finding is not None
    assert finding.code == "fill-over"
    assert "more than the maximum of 2.97 mL" in finding.sentence


def test_air_of_the_tubing_counts_for_evacuated_tubes_only() -> None:
    """The air takes room in a tube with a vacuum; a micro-tube is filled by hand."""
    catalogue = shipped()
    drawn = fill_of(catalogue.containers["citrate-2.7"], 0, catalogue, {}, tubing_air_ul=500)
    assert (drawn.drawn_ul, drawn.verdict) == (2200, "under")
    micro = fill_of(catalogue.containers["edta-micro-0.5"], 0, catalogue, {}, tubing_air_ul=500)
    assert micro.drawn_ul == 500


def test_when_only_the_tubing_is_at_fault_the_mend_is_a_discard_tube() -> None:
    """At sea level a discard tube mends it; on the pass it does not, and another way is named."""
    container = shipped().containers["citrate-2.7"]
    at_sea = fill_finding(container, 0, shipped(), {}, tubing_air_ul=500)
    on_pass = fill_finding(container, PASS_M, shipped(), {}, tubing_air_ul=500)
    assert at_sea is not None
    assert on_pass is not None
    assert "discard tube first" in at_sea.sentence
    assert "discard" not in on_pass.sentence
    assert "made for 3500 m" in on_pass.sentence


def test_remedies_come_in_order_size_altitude_syringe() -> None:
    """First a size that keeps its fill, then a tube for altitude, then the syringe."""
    container = shipped().containers["citrate-2.7"]
    roomy = replace(container, code="citrate-slim", name="slim citrate tube", headspace_ul=200)
    ways = remedies(container, VALLEY_M, laid_over(roomy), {})
    kinds = [way.kind for way in ways]
    assert kinds == sorted(kinds, key=["other_size", "made_for_altitude", "syringe_transfer"].index)
    assert ways[0].container == "citrate-slim"
    assert set(kinds) == {"other_size", "made_for_altitude", "syringe_transfer"}
    assert ways[-1].container == "citrate-2.7"


@given(st.integers(-500, 6000), st.sampled_from(sorted(shipped().containers)))
def test_every_remedy_of_another_tube_fills_properly(altitude: int, code: str) -> None:
    """At any place a remedy for any tube is of the same additive and keeps its fill."""
    catalogue = shipped()
    container = catalogue.containers[code]
    for way in remedies(container, altitude, catalogue, {}):
        other = catalogue.containers[way.container]
        assert other.additive == container.additive
        if way.kind != "syringe_transfer":
            assert fill_of(other, altitude, catalogue, {}).verdict == "kept"
            assert other.code != code


def test_remedies_look_at_what_is_on_hand() -> None:
    """No tube for altitude on hand and no syringe: nothing is left, and the finding says so."""
    container = shipped().containers["citrate-2.7"]
    hand = ("citrate-2.7", "citrate-1.8")
    assert remedies(container, PASS_M, shipped(), {}, on_hand=hand, devices=("straight",)) == ()
    (way,) = remedies(container, PASS_M, shipped(), {}, on_hand=hand, devices=("syringe",))
    assert way.kind == "syringe_transfer"
    finding = fill_finding(container, PASS_M, shipped(), {}, on_hand=hand, devices=("straight",))
    assert finding is not None
    assert "ask the laboratory" in finding.sentence


def test_no_syringe_transfer_into_a_tube_larger_than_the_syringe() -> None:
    """A syringe that holds less than the tube is no way out."""
    container = shipped().containers["citrate-2.7"]
    small = laid_over(setting("syringe_max_ul", "2000"))
    assert "syringe_transfer" not in {w.kind for w in remedies(container, PASS_M, small, {})}


def test_severity_follows_the_ratio() -> None:
    """A wrong fill asks where the ratio matters, else it is a note; a kept one is silent."""
    catalogue = shipped()
    citrate = fill_finding(catalogue.containers["citrate-2.7"], PASS_M, catalogue, {})
    assert citrate is not None
    assert (citrate.code, citrate.severity) == ("fill-under", Severity.ASK)
    assert citrate.source == catalogue.fill_limit("na_citrate_9nc").source
    loose = replace(catalogue.fill_limit("k2_edta"), minimum_percent=99)
    edta = fill_finding(catalogue.containers["edta-3"], PASS_M, laid_over(loose), {})
    assert edta is not None
    assert edta.severity == Severity.NOTE
    assert fill_finding(catalogue.containers["citrate-2.7"], 0, catalogue, {}) is None
