"""
HL7 v2 table 0371, Additive/Preservative: code system version 2.1.0 of the HL7 terminology (read).
"""

from __future__ import annotations

import pytest

from cubital.catalogue import shipped

# Code -> name and the stopper the table's comment gives.
HL7_0371 = {
    "ACDA": ("ACD Solution A", "yellow"),
    "ACDB": ("ACD Solution B", "yellow"),
    "C32": ("3.2% Citrate", "blue"),
    "C38": ("3.8% Citrate", "blue"),
    "CTAD": ("CTAD", "blue"),
    "EDTK": ("Potassium/K EDTA", "deprecated"),
    "EDTK15": ("Potassium/K EDTA 15%", "purple"),
    "EDTK75": ("Potassium/K EDTA 7.5%", "purple"),
    "EDTN": ("Sodium/Na EDTA", "dark blue"),
    "HEPA": ("Ammonium heparin", "green"),
    "HEPL": ("Lithium/Li Heparin", "green"),
    "HEPN": ("Sodium/Na Heparin", "green"),
    "KOX": ("Potassium Oxalate", "gray"),
    "LIA": ("Lithium iodoacetate", "gray"),
    "NAF": ("Sodium Fluoride", "gray"),
    "NAPS": ("Sodium polyanethol sulfonate in sodium chloride", "yellow"),
    "NONE": ("None", "red or pink"),
    "SILICA": ("Siliceous earth, 12 mg", "gray"),
    "SPS": ("SPS", ""),
    "SST": ("Serum Separator Tube (Polymer Gel)", "tiger"),
    "THROM": ("Thrombin", "orange"),
    "WEST": ("Buffered Citrate (Westergren Sedimentation Rate)", "black"),
}

# Stopper in the table's comment -> closure colours that mean the same here.
SAME_STOPPER = {
    "blue": {"light-blue"},
    "black": {"black"},
    "purple": {"lavender", "pink", "royal-blue"},
    "green": {"green", "light-green", "royal-blue"},
    "gray": {"grey", "red"},
    "yellow": {"yellow"},
    "red or pink": {"red", "royal-blue"},
    "tiger": {"gold"},
}

ADDITIVES = sorted(shipped().additives)


@pytest.mark.parametrize("code", ADDITIVES)
def test_code_is_in_the_table_and_not_deprecated(code: str) -> None:
    """HL7 0371; an additive without a code of its own has none."""
    hl7 = shipped().additives[code].hl7_0371
    assert hl7 == "" or (hl7 in HL7_0371 and HL7_0371[hl7][1] != "deprecated")


@pytest.mark.parametrize("code", ADDITIVES)
def test_stopper_agrees_with_the_comment(code: str) -> None:
    """The stopper in the table's comment is the closure colour, where both name one."""
    additive = shipped().additives[code]
    stopper = HL7_0371[additive.hl7_0371][1] if additive.hl7_0371 else ""
    if stopper and additive.colour != "none":
        assert additive.colour in SAME_STOPPER[stopper]


@pytest.mark.parametrize(
    ("additive", "hl7"),
    [
        ("na_citrate_9nc", "C32"),
        ("na_citrate_4nc", "WEST"),
        ("na_heparin", "HEPN"),
        ("li_heparin", "HEPL"),
        ("serum_gel", "SST"),
        ("plain", "NONE"),
        ("acd", "ACDA"),
        ("na_fluoride_oxalate", "NAF"),
        ("cfdna_stabiliser", ""),
    ],
)
def test_codes_that_leave_no_doubt(additive: str, hl7: str) -> None:
    """HL7 0371: each of these additives is named by one code, cell stabilisers by none."""
    assert shipped().additives[additive].hl7_0371 == hl7
