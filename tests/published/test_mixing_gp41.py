"""
How often tubes are turned: CLSI GP41 (and H3-A6 before it), as the page of a training laboratory
tabulates it (chimt-lab.github.io, order of draw).
"""

from __future__ import annotations

import pytest

from cubital.catalogue import shipped

# Additive -> turns of the table.
TURNS = {
    "na_citrate_9nc": (3, 4),
    "clot_activator": (5, 5),
    "serum_gel": (5, 5),
    "li_heparin": (8, 10),
    "li_heparin_gel": (8, 10),
    "na_heparin": (8, 10),
    "k2_edta": (8, 10),
    "k3_edta": (8, 10),
    "na_fluoride_oxalate": (8, 10),
}


@pytest.mark.parametrize(("additive", "turns"), TURNS.items())
def test_tubes_are_turned_as_the_table_says(additive: str, turns: tuple[int, int]):
    """Under the published choice, which a laboratory starts with."""
    row = shipped().mixing(additive, {})
    assert (row.inversions_low, row.inversions_high) == turns
