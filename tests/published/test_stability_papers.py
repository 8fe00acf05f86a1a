"""
How long specimens keep, against further papers and guidelines.

Each table names the paper and where it is found; its abstract was read, or the summary of a
register of papers where said.  The shipped limit, under the choices a laboratory starts with, is
never longer than the paper allows.
"""

from __future__ import annotations

import pytest

from tests.published.test_stability_sources import (
    BLOOD,
    FRIDGE,
    FROZEN,
    ROOM,
    SEPARATED,
    Limits,
    keeps_h,
    limits,
)

WEEK = 168

# Stability studies of twenty-four analytes in human plasma and serum, 2002, PMID 12446483:
# everything taken off the cells at once is unchanged for 56 h at 25 °C.
BOYANTON_2002 = limits(
    "bicarbonate glucose glucose-serum lactate ldh phosphate urate", SEPARATED, ROOM, 56
)
# Storage of serum or whole blood samples? Effects of time and temperature on 22 serum analytes,
# 1995, PMID 7626695: serum for 7 days, at 9 °C all but phosphate and LDH.
HEINS_1995 = [
    *limits(
        "sodium potassium chloride calcium magnesium creatinine urea urate bilirubin-total "
        "cholesterol hdl ldl triglycerides ck ast alt ggt alp amylase",
        SEPARATED, FRIDGE, WEEK,
    ),
    *limits(
        "sodium potassium chloride calcium magnesium creatinine urea cholesterol ggt alp amylase",
        SEPARATED, ROOM, WEEK,
    ),
]  # fmt: skip
# Stability studies of common biochemical analytes in serum separator tubes with or without gel
# barrier, 2012, PMC4062343: 3 days at 4 and 24 °C, AST 48 h, HDL 36 h.
CUHADAR_2012 = [
    *limits("alt total-protein ck triglycerides", SEPARATED, ROOM, 72),
    *limits("total-protein", SEPARATED, FRIDGE, 72),
    *limits("ast", SEPARATED, ROOM, 48),
    *limits("hdl", SEPARATED, ROOM, 36),
]
# Study of the stability of various biochemical analytes in samples stored at different predefined
# storage conditions (J Lab Physicians): 30 days at -20 °C.
KACHHAWA_2017 = limits(
    "sodium potassium urea creatinine urate calcium phosphate bilirubin-direct bilirubin-total "
    "ast alt alp total-protein albumin cholesterol triglycerides",
    SEPARATED, FROZEN, 30 * 24,
)  # fmt: skip
# Studies of the stability of 18 chemical constituents of human serum, 1972, PMID 4639860, as a
# register sums it up: 42 days at -10, 4 and 23 to 27 °C.
WILSON_1972 = [
    *limits("albumin", SEPARATED, ROOM, 42 * 24),
    *limits("albumin", SEPARATED, FRIDGE, 42 * 24),
    *limits("chloride", SEPARATED, FROZEN, 42 * 24),
]
# Stability of common biochemical analytes in serum gel tubes subjected to various storage
# temperatures and times pre-centrifugation, 2008, Ann Clin Biochem 45:375: unspun for 24 h.
TANNER_2008 = limits("total-protein ast lipase cortisol", BLOOD, ROOM, 24)
# Effect of duration and temperature of storage on serum analyte stability: examination of 14
# selected radioimmunoassay procedures, 1982, 10.1093/clinchem/28.1.164: two weeks.
RIA_1982 = [
    *limits("cortisol digoxin fsh ige lh prolactin", SEPARATED, ROOM, 2 * WEEK),
    *limits("cortisol ige", SEPARATED, FRIDGE, 2 * WEEK),
    *limits("digoxin prolactin", SEPARATED, FROZEN, 2 * WEEK),
]
# Influence of time and temperature on coagulation analytes in stored plasma (Clin Chem Lab Med);
# Effects of storage time and temperature on coagulation tests and factors in fresh plasma, 2014,
# PMID 24463857; Effect of freezing plasma at -20 °C for 2 weeks, 2015; Stability of coagulation
# proteins in frozen plasma, 2001, PMID 11460005: 3 months at -24 °C.
PLASMA = [
    *limits("aptt", SEPARATED, ROOM, 8),
    *limits("aptt", SEPARATED, FRIDGE, 8),
    *limits("aptt-heparin", SEPARATED, FRIDGE, 24),
    *limits("antithrombin protein-c fibrinogen", SEPARATED, FRIDGE, WEEK),
    *limits("fibrinogen", SEPARATED, FRIDGE, 24),
    *limits("thrombin-time", SEPARATED, ROOM, 24),
    *limits("factor-viii", SEPARATED, FRIDGE, 2),
    *limits("pt-inr aptt d-dimer lupus-anticoagulant", SEPARATED, FROZEN, 2 * WEEK),
    *limits(
        "fibrinogen thrombin-time factor-viii protein-c protein-s vwf-antigen antithrombin",
        SEPARATED, FROZEN, 3 * 730,
    ),
]  # fmt: skip
# CLSI H21-A5, 2008, as fritsmafactor.com sums it up: room temperature, neither refrigerated nor
# iced; aPTT 4 h.
H21_A5 = [
    *limits("aptt", BLOOD, ROOM, 4),
    *limits(
        "pt-inr aptt aptt-heparin anti-xa-ufh anti-xa-lmwh fibrinogen d-dimer thrombin-time "
        "antithrombin factor-viii protein-c protein-s vwf-antigen lupus-anticoagulant",
        BLOOD, FRIDGE, 0,
    ),
    *limits("pt-inr", SEPARATED, FRIDGE, 0),
]  # fmt: skip
# Guidelines for pre-transfusion compatibility procedures, 2012, as a health board tabulates them.
BSH_2012 = [
    *limits("abo-rh antibody-screen crossmatch", BLOOD, ROOM, 48),
    *limits("antibody-screen crossmatch", BLOOD, FRIDGE, 72),
    *limits("abo-rh", BLOOD, FRIDGE, WEEK),
    *limits("antibody-screen", SEPARATED, FROZEN, 2 * WEEK),
]
# Preanalytical stability of 25(OH)-vitamin D3 in human blood or serum at room temperature, 2009,
# PMID 19541868; Long-term instability of folate and vitamin B12 in human serum.
VITAMINS = [
    *limits("vitamin-d", BLOOD, ROOM, 72),
    *limits("vitamin-d", SEPARATED, FRIDGE, WEEK),
    *limits("vitamin-d", SEPARATED, FROZEN, 60 * 24),
    *limits("folate", SEPARATED, FROZEN, 4 * 24),
    *limits("vitamin-b12", SEPARATED, FROZEN, 8766),
]
# Urology 1996;48:33 (PMID 8973697); J Urol 1997;158:2182: 9 months at -20 °C; Reprod Biol
# Endocrinol 2010;8:145: under 11 months at -25 °C.
PSA_AND_FSH = [
    *limits("psa", SEPARATED, ROOM, WEEK),
    *limits("psa", SEPARATED, FRIDGE, WEEK),
    *limits("psa", SEPARATED, FROZEN, 9 * 730),
    *limits("fsh", SEPARATED, FROZEN, 11 * 730),
]
# 10.1177/0004563215602028, 2016; 10.1080/00365513.2022.2079094: 1 month at -20 °C.
OSMOLALITY = [
    *limits("osmolality", SEPARATED, ROOM, 12),
    *limits("osmolality", SEPARATED, FRIDGE, 36),
    *limits("osmolality", SEPARATED, FROZEN, 30 * 24),
]
# A chapter on natriuretic peptides; Stability of phenytoin in blood collected in vacuum blood
# collection tubes, 1990, 10.1097/00007691-199001000-00016: over gel within 8 h.
OTHERS = [
    *limits("bnp", BLOOD, ROOM, 4),
    *limits("bnp", SEPARATED, FRIDGE, 24),
    *limits("nt-probnp", SEPARATED, ROOM, 48),
    *limits("nt-probnp", SEPARATED, FROZEN, 8766),
    *limits("phenytoin", BLOOD, ROOM, 8),
    *limits("phenytoin", SEPARATED, ROOM, 8),
]
# Hormone stability in human whole blood, 2003, PMID 12633759: EDTA, time to 10 % change.
EVANS_2003 = [
    *limits("acth", BLOOD, ROOM, 17.5),
    *limits("acth", BLOOD, FRIDGE, 18.6),
    *limits("insulin", BLOOD, ROOM, 16.8),
]
# EDTA improves stability of whole blood C-peptide and insulin, 2012, PMC3408407; The stability of
# C-peptide and insulin in plasma and serum samples, 2023, PMID 37409980, as a register sums it up.
INSULIN = [
    *limits("insulin", SEPARATED, ROOM, 8),
    *limits("c-peptide", SEPARATED, ROOM, 24),
    *limits("insulin c-peptide", SEPARATED, FRIDGE, WEEK),
    *limits("insulin c-peptide", SEPARATED, FROZEN, 30 * 24),
]
# Sampling and storage conditions influencing the measurement of parathyroid hormone, a systematic
# review, 2013, 10.1515/cclm-2013-0315: clotted blood and serum, which keep shorter than EDTA.
HANON_2013 = [
    *limits("pth", BLOOD, ROOM, 3),
    *limits("pth", SEPARATED, ROOM, 2),
    *limits("pth", SEPARATED, FRIDGE, 24),
]
# Ann Lab Med 2024;44:195, Table 3: plasma off an EDTA tube within 4 to 6 h.
CTDNA_2024 = limits("cfdna", BLOOD, ROOM, 4)

