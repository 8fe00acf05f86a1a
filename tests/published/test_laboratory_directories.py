"""
How long a test keeps, which tubes it takes and how the patient prepares, against the pages that
clinical laboratories publish for it.

A page binds the method of its laboratory; the shipped row is never longer than the page that it
cites, and where pages disagree about keeping at all, ``choices.csv`` holds both.  The address of
each page stands in ``sources_directories.toml`` under the key given here.
"""

from __future__ import annotations

import pytest

from cubital.catalogue import shipped
from cubital.catalogue.model import Preparation
from tests.published.test_stability_sources import BLOOD, FRIDGE, FROZEN, ROOM, SEPARATED, keeps_h

DAY, WEEK, MONTH, YEAR = 24.0, 168.0, 730.5, 8766.0

# Key of the page, test, hours at room temperature, in the refrigerator and frozen, off the cells;
# None where the page does not say, or another page stands for it.
PAGES = [
    ("dir_tsh", "tsh", DAY, 5 * DAY, 30 * DAY),
    ("dir_free_t4", "free-t4", WEEK, WEEK, None),
    ("dir_free_t4_frozen", "free-t4", None, WEEK, MONTH),
    ("dir_lh_fsh", "lh", DAY, WEEK, YEAR),
    ("dir_progesterone", "progesterone", 8, 2 * DAY, 6 * MONTH),
    ("dir_testosterone", "testosterone", 8, 2 * DAY, None),
    ("dir_hcg", "hcg", 8, WEEK, 2 * WEEK),
    ("dir_cortisol_frozen", "cortisol", WEEK, WEEK, 6 * MONTH),
    ("dir_troponin_t", "troponin-t", DAY, DAY, 365 * DAY),
    ("dir_troponin_i", "troponin-i", 8, 3 * DAY, MONTH),
    ("dir_nt_probnp", "nt-probnp", None, 6 * DAY, None),
    ("dir_procalcitonin", "procalcitonin", DAY, 2 * DAY, 3 * MONTH),
    ("dir_immunoglobulins", "igg", 2 * MONTH, 4 * MONTH, 6 * MONTH),
    ("dir_immunoglobulins", "iga", 2 * MONTH, 4 * MONTH, 6 * MONTH),
    ("dir_immunoglobulins", "igm", 2 * MONTH, 4 * MONTH, 6 * MONTH),
    ("dir_ferritin", "ferritin", DAY, WEEK, 365 * DAY),
    ("dir_iron", "iron", WEEK, 3 * WEEK, None),
    ("dir_iron_frozen", "iron", None, None, MONTH),
    ("dir_transferrin", "transferrin", DAY, 2 * DAY, 40 * DAY),
    ("dir_c3", "c3", 2 * DAY, 3 * DAY, WEEK),
    ("dir_c3c4", "c4", 2 * DAY, 8 * DAY, 2 * WEEK),
    ("dir_gastrin_room", "gastrin", 2, 0, MONTH),
    ("dir_gastrin", "gastrin", None, 0, 28 * DAY),
    ("dir_calcitonin", "calcitonin", 4, DAY, 90 * DAY),
    ("dir_calcitonin_frozen", "calcitonin", None, 0, 28 * DAY),
    ("dir_metanephrines", "metanephrines", 0, 0, MONTH),
    ("dir_metanephrines_cold", "metanephrines", 0, 2 * WEEK, 2 * WEEK),
    ("dir_homocysteine", "homocysteine", 4 * DAY, 4 * WEEK, 10 * MONTH),
    ("dir_paracetamol", "paracetamol", DAY, WEEK, None),
    ("dir_paracetamol_frozen", "paracetamol", None, 2 * WEEK, 45 * DAY),
    ("dir_ethanol", "ethanol", 2 * DAY, 2 * WEEK, MONTH),
    ("dir_valproate", "valproate", 2 * DAY, WEEK, 3 * MONTH),
    ("dir_phenytoin", "phenytoin", None, None, MONTH),
    ("dir_vancomycin", "vancomycin", 8, WEEK, MONTH),
    ("dir_hbsag", "hbsag", DAY, 5 * DAY, 3 * MONTH),
    ("dir_anti_hbs", "anti-hbs", DAY, WEEK, None),
    ("dir_anti_hcv", "anti-hcv", 3 * DAY, 3 * WEEK, 3 * MONTH),
    ("dir_hiv", "hiv-ag-ab", DAY, 2 * WEEK, None),
    ("dir_hiv_frozen", "hiv-ag-ab", WEEK, 4 * WEEK, 3 * MONTH),
    ("dir_syphilis", "syphilis", 3 * DAY, WEEK, 30 * DAY),
    ("dir_rubella", "rubella-igg", None, WEEK, None),
    ("dir_vitamin_d", "vitamin-d", DAY, None, None),
    ("dir_aldosterone_renin", "aldosterone", 8, 5 * DAY, MONTH),
    ("dir_aldosterone_renin", "renin", 6, 0, MONTH),
    ("dir_lipase", "lipase", DAY, 3 * WEEK, 5 * MONTH),
    ("dir_crp", "crp", 11 * DAY, 2 * MONTH, None),
    ("dir_afp", "afp", 3 * DAY, WEEK, MONTH),
    ("dir_zinc", "zinc", 3 * DAY, WEEK, WEEK),
]
# The same for blood that stays on its cells.
BLOOD_PAGES = [
    ("dir_reticulocytes", "reticulocytes", DAY, 3 * DAY, 0),
    ("dir_film", "blood-film", DAY, 2 * DAY, 0),
    ("dir_g6pd_cold", "g6pd", 0, 20 * DAY, 0),
    ("dir_g6pd", "g6pd", 3 * DAY, WEEK, 0),
    ("dir_hb_variants", "haemoglobin-variants", 2 * DAY, WEEK, None),
    ("dir_sickle", "sickle-screen", DAY, 3 * DAY, 0),
    ("dir_lead", "lead", 5 * DAY, 2 * WEEK, None),
    ("dir_lead_frozen", "lead", 2 * WEEK, 2 * WEEK, 0),
    ("dir_procalcitonin_cells", "procalcitonin", 8, None, None),
    ("dir_paracetamol_cells", "paracetamol", DAY, None, None),
    ("dir_homocysteine_cells", "homocysteine", 1, 4, None),
    ("dir_lipase", "lipase", DAY, None, None),
    ("dir_hiv", "hiv-ag-ab", DAY, None, None),
    ("dir_rubella", "rubella-igg", DAY, None, None),
    ("dir_aldosterone_renin", "renin", 2, None, None),
    ("dir_zinc", "zinc", 0.5, None, None),
    ("dir_igra", "igra", 16, 0, None),
    *(
        ("dir_blood_count", test, None, None, 0)
        for test in [
            "haemoglobin",
            "red-cells",
            "platelets",
            "white-cells",
            "haematocrit",
            "fbc",
            "esr",
        ]
    ),
]
Page = tuple[str, str, float | None, float | None, float | None]


