"""
Blood for culture by weight.

Sources beside each check: IDSA and ASM guide to utilization of the microbiology laboratory (2018),
as quoted; blood culture volume tables of a university hospital after Kellogg et al. 1997 (read);
Dien Bard and McElvania, J Clin Microbiol 2016;54:1418 (abstract and figure text read).
"""

from __future__ import annotations

import pytest

from cubital.catalogue import shipped
from cubital.catalogue.model import CultureVolume

# Weight in kg, total mL, sets: IDSA and ASM.
IDSA_ASM = [
    (0.8, 2, 1),
    (1.0, 2, 1),
    (1.1, 4, 2),
    (2.0, 4, 2),
    (2.1, 6, 2),
    (12.7, 6, 2),
    (12.8, 20, 2),
    (36.3, 20, 2),
    (36.4, 40, 2),
    (80.0, 40, 2),
]

# Weight in kg, total mL: a university hospital after Kellogg et al. 1997.
KELLOGG = [(1.0, 2), (1.5, 4.5), (8.0, 6), (60.0, 40)]

# The blood volume in mL that IDSA and ASM give as the least of a band, and the percent taken.
IDSA_SHARE = [(0.9, 50, 4.0), (1.5, 100, 4.0), (5.0, 200, 3.0), (20.0, 800, 2.5)]


def row_for(weight_kg: float, option: str) -> CultureVolume:
    """The one row of an option for a weight."""
    (row,) = (
        row
        for row in shipped().rows(CultureVolume)
        if row.choice == f"culture-volume:{option}"
        and row.weight_from_g <= round(weight_kg * 1000) < row.weight_to_g
    )
    return row


def total_ml(row: CultureVolume) -> float:
    """Blood of all sets."""
    return (row.first_set_ul + row.second_set_ul) / 1000


@pytest.mark.parametrize(("weight", "total", "sets"), IDSA_ASM)
def test_totals_of_the_guide(weight: float, total: float, sets: int) -> None:
    """IDSA and ASM 2018, as quoted."""
    row = row_for(weight, "idsa_asm")
    assert (total_ml(row), row.sets) == (total, sets)
    assert shipped().option("culture-volume").option == "idsa_asm"


@pytest.mark.parametrize(("weight", "least_tbv_ml", "percent"), IDSA_SHARE)
def test_share_of_the_blood(weight: float, least_tbv_ml: int, percent: float) -> None:
    """IDSA and ASM 2018: 4, 4, 3 and 2.5 % of the least blood volume of the band."""
    assert total_ml(row_for(weight, "idsa_asm")) == least_tbv_ml * percent / 100


@pytest.mark.parametrize(("weight", "total"), KELLOGG)
def test_totals_of_a_hospital(weight: float, total: float) -> None:
    """A university hospital after Kellogg et al. 1997."""
    assert total_ml(row_for(weight, "kellogg")) == total


@pytest.mark.parametrize("weight", [0.7, 1.1, 2.1, 5.1, 10.1, 20.1])
def test_one_percent_is_kept(weight: float) -> None:
    """CLSI M47-A in Dien Bard 2016: no more than 1 % of 80 mL a kg, at the low end of a band."""
    assert total_ml(row_for(weight, "one_percent")) <= 0.01 * 80 * weight


def test_bottles_hold_ten() -> None:
    """IDSA and ASM 2018: 8 to 10 mL a bottle, and up to 10 mL go into one aerobic bottle."""
    for additive in ("culture_aerobic", "culture_anaerobic"):
        limit = shipped().fill_limit(additive)
        (bottle,) = (c for c in shipped().containers.values() if c.additive == additive)
        assert bottle.nominal_ul * limit.minimum_percent // 100 == 8_000
        assert bottle.nominal_ul * limit.maximum_percent // 100 == 10_000
    for row in shipped().rows(CultureVolume):
        if row.choice == "culture-volume:idsa_asm":
            for blood in (row.first_set_ul, row.second_set_ul):
                assert blood <= 10_000 * row.bottles_per_set
                assert row.bottles_per_set == 1 or blood > 10_000
