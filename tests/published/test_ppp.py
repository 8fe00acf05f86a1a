"""
Spin programmes against published conditions, and the set of common practice as it was told.

Platelet-poor plasma first; each check names what it is held against.
"""

from __future__ import annotations

import pytest

from cubital.bench import OnRotor, beside, on_rotor, programme_of, spin_of
from cubital.catalogue import shipped
from cubital.catalogue.model_bench import Centrifuge, SpinProgramme

PRACTICE = {"spin-programmes": "common_practice"}


def rotor(radius_mm: int, *, swing: bool = True) -> Centrifuge:
    """A rotor of a radius, set to the turn."""
    return Centrifuge(
        code="r", name="rotor", places=24, radius_mm=radius_mm, swing=swing, cooled=True,
        highest_rpm=10_000, source="bench-memory",
    )  # fmt: skip


def test_platelet_poor_plasma() -> None:
    """
    1500 g for 15 min, platelets below 10 × 10⁹/L, the top three quarters.

    Matsuda 2022, Clinical Laboratory (1500 g × 15 min by international guidelines); lecture on
    platelet-poor plasma of a reference laboratory, 2008 (1500 g, 15 min, below 10 000 a µL, top
    three quarters); Eastern Mediterranean Health Journal 16(2) article 19, 2010 (below 10 × 10⁹/L).
    """
    row = programme_of(shipped(), "coagulation")
    assert (row.rcf_g, row.minutes, row.temperature) == (1500, 15, "room")
    assert shipped().sources[row.source].basis == "published"
    assert shipped().number("ppp_platelets_giga_per_l") == 10
    assert shipped().number("ppp_top_percent") == 75


def test_heparin_aptt_is_off_its_cells_within_the_hour() -> None:
    """CLSI H21 6th edition, 2024, as listed by a coagulation educator."""
    rows = [r for r in shipped().handling("aptt-heparin") if r.need == "spin_within_min"]
    assert [(r.value, r.source) for r in rows] == [(60, "h21_2024_storage")]


def test_serum() -> None:
    """
    2000 g for 10 min, not at a fixed angle, 30 to 60 min upright first.

    Cancer Epidemiology, Biomarkers & Prevention, table 2, constant conditions for serum samples.
    Within 2 h of the draw: hospital guide on centrifugation.
    """
    row = programme_of(shipped(), "serum")
    assert (row.rcf_g, row.minutes, row.swing_only) == (2000, 10, True)
    assert 30 <= row.stand_min <= 60
    assert row.spin_within_min == 120


def test_heparin_plasma() -> None:
    """2180 g for 10 min is as good as 15: BMC Clinical Pathology 11:6, 2011."""
    row = programme_of(shipped(), "plasma")
    assert (row.rcf_g, row.minutes, row.stand_min) == (2180, 10, 0)


def test_edta_plasma() -> None:
    """1100 to 1300 g, 10 to 20 min, swing-out, within 4 h: Early Detection Research Network."""
    row = programme_of(shipped(), "plasma_edta")
    assert 1100 <= row.rcf_g <= 1300
    assert 10 <= row.minutes <= 20
    assert (row.swing_only, row.spin_within_min) == (True, 240)


def test_urine_sediment() -> None:
    """400 g by the European Urinalysis Guidelines, quoted in Biochemia Medica 28:010707, 2018."""
    assert programme_of(shipped(), "urine").rcf_g == 400


# ------------------------------------------------------------------ common practice, no source


@pytest.mark.parametrize(
    ("code", "speed_rpm", "minutes", "stand_min", "within_min"),
    [
        ("serum", 3500, 10, 30, 120),
        ("drug_plain", 3500, 10, 30, 120),
        ("plasma_fluoride", 3000, 5, 0, 120),
        ("urine", 1500, 10, 0, 120),
        ("coagulation", 4000, 15, 0, 0),
    ],
)
def test_set_of_common_practice(
    code: str, speed_rpm: int, minutes: int, stand_min: int, within_min: int
) -> None:
    """
    Speeds and times as a practitioner works by them: common practice, no source.

    The two hours of fluoride and urine are those of the published set (from memory).
    """
    row = programme_of(shipped(), code, PRACTICE)
    assert (row.speed_rpm, row.rcf_g, row.minutes) == (speed_rpm, 0, minutes)
    assert (row.stand_min, row.spin_within_min) == (stand_min, within_min)
    assert shipped().sources[row.source].basis == "common practice"


def test_counts_and_sedimentation_are_never_spun() -> None:
    """EDTA for counts and ESR: common practice, no source."""
    for container, test in (("edta-3", "fbc"), ("edta-3", "esr"), ("esr-1.6", "esr")):
        assert spin_of(shipped(), container, (test,), PRACTICE).programme is None


def test_coagulation_only_in_citrate() -> None:
    """3.2 % citrate, 9 to 1, alone: common practice, no source; also CLSI H21."""
    for test in shipped().tests.values():
        if test.bench == "coagulation":
            accepted = {row.additive for row in shipped().accepted(test.code)}
            assert accepted == {"na_citrate_9nc"}
            spin = spin_of(shipped(), "citrate-2.7", (test.code,), PRACTICE)
            assert spin.programme is not None
            assert spin.programme.code == "coagulation"


def test_four_thousand_turns_are_what_others_do_too() -> None:
    """4000 turns, 15 min: recommendation quoted in African Journal of Laboratory Medicine, 2022."""
    row = programme_of(shipped(), "coagulation", PRACTICE)
    assert (row.speed_rpm, row.minutes) == (4000, 15)
    assert shipped().sources["ppp-haripersadh-2022"].basis == "published"


@pytest.mark.parametrize(
    ("code", "radius_mm", "rcf_g", "published_rpm"),
    [
        # Computed from 1.118e-5 r n²: what each speed of common practice makes on a rotor, and
        # which speed would make the published force there.
        ("serum", 170, 2329, 3244),
        ("serum", 146, 2000, 3500),
        ("coagulation", 84, 1503, 3996),
        ("coagulation", 160, 2863, 2895),
        ("urine", 159, 400, 1500),
    ],
)
def test_both_are_shown(code: str, radius_mm: int, rcf_g: int, published_rpm: int) -> None:
    """Where a published force stands beside a speed, both are told for this rotor."""
    both = beside(shipped(), code, rotor(radius_mm))
    assert both is not None
    assert both.rcf_g == pytest.approx(rcf_g, abs=1)
    assert both.published_rpm == pytest.approx(published_rpm, abs=3)
    assert str(both.practice.speed_rpm) in both.finding.sentence
    assert f"{both.published.rcf_g} g" in both.finding.sentence


def test_every_published_programme_runs_on_a_fitting_rotor() -> None:
    """The force is reached and not passed by more than a turn."""
    for row in shipped().rows(SpinProgramme):
        if row.rcf_g and row.temperature != "warm":
            found = on_rotor(row, rotor(170), shipped())
            assert isinstance(found, OnRotor)
            assert row.rcf_g <= found.rcf_g < row.rcf_g * 1.002