@pytest.mark.parametrize(
    ("matrix", "page"),
    [(SEPARATED, page) for page in PAGES] + [(BLOOD, page) for page in BLOOD_PAGES],
)
def test_no_limit_is_longer_than_the_page_says(matrix: str, page: Page):
    """Under the choices a laboratory starts with."""
    key, test, *hours = page
    assert key in shipped().sources
    for condition, allowed in zip((ROOM, FRIDGE, FROZEN), hours, strict=True):
        if allowed is not None:
            assert keeps_h(test, matrix, condition) <= allowed, (key, condition)


# Topic, option, test, matrix, condition, hours: one page refuses what another allows.
OPTIONS = [
    ("g6pd-room", "refrigerated", "g6pd", BLOOD, ROOM, 0),
    ("metanephrines-refrigerated", "frozen_only", "metanephrines", SEPARATED, FRIDGE, 0),
    ("metanephrines-refrigerated", "days_14", "metanephrines", SEPARATED, FRIDGE, 336),
    ("calcitonin-refrigerated", "frozen_only", "calcitonin", SEPARATED, FRIDGE, 0),
    ("calcitonin-refrigerated", "hours_24", "calcitonin", SEPARATED, FRIDGE, 24),
    ("gastrin-refrigerated", "frozen_only", "gastrin", SEPARATED, FRIDGE, 0),
    ("gastrin-refrigerated", "hours_4", "gastrin", SEPARATED, FRIDGE, 4),
    ("immunosuppressant-storage", "week", "tacrolimus", BLOOD, ROOM, 168),
    ("immunosuppressant-storage", "week", "ciclosporin", BLOOD, ROOM, 120),
    ("immunosuppressant-storage", "week", "ciclosporin", BLOOD, FRIDGE, 168),
]


