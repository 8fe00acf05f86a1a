"""
LOINC codes of the tests and panels.

Sources beside each check: LOINC Users' Guide, appendix C, Calculating Mod 10 check digits (read);
python-stdnum's Luhn algorithm as a second pair of hands; the page "Lab ITEMID mapping" of the
MIMIC documentation, 2015, which gives LOINC long common names (read); LOINC long common names as
quoted in public FHIR guides (read).
"""

from __future__ import annotations

import re

import pytest
from stdnum import luhn

from cubital.catalogue import model, shipped

# Users' Guide, appendix C: terms whose check digit is known to be wrong.
KNOWN_WRONG = {
    "11491-6", "11501-6", "5895-7", "5896-5", "5897-3", "5928-1", "6028-3", "6415-5", "6580-7",
    "6645-7", "6646-5", "6647-3", "6648-1", "6649-9",
}  # fmt: skip

# "Lab ITEMID mapping": code beside "… in Serum or Plasma" (or Plasma, Serum) unless said.
MIMIC = {
    "afp": ("1834-1", "Alpha-1-Fetoprotein"),
    "albumin": ("1751-7", "Albumin"),
    "alt": ("1742-6", "Alanine aminotransferase"),
    "ammonia": ("16362-6", "Ammonia [Moles/volume] in Plasma"),
    "ana": ("8061-4", "Nuclear Ab [Presence] in Serum"),
    "ast": ("1920-8", "Aspartate aminotransferase"),
    "bilirubin-direct": ("1968-7", "Direct bilirubin"),
    "bilirubin-total": ("1975-2", "Bilirubin"),
    "c3": ("4485-9", "Complement C3"),
    "c4": ("4498-2", "Complement C4"),
    "ca-125": ("10334-1", "Cancer Ag 125"),
    "calcium": ("17861-6", "Calcium"),
    "calcium-ionised": ("1994-3", "Calcium.ionized [Moles/volume] in Blood"),
    "carbamazepine": ("3432-2", "Carbamazepine"),
    "carboxyhaemoglobin": ("20563-3", "Carboxyhemoglobin/Hemoglobin.total in Blood"),
    "cea": ("2039-6", "Carcinoembryonic Ag"),
    "cholesterol": ("2093-3", "Cholesterol"),
    "ciclosporin": ("3520-4", "Cyclosporine [Mass/volume] in Blood"),
    "ck": ("2157-6", "Creatine kinase"),
    "cortisol": ("2143-6", "Cortisol"),
    "creatinine": ("2160-0", "Creatinine"),
    "cryoglobulin": ("5117-7", "Cryoglobulin [Presence] in Serum"),
    "d-dimer": ("48065-7", "Fibrin D-dimer FEU in Platelet poor plasma"),
    "digoxin": ("10535-3", "Digoxin"),
    "factor-viii": ("3209-4", "Coagulation factor VIII activity"),
    "ferritin": ("2276-4", "Ferritin"),
    "fibrinogen": ("3255-7", "Fibrinogen in Platelet poor plasma by Coagulation assay"),
    "folate": ("2284-8", "Folate"),
    "free-t4": ("3024-7", "Thyroxine free"),
    "fsh": ("15067-2", "Follitropin"),
    "g6pd": ("32546-4", "Glucose-6-Phosphate dehydrogenase in Red Blood Cells"),
    "gastrin": ("2333-3", "Gastrin"),
    "gentamicin": ("35668-3", "Gentamicin"),
    "ggt": ("2324-2", "Gamma glutamyl transferase"),
    "glucose": ("2345-7", "Glucose"),
    "haemoglobin": ("718-7", "Hemoglobin [Mass/volume] in Blood"),
    "haptoglobin": ("4542-7", "Haptoglobin"),
    "hba1c": ("4548-4", "Hemoglobin A1c/Hemoglobin.total in Blood"),
    "hdl": ("2085-9", "Cholesterol.in HDL"),
    "iga": ("2458-8", "IgA [Mass/volume] in Serum"),
    "igg": ("2465-3", "IgG [Mass/volume] in Serum"),
    "igm": ("2472-9", "IgM [Mass/volume] in Serum"),
    "iron": ("2498-4", "Iron"),
    "ldh": ("2532-0", "Lactate dehydrogenase"),
    "lipase": ("3040-3", "Triacylglycerol lipase"),
    "methaemoglobin": ("2614-6", "Methemoglobin/Hemoglobin.total in Blood"),
    "nt-probnp": ("33762-6", "Natriuretic peptide.B prohormone"),
    "oestradiol": ("2243-4", "Estradiol"),
    "osmolality": ("2692-2", "Osmolality of Serum or Plasma"),
    "paracetamol": ("3298-7", "Acetaminophen"),
    "phenobarbital": ("3948-7", "Phenobarbital"),
    "phenytoin": ("3968-5", "Phenytoin"),
    "phosphate": ("2777-1", "Phosphate"),
    "potassium": ("2823-3", "Potassium"),
    "prolactin": ("2842-3", "Prolactin"),
    "protein-c": ("27818-4", "Protein C actual/normal by Chromogenic method"),
    "psa": ("2857-1", "Prostate specific Ag"),
    "pth": ("2731-8", "Parathyrin.intact"),
    "reticulocytes": ("17849-1", "Reticulocytes/100 erythrocytes by Automated count"),
    "sodium": ("2951-2", "Sodium"),
    "tacrolimus": ("11253-2", "Tacrolimus [Mass/volume] in Blood"),
    "theophylline": ("4049-3", "Theophylline"),
    "thrombin-time": ("3243-3", "Thrombin time in Platelet poor plasma"),
    "total-protein": ("2885-2", "Protein"),
    "tpo-antibody": ("8099-4", "Thyroperoxidase Ab [Units/volume] in Serum"),
    "ttg-iga": ("31017-7", "Tissue transglutaminase IgA Ab [Units/volume] in Serum"),
    "urate": ("3084-1", "Urate"),
    "valproate": ("4086-5", "Valproate"),
}

