"""
Values that practitioners work by: common practice, no source.

They ship as the ``local`` order of draw and as the local options of two questions, and where
nothing published stood against them as defaults, always marked so.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from cubital.catalogue import shipped
from cubital.catalogue.model import DeviceRule, OrderPlace, Site

PRACTICE = "common_practice"
LOCAL_MIXING = {"mixing-turns": "local"}


def test_rows_are_marked() -> None:
    """The source says what it is."""
    assert shipped().sources[PRACTICE].basis == "common practice"


def test_local_order_ends_with_the_esr_tube() -> None:
    """Culture, citrate, clot activator, serum, sodium heparin, EDTA, fluoride/oxalate, ESR."""
    order = (
        "culture", "citrate", "clot_activator", "serum_gel", "heparin_na", "edta", "fluoride",
        "citrate_esr",
    )  # fmt: skip
    rows = {r.order_class: r for r in shipped().rows(OrderPlace) if r.profile == "local"}
    assert {rows[one].source for one in order} == {PRACTICE}
    for one, following in pairwise(order):
        assert rows[one].position < rows[following].position
    assert rows["citrate_esr"].position == max(row.position for row in rows.values())


@pytest.mark.parametrize(
    ("additive", "turns"),
    [
        ("culture_aerobic", (8, 10)),
        ("culture_anaerobic", (8, 10)),
        ("na_heparin", (8, 10)),
        ("na_fluoride_oxalate", (8, 10)),
        ("na_citrate_4nc", (8, 10)),
        ("na_citrate_9nc", (3, 5)),
        ("clot_activator", (4, 5)),
    ],
)
def test_local_mixing(additive: str, turns: tuple[int, int]) -> None:
    """8 to 10 turns for culture, heparin, fluoride and ESR, 3 to 5 citrate, 4 to 5 activator."""
    row = shipped().mixing(additive, LOCAL_MIXING)
    assert (row.inversions_low, row.inversions_high, row.source) == (*turns, PRACTICE)


def gauges(age_years: float, veins: str) -> set[tuple[str, int]]:
    """Devices and gauges that the local table offers first for an age and veins."""
    age = int(age_years * 365.25)
    held = [
        row
        for row in shipped().rows(DeviceRule)
        if row.choice == "device-table:local"
        and row.source == PRACTICE
        and row.veins in (veins, "any")
        and row.age_from_days <= age < row.age_to_days
    ]
    named = [row for row in held if row.veins == veins] or held
    return {(row.device, row.gauge) for row in named}


def test_thin_veins_of_children_and_the_old() -> None:
    """22 or 23 G."""
    for age in (7, 80):
        assert {gauge for _, gauge in gauges(age, "thin")} == {22, 23}


def test_newborns_take_a_winged_set() -> None:
    """Winged, 23 G."""
    assert gauges(0.02, "any") == {("winged", 23)}


def test_tourniquet_and_needle() -> None:
    """About 7.5 cm above the site, a minute at most, needle at 15 to 30 degrees."""
    number = shipped().number
    assert number("tourniquet_above_mm_low") == 75
    assert number("tourniquet_max_s") == 60
    assert (number("needle_angle_low_deg"), number("needle_angle_high_deg")) == (15, 30)


def test_three_identifiers_on_a_label() -> None:
    """Three."""
    row = shipped().setting("identifiers_required")
    assert (row.value, row.source) == ("3", PRACTICE)


def test_veins_in_order() -> None:
    """Median cubital, cephalic, basilic (close to artery and nerve), then the back of the hand."""
    veins = sorted(
        (site for site in shipped().rows(Site) if site.verdict == "allowed"),
        key=lambda site: site.rank,
    )
    venous = [site for site in veins if site.route == "venous"]
    assert [site.code for site in venous] == ["median_cubital", "cephalic", "basilic", "hand_back"]
    assert {site.source for site in venous} == {PRACTICE}
    basilic = shipped().sites["basilic"].caution
    assert "artery" in basilic
    assert "nerve" in basilic


@pytest.mark.parametrize(
    "site", ["fistula", "shunt", "arterial_line", "artery", "femoral", "varicose", "wrist_palm"]
)
def test_never_sites(site: str) -> None:
    """Never a fistula, shunt, arterial line, artery, femoral or varicose vein, or palm side."""
    row = shipped().sites[site]
    assert (row.verdict, row.source) == ("never", PRACTICE)