@pytest.mark.parametrize(("topic", "option", "test", "matrix", "condition", "hours"), OPTIONS)
def test_where_pages_disagree_each_option_says_what_its_page_says(
    topic: str, option: str, test: str, matrix: str, condition: str, hours: float
):
    """The disagreement is shown, and the laboratory chooses."""
    assert keeps_h(test, matrix, condition, **{topic: option}) == hours


# Tubes that the page accepts: dir_troponin_t, dir_potassium, dir_iron,
# dir_calcitonin, dir_lead, dir_vancomycin, dir_hiv, dir_metanephrines, dir_tacrolimus.
ACCEPTED = [
    ("troponin-t", {"li_heparin", "li_heparin_gel"}),
    ("potassium", {"li_heparin_gel", "serum_gel"}),
    ("iron", {"li_heparin_gel", "serum_gel"}),
    ("calcitonin", {"serum_gel"}),
    ("lead", {"trace_element_edta"}),
    ("vancomycin", {"clot_activator", "plain"}),
    ("hiv-ag-ab", {"serum_gel", "k2_edta"}),
    ("metanephrines", {"k2_edta"}),
    ("tacrolimus", {"k2_edta"}),
]


@pytest.mark.parametrize(("test", "additives"), ACCEPTED)
def test_a_tube_that_a_page_accepts_is_accepted(test: str, additives: set[str]):
    """What the pages take in common with the shipped tables, and our rows cite no other tube."""
    rows = {row.additive: row.source for row in shipped().accepted(test)}
    cited = {additive for additive, source in rows.items() if source.startswith("dir_")}
    assert additives & set(rows)
    assert additives & set(rows) <= cited


# Pages: dir_gastrin, dir_testosterone_time, dir_cortisol_frozen, dir_tsh_biotin,
# dir_c_peptide, dir_pth_biotin, dir_troponin_biotin, dir_metanephrines_cold,
# dir_metanephrines_smoke, dir_paracetamol_frozen.
PREPARED = [
    ("gastrin", "fasting_h", 12, 0),
    ("testosterone", "clock_from_to", 7, 10),
    ("cortisol", "clock_from_to", 8, 10),
    ("c-peptide", "fasting_h", 8, 0),
    ("pth", "no_biotin_h", 8, 0),
    ("tsh", "no_biotin_h", 8, 0),
    ("troponin-t", "no_biotin_h", 12, 0),
    ("metanephrines", "supine_min", 20, 0),
    ("metanephrines", "no_smoking_h", 4, 0),
    ("paracetamol", "after_dose_h", 4, 0),
]


@pytest.mark.parametrize(("test", "need", "low", "high"), PREPARED)
def test_the_preparation_is_that_of_the_page(test: str, need: str, low: int, high: int):
    """Hours, minutes and times of day."""
    rows = {(row.test, row.need): row for row in shipped().rows(Preparation)}
    assert (rows[test, need].low, rows[test, need].high) == (low, high)