# Long common names as quoted in public FHIR guides and code lists.
QUOTED = {
    "abo-rh": ("882-1", "ABO and Rh group [Type] in Blood"),
    "acth": ("2141-0", "Corticotropin [Mass/volume] in Plasma"),
    "antibody-screen": ("890-4", "Blood group antibody screen [Presence] in Serum or Plasma"),
    "blood-gas": ("24339-4", "Gas panel - Venous blood"),
    "crossmatch": ("1250-0", "Major crossmatch [Interpretation]"),
    "culture-blood": ("600-7", "Bacteria identified in Blood by Culture"),
    "esr": ("4537-7", "Erythrocyte sedimentation rate by Westergren method"),
    "fbc": ("58410-2", "CBC panel - Blood by Automated count"),
    "fbc-diff": ("57021-8", "CBC W Auto Differential panel - Blood"),
    "glucose-ogtt-0": ("1558-6", "Fasting glucose [Mass/volume] in Serum or Plasma"),
    "glucose-ogtt-60": ("1507-3", "Glucose … --1 hour post 75 g glucose PO"),
    "glucose-ogtt-120": ("1518-0", "Glucose … --2 hours post 75 g glucose PO"),
    "haemoglobin-variants": ("43113-0", "Hemoglobin electrophoresis panel in Blood"),
    "homocysteine": ("13965-9", "Homocysteine [Moles/volume] in Serum or Plasma"),
    "lithium": ("14334-7", "Lithium [Moles/volume] in Serum or Plasma"),
    "metabolic": ("24323-8", "Comprehensive metabolic 2000 panel - Serum or Plasma"),
    "pt-inr": ("34528-0", "PT panel - Platelet poor plasma by Coagulation assay"),
    "troponin-i": ("89579-7", "Troponin I.cardiac … by High sensitivity method"),
    "tsh": ("3016-3", "Thyrotropin [Units/volume] in Serum or Plasma"),
    "vancomycin": ("4092-3", "Vancomycin [Mass/volume] in Serum or Plasma --trough"),
}


def coded() -> list[model.Test | model.Panel]:
    """The rows that carry a LOINC code."""
    catalogue = shipped()
    rows: list[model.Test | model.Panel] = [
        *catalogue.rows(model.Test),
        *catalogue.rows(model.Panel),
    ]
    return [row for row in rows if row.loinc]


def mod_10(digits: str) -> int:
    """Appendix C, steps 1 to 8."""
    odd, even = digits[::-1][::2], digits[::-1][1::2]
    total = sum(int(digit) for digit in even + str(int(odd) * 2))
    return -total % 10


def test_the_algorithm_gives_the_guides_example():
    """Users' Guide, appendix C: the check digit of 12345 is 5; 11491 should have been 8, not 6."""
    assert mod_10("12345") == 5
    assert mod_10("11491") == 8


def test_every_code_has_its_check_digit():
    """Appendix C, and the Luhn algorithm of python-stdnum."""
    for row in coded():
        assert re.fullmatch(r"\d{1,5}-\d", row.loinc), row.code
        assert row.loinc not in KNOWN_WRONG, row.code
        digits, check = row.loinc.split("-")
        assert mod_10(digits) == int(check), row.code
        assert luhn.is_valid(digits + check), row.code


def test_most_tests_carry_a_code_and_none_twice():
    """A code identifies one row, so that a requisition's LOINC code has one meaning."""
    codes = [row.loinc for row in coded()]
    assert len(codes) == len(set(codes))
    assert len(codes) >= 140


@pytest.mark.parametrize(("code", "loinc", "name"), [(k, *v) for k, v in MIMIC.items()])
def test_codes_mean_what_the_mapping_page_says(code: str, loinc: str, name: str):
    """Page "Lab ITEMID mapping", 2015: the LOINC code beside this long common name."""
    assert shipped().tests[code].loinc == loinc, name


@pytest.mark.parametrize(("code", "loinc", "name"), [(k, *v) for k, v in QUOTED.items()])
def test_codes_mean_what_public_guides_quote(code: str, loinc: str, name: str):
    """The LOINC code that public guides give beside this long common name."""
    catalogue = shipped()
    assert {**catalogue.panels, **catalogue.tests}[code].loinc == loinc, name