PAPERS = [
    BOYANTON_2002, HEINS_1995, CUHADAR_2012, KACHHAWA_2017, WILSON_1972, TANNER_2008, RIA_1982,
    PLASMA, H21_A5, BSH_2012, VITAMINS, PSA_AND_FSH, OSMOLALITY, OTHERS, EVANS_2003, INSULIN,
    HANON_2013, CTDNA_2024,
]  # fmt: skip


@pytest.mark.parametrize("paper", PAPERS)
def test_no_limit_is_longer_than_a_paper_allows(paper: Limits):
    """Under the defaults; the papers are named above."""
    longer = [row for row in paper if keeps_h(*row[:3]) > row[3]]
    assert longer == []


def test_phosphate_and_ldh_do_not_keep_a_week_in_the_refrigerator():
    """Heins 1995, PMID 7626695: the two that changed within 7 days at 9 °C."""
    assert keeps_h("phosphate", SEPARATED, FRIDGE) < WEEK
    assert keeps_h("ldh", SEPARATED, FRIDGE) < WEEK


def test_glucose_without_an_inhibitor_keeps_longer_once_it_is_off_the_cells():
    """Boyanton 2002, PMID 12446483: changed at 30 min on the cells, not in 56 h off them."""
    assert keeps_h("glucose-serum", BLOOD, ROOM) <= 0.5 < keeps_h("glucose-serum", SEPARATED, ROOM)
