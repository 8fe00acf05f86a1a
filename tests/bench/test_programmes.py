"""Which programme a specimen gets, and what it means on a rotor."""

from __future__ import annotations

import pytest

from cubital.bench import OnRotor, beside, on_rotor, programme_of, rcf_of, spin_of
from cubital.catalogue.model_bench import SpinProgramme, SpinUse
from cubital.errors import InputError
from cubital.finding import Finding, Severity
from tests.bench.small import PRACTICE, ostrel, rotor


def container_of(additive: str) -> str:
    """A container with an additive."""
    return next(c for c, row in ostrel().containers.items() if row.additive == additive)


@pytest.mark.parametrize(
    ("additive", "tests", "programme"),
    [
        ("serum_gel", ("sodium",), "serum"),
        ("clot_activator", ("digoxin",), "drug_plain"),
        ("plain", ("digoxin",), "drug_plain"),
        ("plain", ("sodium",), "serum"),
        ("plain", ("cryoglobulin",), "warm"),
        ("plain", ("gastrin",), "cold_serum"),
        ("li_heparin", ("sodium",), "plasma"),
        ("li_heparin", ("ammonia",), "cold"),
        ("k2_edta", ("bnp",), "plasma_edta"),
        ("k2_edta", ("acth",), "cold"),
        ("k2_edta", ("cold-agglutinins",), "warm"),
        ("na_citrate_9nc", ("pt-inr",), "coagulation"),
        ("na_fluoride_citrate", ("glucose",), "plasma_fluoride"),
        ("na_fluoride_oxalate", ("lactate",), "cold"),
        ("cfdna_stabiliser", ("cfdna",), "cfdna"),
    ],
)
def test_programme_by_additive_and_test(
    additive: str, tests: tuple[str, ...], programme: str
) -> None:
    """The additive decides, ice, warmth or a bench more narrowly."""
    spin = spin_of(ostrel(), container_of(additive), tests)
    assert spin.programme is not None
    assert spin.programme.code == programme
    assert spin.reason.source == spin.programme.source
    assert spin.findings == ()


@pytest.mark.parametrize(
    ("additive", "test"),
    [
        ("k2_edta", "fbc"),
        ("k3_edta", "hba1c"),
        ("na_citrate_4nc", "esr"),
        ("k2_edta", "esr"),
        ("balanced_heparin", "blood-gas"),
        ("culture_aerobic", "culture-blood"),
        ("igra_set", "igra"),
        ("na_heparin", "karyotype"),
    ],
)
def test_whole_blood_is_never_spun(additive: str, test: str) -> None:
    """Counts, sedimentation rate, gases, cultures: whatever the tube."""
    spin = spin_of(ostrel(), container_of(additive), (test,))
    assert spin.programme is None
    assert "never spun" in spin.reason.sentence


def test_every_test_finds_a_programme_or_stays_whole() -> None:
    """No test in no tube that it accepts is left without an answer."""
    catalogue = ostrel()
    for test in catalogue.tests.values():
        for row in catalogue.accepted(test.code):
            spin = spin_of(catalogue, container_of(row.additive), (test.code,))
            whole = test.matrix in ("whole_blood", "broth")
            assert (spin.programme is None) == whole, (test.code, row.additive)


def test_every_additive_with_a_tube_has_a_use() -> None:
    """The table is complete, and every programme in it exists."""
    catalogue = ostrel()
    used = {row.additive for row in catalogue.rows(SpinUse)}
    assert {row.additive for row in catalogue.containers.values()} <= used
    codes = {row.code for row in catalogue.rows(SpinProgramme)} | {"never"}
    assert {row.programme for row in catalogue.rows(SpinUse)} <= codes


def test_gel_is_known_by_its_additive() -> None:
    """Serum and heparin tubes with a gel, and no other."""
    catalogue = ostrel()
    gels = {row.additive for row in catalogue.rows(SpinUse) if row.gel}
    assert gels == {"serum_gel", "li_heparin_gel"}
    assert spin_of(catalogue, "gel-5", ("sodium",)).gel
    assert not spin_of(catalogue, "plain-4", ("sodium",)).gel


def test_a_tube_with_whole_blood_and_plasma_tests_asks() -> None:
    """It is not spun, and the plasma test wants another tube."""
    spin = spin_of(ostrel(), container_of("k2_edta"), ("fbc", "bnp"))
    assert spin.programme is None
    assert [(f.code, f.severity) for f in spin.findings] == [("spin-whole", Severity.ASK)]


def test_the_narrower_of_two_programmes_holds() -> None:
    """ACTH and BNP in one EDTA tube: spun in the cold, and told."""
    spin = spin_of(ostrel(), container_of("k2_edta"), ("bnp", "acth"))
    assert spin.programme is not None
    assert spin.programme.code == "cold"
    assert [f.code for f in spin.findings] == ["spin-mixed"]


