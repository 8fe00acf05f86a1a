"""
What tubes draw at altitude, and how full they must be.

Sources beside each check: MacNutt and Sheel, High Alt Med Biol 2008;9:235 (abstract read);
questions and answers on the collection for interferon gamma release assays, 2013 (read); Lippi et
al. 2023, doi:10.1515/dx-2023-0064, and a study of 2009 on under-filled K2EDTA tubes (abstracts
read); Lippi et al., Br J Biomed Sci 2012;69:67 (abstract read); CLSI H21 and ICSH 2011 as quoted.
"""

from __future__ import annotations

from statistics import mean

import pytest

from cubital.catalogue import shipped
from cubital.draw.physics import drawn_ul

# MacNutt and Sheel measured four sizes of tube from sea level to 5341 m.
SIZES = ("edta-3", "edta-4", "edta-6", "edta-10")
HIGHEST_M = 5341


def test_half_a_millilitre_less_for_each_thousand_metres() -> None:
    """MacNutt 2008: about 0.5 mL less per 1000 m, over four sizes, from sea level to 5341 m."""
    losses = []
    for code in SIZES:
        tube = shipped().containers[code]
        losses.append((tube.nominal_ul - drawn_ul(tube, HIGHEST_M)) / (HIGHEST_M / 1000))
    assert mean(losses) == pytest.approx(500, abs=50)


def test_small_tubes_fail_high_up() -> None:
    """MacNutt 2008: smaller tubes at higher altitudes may give air back; ours draw nothing."""
    assert drawn_ul(shipped().containers["edta-2"], HIGHEST_M) == 0


def test_release_assay_tube_is_too_short_above_810_metres() -> None:
    """Collection notes of 2013: too little above 810 m; the limit is 0.8 of 1 mL."""
    tube = shipped().containers["igra-1"]
    least = tube.nominal_ul * shipped().fill_limit("igra_set").minimum_percent // 100
    assert least == 800
    assert drawn_ul(tube, 810) >= least > drawn_ul(tube, 830)


@pytest.mark.parametrize("altitude", [1020, 1875])
def test_release_assay_tube_made_for_altitude_covers_its_range(altitude: int) -> None:
    """Collection notes of 2013: the other kind of tube is for 1020 to 1875 m (0.8 to 1.2 mL)."""
    tube = shipped().containers["igra-1-alt1450"]
    assert 800 <= drawn_ul(tube, altitude) <= 1200


@pytest.mark.parametrize(("option", "percent"), [("percent_67", 67), ("percent_25", 25)])
def test_edta_fill(option: str, percent: int) -> None:
    """Lippi 2023: reject under 67 %; 2009: 1.0 mL in a 4.0 mL tube agrees; the first is shipped."""
    limit = shipped().fill_limit("k2_edta", {"edta-fill": option})
    assert limit.minimum_percent == percent
    assert shipped().option("edta-fill").option == "percent_67"


def test_citrate_fill() -> None:
    """CLSI H21, as quoted: at least 90 %, nine parts blood to one part citrate."""
    limit = shipped().fill_limit("na_citrate_9nc")
    ratio = shipped().ratios["na_citrate_9nc"]
    assert (limit.minimum_percent, limit.to_the_mark) == (90, True)
    assert (ratio.blood_parts, ratio.additive_parts) == (9, 1)


def test_esr_ratio() -> None:
    """ICSH 2011: four parts blood to one part citrate."""
    ratio = shipped().ratios["na_citrate_4nc"]
    assert (ratio.blood_parts, ratio.additive_parts) == (4, 1)


def test_half_full_heparin_is_refused() -> None:
    """Lippi 2012: half full, CK and GGT are biased."""
    for additive in ("li_heparin", "li_heparin_gel", "na_heparin"):
        assert shipped().fill_limit(additive).minimum_percent > 50
