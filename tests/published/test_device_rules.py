"""
Who gets which needle, from where, and through which skin.

Outside: WHO guidelines on drawing blood (2010), Tables 3.1 and 7.1 from memory, section 6.1.1 read
in a mirror; Lippi et al. 2006 as summarised; the working values of a practitioner, common
practice, no source.
"""

from __future__ import annotations

import pytest

from cubital.catalogue import shipped
from cubital.catalogue.model import Site
from cubital.draw.device import choose_device, choose_route
from cubital.draw.physics import relative_flow
from cubital.draw.sites import choose_sites
from tests.draw.hands import someone

YEAR = 365.25
NEWBORN, INFANT, CHILD, ADULT, OLD = 3, 200, int(6 * YEAR), int(40 * YEAR), int(80 * YEAR)


def needle(days: int, veins: str, table: str, route: str = "venous") -> tuple[str, int]:
    """Device and gauge for an ordinary small rack."""
    choice = choose_device(
        someone(days, veins=veins),
        shipped(),
        {"device-table": table},
        route=route,
        age=days,
        volume_ul=3000,
        containers=1,
        order_classes=("edta",),
    )
    return choice.device.device, choice.device.gauge


@pytest.mark.parametrize(
    ("days", "veins", "device", "gauge"),
    [
        (ADULT, "good", "straight", 21),
        (CHILD, "good", "straight", 22),
        (OLD, "unknown", "straight", 22),
        (ADULT, "thin", "straight", 22),
        (NEWBORN, "unknown", "winged", 23),
        (ADULT, "fragile", "winged", 23),
        (ADULT, "hand", "winged", 23),
    ],
)
def test_who_table_3_1(days: int, veins: str, device: str, gauge: int) -> None:
    """WHO 2010, Table 3.1, from memory: 21 G adult, 22 G child, old or small vein, 23 G newborn."""
    assert needle(days, veins, "who") == (device, gauge)


@pytest.mark.parametrize(
    ("days", "veins", "gauges"),
    [(CHILD, "thin", {22, 23}), (OLD, "thin", {22, 23}), (NEWBORN, "unknown", {23})],
)
def test_local_practice(days: int, veins: str, gauges: set[int]) -> None:
    """Common practice, no source: thin veins of children and the old 22 or 23 G, newborns 23 G."""
    assert needle(days, veins, "local")[1] in gauges


def test_a_newborn_gets_a_winged_set_by_practice() -> None:
    """Common practice, no source: newborns a winged 23 G."""
    assert needle(NEWBORN, "unknown", "local") == ("winged", 23)


@pytest.mark.parametrize("days", [NEWBORN, 20])
def test_venepuncture_is_the_choice_for_term_newborns(days: int) -> None:
    """WHO 2010, section 6.1.1 (mirror read): the vein is the choice for a term newborn."""
    route = choose_route(
        someone(days), shipped(), {}, age=days, tests=("bilirubin-total",), volume_ul=500
    )
    assert route.route == "venous"


@pytest.mark.parametrize(
    ("days", "device", "site"),
    [(NEWBORN, "heel_lancet", "heel"), (INFANT, "finger_lancet", "finger")],
)
def test_who_table_7_1(days: int, device: str, site: str) -> None:
    """WHO 2010, Table 7.1, from memory: heel under about six months, finger after."""
    assert needle(days, "unknown", "who", "capillary") == (device, 0)
    choice = choose_sites(someone(days), shipped(), {}, route="capillary", age=days)
    assert choice.sites[0].site == site


@pytest.mark.parametrize("classes", [("citrate", "edta"), ("citrate",)])
def test_no_finer_than_23_g_for_coagulation(classes: tuple[str, ...]) -> None:
    """Lippi 2006 as summarised: PT, APTT and fibrinogen as with 21 G at 23 G, D-dimer not at 25."""
    for days in (NEWBORN, INFANT, CHILD, ADULT, OLD):
        for veins in ("good", "thin", "fragile", "hand", "unknown"):
            choice = choose_device(
                someone(days, veins=veins),
                shipped(),
                {},
                route="venous",
                age=days,
                volume_ul=2700,
                containers=1,
                order_classes=classes,
            )
            assert 0 < choice.device.gauge <= 23


@pytest.mark.parametrize(
    ("gauge", "flow"),
    [(18, 7.1), (19, 3.2), (20, 1.9), (21, 1.0), (22, 0.42), (23, 0.19), (24, 0.13), (25, 0.07)],
)
def test_flow_against_21_g(gauge: int, flow: float) -> None:
    """Computed by hand from a published chart of nominal bores, to the fourth power."""
    assert relative_flow(gauge, shipped()) == pytest.approx(flow, rel=0.07)


def test_veins_in_the_order_of_practice() -> None:
    """Common practice, no source: median cubital, cephalic, basilic, then the back of the hand."""
    choice = choose_sites(someone(), shipped(), {}, route="venous", age=ADULT)
    allowed = list(dict.fromkeys(p.site for p in choice.sites if p.verdict == "allowed"))
    assert allowed == ["median_cubital", "cephalic", "basilic", "hand_back"]


@pytest.mark.parametrize(
    "site",
    ["fistula", "shunt", "arterial_line", "artery", "femoral", "varicose", "wrist_palm"],
)
def test_never_sites_of_practice(site: str) -> None:
    """Common practice, no source: these are refused, with the reason."""
    choice = choose_sites(someone(), shipped(), {}, route="venous", age=ADULT, asked_site=site)
    assert [(f.code, f.severity) for f in choice.findings] == [("site-refused", "stop")]
    row: Site = shipped().sites[site]
    assert row.caution in choice.findings[0].sentence


@pytest.mark.parametrize(("option", "mm"), [("mm_2_0", "2.0 mm"), ("mm_2_4", "2.4 mm")])
def test_heel_depths(option: str, mm: str) -> None:
    """CLSI GP42 as quoted: 2.0 mm, the default; Blumenfeld, Lancet 1979 (abstract read): 2.4 mm."""
    choice = choose_sites(
        someone(NEWBORN),
        shipped(),
        {"heel-depth": option},
        route="capillary",
        age=NEWBORN,
    )
    assert mm in choice.sites[0].caution
    assert shipped().option("heel-depth").option == "mm_2_0"