def test_other_materials_by_their_examination() -> None:
    """A sediment is spun, a culture is not."""
    catalogue = ostrel()
    sediment = spin_of(catalogue, "", ("urine-strip", "urine-sediment"), material="urine")
    assert sediment.programme is not None
    assert sediment.programme.code == "urine"
    assert spin_of(catalogue, "", ("urine-culture",), material="urine").programme is None


def test_what_the_catalogue_does_not_hold_is_refused() -> None:
    """One sentence each."""
    catalogue = ostrel()
    for call in (
        lambda: spin_of(catalogue, "bucket", ("sodium",)),
        lambda: spin_of(catalogue, "gel-5", ("gold",)),
        lambda: spin_of(catalogue, "", ("gold",), material="urine"),
        lambda: programme_of(catalogue, "whirl"),
    ):
        with pytest.raises(InputError, match="There is no"):
            call()


def test_the_chosen_set_holds_and_lacks_fall_back() -> None:
    """Common practice gives speeds; what it lacks comes from the published set."""
    catalogue = ostrel()
    assert programme_of(catalogue, "serum").rcf_g == 2000
    assert programme_of(catalogue, "serum", PRACTICE).speed_rpm == 3500
    assert programme_of(catalogue, "cold", PRACTICE).rcf_g == 2000


def test_every_programme_is_given_one_way() -> None:
    """In g or as a speed, never both, never neither; a family is set alike within a set."""
    catalogue = ostrel()
    families: dict[tuple[str, str], set[tuple[object, ...]]] = {}
    for row in catalogue.rows(SpinProgramme):
        assert (row.rcf_g > 0) != (row.speed_rpm > 0), row.code
        alike = (row.rcf_g, row.speed_rpm, row.minutes, row.temperature, row.swing_only)
        families.setdefault((row.family, row.choice), set()).add(alike)
    assert all(len(settings) == 1 for settings in families.values())


def test_a_force_becomes_the_next_step_of_this_rotor() -> None:
    """2000 g at 170 mm is 3243.5 turns: 3250 in steps of ten, and at least the force asked for."""
    found = on_rotor(programme_of(ostrel(), "serum"), rotor("valley-24"), ostrel())
    assert isinstance(found, OnRotor)
    assert found.speed_rpm == 3250
    assert 2000 <= found.rcf_g == rcf_of(170, 3250) < 2010
    assert (found.minutes, found.minutes_in_all) == (10, 12)


@pytest.mark.parametrize(
    ("code", "why"),
    [("serum", "swing out"), ("cold", "cooled"), ("warm", "warmed")],
)
def test_a_machine_says_why_it_cannot(code: str, why: str) -> None:
    """Fixed angle, neither cooled nor warmed."""
    found = on_rotor(programme_of(ostrel(), code), rotor("pass-12"), ostrel())
    assert isinstance(found, Finding)
    assert why in found.sentence


def test_a_speed_beyond_the_rotor_is_refused() -> None:
    """Double spinning of citrate plasma wants more than the small rotor turns."""
    found = on_rotor(programme_of(ostrel(), "coagulation_second"), rotor("pass-12"), ostrel())
    assert isinstance(found, Finding)
    assert "5100 times a minute" in found.sentence


def test_a_fixed_angle_takes_its_own_time() -> None:
    """EDTA plasma: 15 min swung out."""
    row = next(r for r in ostrel().rows(SpinProgramme) if r.fixed_angle_minutes)
    assert (row.minutes, row.fixed_angle_minutes) == (15, 20)
    found = on_rotor(row, rotor("valley-24"), ostrel())
    assert isinstance(found, OnRotor)
    assert found.minutes == 15


def test_beside_shows_both_and_asks_when_they_are_far_apart() -> None:
    """3500 turns on the valley's rotor are 16 % over the published force."""
    both = beside(ostrel(), "serum", rotor("valley-24"))
    assert both is not None
    assert both.rcf_g == pytest.approx(2328.7, abs=0.1)
    assert both.published_rpm == pytest.approx(3243.5, abs=0.1)
    assert both.difference_percent == pytest.approx(16.4, abs=0.1)
    assert both.finding.severity is Severity.ASK
    assert "3500 turns a minute are 2329 g" in both.finding.sentence
    near = beside(ostrel(), "coagulation", rotor("pass-12"))
    assert near is not None
    assert near.finding.severity is Severity.NOTE


def test_nothing_stands_beside_a_programme_given_once() -> None:
    """The cold programme has no speed of common practice."""
    assert beside(ostrel(), "cold", rotor("valley-24")) is None
