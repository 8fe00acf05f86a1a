"""
The order of draw as published, against the shipped profiles.

Sources beside each check: WHO guidelines on drawing blood (2010), Table 2.3, as a training guide
condenses it; CLSI H3-A5 and GP41-7, as laboratory guides quote them; CLSI GP42 for skin punctures,
as a teaching page quotes it.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from cubital.catalogue import shipped
from cubital.catalogue.model import OrderPlace, OrderProfile

WHO_2010 = (
    {"culture"},
    {"citrate"},
    {"clot_activator"},
    {"serum_gel"},
    {"heparin_na", "heparin_li"},
    {"edta"},
    {"fluoride"},
)
"""WHO 2010, Table 2.3, condensed: culture, citrate, serum, then gel, heparin, EDTA, fluoride."""

CLSI_H3_GP41 = (
    {"culture"},
    {"citrate"},
    {"plain", "clot_activator", "serum_gel"},
    {"heparin_na", "heparin_li"},
    {"edta"},
    {"fluoride"},
)
"""CLSI H3-A5 (2003) and GP41-7 (2017): serum with or without activator or gel is one step."""

CLSI_GP42 = (
    {"gas"},
    {"edta"},
    {"heparin_na", "heparin_li", "fluoride"},
    {"plain", "clot_activator", "serum_gel"},
)
"""CLSI GP42: blood gas, EDTA, other additives, serum."""


def places(profile: str) -> dict[str, int]:
    """Order class -> place in a shipped profile."""
    rows = shipped().rows(OrderPlace)
    return {row.order_class: row.position for row in rows if row.profile == profile}


@pytest.mark.parametrize(
    ("profile", "published"),
    [
        ("who2010", WHO_2010),  # WHO 2010, Table 2.3
        ("gp41", CLSI_H3_GP41),  # CLSI GP41-7
        ("syringe", CLSI_H3_GP41),  # CLSI GP41-7: one order for syringe and evacuated tubes
        ("capillary", CLSI_GP42),  # CLSI GP42
    ],
)
def test_profile_keeps_the_published_order(profile: str, published: tuple[set[str], ...]) -> None:
    """All of a step comes before all of the next step."""
    place = places(profile)
    for step, following in pairwise(published):
        assert max(place[one] for one in step) < min(place[one] for one in following)


def test_skin_puncture_turns_the_venous_order_round() -> None:
    """EDTA before serum from the skin (CLSI GP42), after it from a vein (WHO 2010)."""
    capillary, venous = places("capillary"), places("who2010")
    assert capillary["edta"] < capillary["clot_activator"]
    assert venous["edta"] > venous["clot_activator"]


def test_acd_and_trace_elements_as_a_university_laboratory_has_them() -> None:
    """After GP41: ACD last, trace element tubes with the class of their additive."""
    place, additives = places("gp41"), shipped().additives
    assert place["acd"] == max(place.values())
    assert additives["trace_element_edta"].order_class == "edta"
    assert place["citrate"] < place["trace"] < place["heparin_li"]


def test_defaults_are_who_for_veins_and_gp42_for_the_skin() -> None:
    """One default a route; the freely readable guideline is the venous one."""
    defaults = {row.route: row.code for row in shipped().rows(OrderProfile) if row.default}
    assert defaults == {"venous": "who2010", "capillary": "capillary"}
