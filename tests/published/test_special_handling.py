"""
Ice, light and 37 °C.

Source: National recommendations for venous blood sampling, Biochemia Medica 2013;23:242, Table 4,
analytes that require special handling (read, PMC3900082).  Renin: checklist after the Endocrine
Society guideline, Pract Lab Med 2021 (read, PMC8145751).
"""

from __future__ import annotations

import pytest

from cubital.catalogue import shipped

CHILLED = ("ammonia", "lactate", "gastrin", "homocysteine", "metanephrines", "acth")
DARK = ("bilirubin-total", "bilirubin-direct", "methotrexate")
WARM = ("cold-agglutinins", "cryoglobulin")


def needs(test: str, **choices: str) -> dict[str, int]:
    """Handling of a test: need -> minutes."""
    chosen = {topic.replace("_", "-"): option for topic, option in choices.items()}
    return {row.need: row.value for row in shipped().handling(test, chosen)}


@pytest.mark.parametrize("test", CHILLED)
def test_chilled_specimens_go_on_ice_slurry(test: str):
    """Table 4, specimen chilling (catecholamines stand for their metanephrines)."""
    assert "ice_slurry" in needs(test)


@pytest.mark.parametrize("test", DARK)
def test_light_sensitive_specimens_are_kept_dark(test: str):
    """Table 4, light sensitive analytes."""
    assert "dark" in needs(test)


@pytest.mark.parametrize("test", WARM)
def test_warm_specimens_stay_at_37_degrees_until_separated_within_an_hour(test: str):
    """Table 4, specimen transportation at 37 °C."""
    assert {"warm_37c", "spin_within_min"} <= set(needs(test))
    assert needs(test)["spin_within_min"] <= 60


def test_the_tubes_for_warm_specimens():
    """Table 4: cold agglutinins in EDTA, cryoglobulins in a tube without additive."""
    catalogue = shipped()
    assert {row.additive for row in catalogue.accepted("cold-agglutinins")} <= {
        "k2_edta",
        "k3_edta",
    }
    assert [row.additive for row in catalogue.accepted("cryoglobulin")] == ["plain"]


def test_blood_for_potassium_is_not_chilled():
    """Table 4: chilling whole blood for longer than two hours is contraindicated."""
    assert "never_chilled" in needs("potassium")


def test_renin_is_a_choice():
    """PMC8145751: not on ice (cryoactivation); Table 4 lists it as chilled."""
    assert "never_chilled" in needs("renin")
    assert "ice_slurry" not in needs("renin")
    assert "ice_slurry" in needs("renin", renin_cooling="ice")


def test_parathyrin_is_a_choice():
    """Table 4 lists it as chilled; EDTA blood at 24 °C showed no change (PMID 12633759)."""
    assert "ice_slurry" not in needs("pth")
    assert "ice_slurry" in needs("pth", pth_cooling="ice")


def test_additives_that_falsify_a_result_are_never_accepted():
    """
    Common practice, no source: an additive that holds or binds what is measured is not offered.

    Potassium EDTA for potassium and what it chelates, lithium heparin for lithium, sodium salts for
    sodium, citrate for calcium, heparin for nucleic acids by amplification.
    """
    catalogue = shipped()
    chelators = {
        "k2_edta", "k3_edta", "trace_element_edta", "na_fluoride_oxalate", "na_fluoride_edta",
        "na_fluoride_citrate", "na_citrate_9nc", "na_citrate_4nc",
    }  # fmt: skip
    heparins = {"na_heparin", "li_heparin", "li_heparin_gel", "balanced_heparin"}
    harmful = {
        **dict.fromkeys(("potassium", "calcium", "magnesium", "iron", "zinc", "alp"), chelators),
        "sodium": chelators | {"na_heparin"},
        "calcium-ionised": chelators,
        "lithium": {"li_heparin", "li_heparin_gel"},
        **dict.fromkeys(("hiv-viral-load", "hcv-rna", "hbv-dna", "dna", "cfdna"), heparins),
        "protein-electrophoresis": heparins | chelators,  # fibrinogen makes a band
    }
    for test, additives in harmful.items():
        assert not {row.additive for row in catalogue.accepted(test)} & additives, test


def test_what_is_never_chilled_keeps_no_time_in_the_refrigerator():
    """Our own rule: two tables must not say the opposite of each other."""
    catalogue = shipped()
    for test in catalogue.tests:
        cold = [
            row.keeps_h
            for row in catalogue.stability(test)
            if (row.matrix, row.condition) == ("whole_blood", "fridge")
        ]
        if "never_chilled" in needs(test):
            assert not any(cold), test
        if "ice_slurry" in needs(test):
            assert all(cold), test
            assert cold, test
