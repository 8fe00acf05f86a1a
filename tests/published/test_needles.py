"""
Needle gauges.

Sources beside each check: ISO 6009:2016 colours (18, 20 to 23 and 25 G as a list of product
attributes quotes them, the rest and the sizes from memory); ISO 9626:2016 minimum
inside diameters (from memory); the needle gauge comparison chart of an encyclopaedia (nominal
inner diameter, regular wall, read); WHO guidelines on drawing blood (2010), Table 3.1 (from
memory); Lippi et al., Blood Coagul Fibrinolysis 2006;17:557 (abstract read).
"""

from __future__ import annotations

import pytest

from cubital.catalogue import shipped
from cubital.catalogue.model import DeviceRule, NeedleBore

# Gauge -> hub colour and designated outer diameter in mm: ISO 6009:2016, colours partly quoted.
ISO_6009 = {
    18: ("pink", 1.2),
    19: ("cream", 1.1),
    20: ("yellow", 0.9),
    21: ("deep green", 0.8),
    22: ("black", 0.7),
    23: ("deep blue", 0.6),
    24: ("medium purple", 0.55),
    25: ("orange", 0.5),
    26: ("brown", 0.45),
    27: ("medium grey", 0.4),
}

# Gauge -> outer and inner diameter in mm: needle gauge comparison chart, regular wall, read.
CHART = {
    16: (1.651, 1.194),
    17: (1.473, 1.067),
    18: (1.270, 0.838),
    19: (1.067, 0.686),
    20: (0.9081, 0.603),
    21: (0.8192, 0.514),
    22: (0.7176, 0.413),
    23: (0.6414, 0.337),
    24: (0.5652, 0.311),
    25: (0.5144, 0.260),
    26: (0.4636, 0.260),
    27: (0.4128, 0.210),
}

# Gauge -> least bore in mm, regular, thin and extra-thin wall: ISO 9626:2016, from memory.
ISO_9626 = {
    20: (0.560, 0.635, 0.687),
    21: (0.490, 0.547, 0.610),
    22: (0.390, 0.440, 0.522),
    23: (0.317, 0.370, 0.460),
}


def bores(wall: str) -> dict[int, float]:
    """Gauge -> bore in mm of a wall."""
    return {row.gauge: row.inner_mm for row in shipped().rows(NeedleBore) if row.wall == wall}


@pytest.mark.parametrize("gauge", ISO_6009)
def test_hub_colour_and_size(gauge: int) -> None:
    """ISO 6009:2016: colours partly quoted, sizes from memory."""
    needle = shipped().needles[gauge]
    assert (needle.hub_colour, needle.outer_mm) == ISO_6009[gauge]


@pytest.mark.parametrize("gauge", CHART)
def test_size_and_nominal_bore_agree_with_the_chart(gauge: int) -> None:
    """The chart's outer diameter is within 0.08 mm of the designated size, its bore is ours."""
    outer, inner = CHART[gauge]
    assert abs(shipped().needles[gauge].outer_mm - outer) <= 0.08
    assert bores("nominal")[gauge] == inner


@pytest.mark.parametrize("gauge", ISO_9626)
def test_least_bores(gauge: int) -> None:
    """ISO 9626:2016, from memory; the chart's nominal bore is never below the regular minimum."""
    walls = [bores(wall)[gauge] for wall in ("regular", "thin", "extra_thin")]
    assert tuple(walls) == ISO_9626[gauge]
    assert bores("nominal")[gauge] >= walls[0]


def rules(age_days: int, veins: str) -> set[tuple[str, int]]:
    """Devices and gauges of the default table for an age and veins, vacuum only, best rank."""
    held = [
        row
        for row in shipped().rows(DeviceRule)
        if row.choice == "device-table:who"
        and row.age_from_days <= age_days < row.age_to_days
        and row.veins in (veins, "any")
        and shipped().devices[row.device].draws_by == "vacuum"
    ]
    best = min(row.rank for row in held)
    return {(row.device, row.gauge) for row in held if row.rank == best}


@pytest.mark.parametrize(
    ("age_days", "veins", "expected"),
    [
        (40 * 365, "good", ("straight", 21)),  # WHO 2010, Table 3.1, from memory: adult 21 G
        (40 * 365, "thin", ("straight", 22)),  # the same: small vein 22 G
        (8 * 365, "any", ("straight", 22)),  # the same: child 22 G
        (10, "any", ("winged", 23)),  # the same: newborn, winged 23 G
        (80 * 365, "fragile", ("winged", 23)),  # the same: old and fragile, winged 23 G
    ],
)
def test_gauge_by_patient(age_days: int, veins: str, expected: tuple[str, int]) -> None:
    """WHO 2010, Table 3.1, from memory."""
    assert rules(age_days, veins) == {expected}


def test_no_shipped_needle_is_finer_than_what_spares_coagulation() -> None:
    """Lippi 2006: no coagulation test moves at 23 G, D-dimer does at 25 G."""
    finest = shipped().number("finest_gauge_coagulation")
    assert finest == 23
    assert all(row.gauge <= finest for row in shipped().rows(DeviceRule))
