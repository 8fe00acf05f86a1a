"""
How long specimens keep, against the papers.

Each table names the paper, its year and where it is found; what was read is its abstract unless
said.  The shipped limit, under the choices a laboratory starts with, is never longer than the
paper allows; under the option that names a paper it is exactly what the paper says.
"""

from __future__ import annotations

import pytest

from cubital.catalogue import shipped
from cubital.catalogue.model import Handling, Stability

BLOOD, SEPARATED = "whole_blood", "serum_plasma"
ROOM, FRIDGE, FROZEN = "room", "fridge", "frozen"

Limits = list[tuple[str, str, str, float]]


def limits(tests: str, matrix: str, condition: str, hours: float) -> Limits:
    """One limit for several tests."""
    return [(test, matrix, condition, hours) for test in tests.split()]


# Stability of 35 biochemical and immunological routine tests after 10 hours storage and transport
# of human whole blood at 21 °C, 2014, PMC4219582: no restriction but for folate and phosphate.
HENRIKSEN_2014 = limits(
    "albumin alp alt amylase bicarbonate bilirubin-total calcium cholesterol ck creatinine crp "
    "ferritin free-t3 free-t4 ggt haptoglobin hdl iga igg igm iron ldh potassium psa sodium "
    "transferrin triglycerides tsh urate urea vitamin-b12",
    BLOOD, ROOM, 10,
)  # fmt: skip
# Pre-analytical stability of haematinics, lactate dehydrogenase and phosphate in whole blood,
# 2024, PMID 39609111 (abstract and a summary of its findings).
WILLIAMS_2024 = [
    *limits("ldh folate phosphate", BLOOD, ROOM, 7),
    *limits("iron", BLOOD, ROOM, 12),
    *limits("vitamin-b12 ferritin", BLOOD, ROOM, 24),
    *limits("ldh folate vitamin-b12", SEPARATED, FRIDGE, 72),
]
# Stability of routine biochemical analytes in whole blood and plasma/serum: focus on potassium
# stability from lithium heparin, 2018, PMID 28888086 (a summary of its findings): potassium was
# changed at 8 h, bicarbonate and LDH at 12 h, magnesium at 24 h; hormones after 6 h.
DUPUY_2018 = [
    *limits("potassium", BLOOD, ROOM, 6),
    *limits("bicarbonate ldh", BLOOD, ROOM, 8),
    *limits("magnesium", BLOOD, ROOM, 12),
    *limits("c-peptide pth", BLOOD, ROOM, 6),
    *limits("nt-probnp troponin-t", BLOOD, ROOM, 24),
]
# Stability of routine biochemical analytes in whole blood and plasma from lithium heparin gel
# tubes during 6-hr storage: phosphate and LDH beyond their limit at 3 h, potassium within at 6 h.
HEPARIN_GEL_6H = [
    *limits("phosphate ldh", BLOOD, ROOM, 2),
    *limits("potassium", BLOOD, ROOM, 6),
]
# Effect of anticoagulants and storage temperatures on stability of plasma and serum hormones,
# 2001, PMID 11311219: EDTA plasma at 4 °C, not ACTH; BNP less than 24 h at room temperature.
EVANS_2001 = [
    *limits(
        "aldosterone c-peptide oestradiol fsh growth-hormone igf-1 insulin lh pth prolactin",
        SEPARATED, FRIDGE, 120,
    ),
    *limits("acth", SEPARATED, FRIDGE, 0),
    *limits("bnp", SEPARATED, ROOM, 24),
]  # fmt: skip
# Hormone stability in human whole blood, 2003, PMID 12633759: EDTA, 24 h; time to 10 % change.
EVANS_2003 = [
    *limits("aldosterone c-peptide oestradiol fsh igf-1 lh prolactin pth", BLOOD, ROOM, 24),
    *limits("acth", BLOOD, ROOM, 17.5),
    *limits("insulin", BLOOD, ROOM, 16.8),
]
# Stability of hematological analytes during 48 hours storage at three temperatures (J Med Biochem):
# unchanged for 48 h at 23 °C, and its authors advise 24 h without a refrigerator.
BLOOD_COUNT = [
    *limits("haemoglobin red-cells platelets", BLOOD, ROOM, 24),
    *limits("differential", BLOOD, ROOM, 12),
    *limits("white-cells haematocrit fbc", BLOOD, ROOM, 24),
    *limits("haemoglobin red-cells platelets white-cells haematocrit", BLOOD, FRIDGE, 48),
]
# CLSI H21, 6th edition, 2024, as listed by fritsmafactor.com, July 2024.
H21_2024 = [
    *limits("pt-inr", BLOOD, ROOM, 24),
    *limits("aptt", BLOOD, ROOM, 6),
    *limits("aptt-heparin anti-xa-ufh", BLOOD, ROOM, 1),
    *limits("factor-viii protein-s", BLOOD, ROOM, 4),
]
# Impact of different storage times at room temperature of unspun citrated blood samples on routine
# coagulation test results, 2017, 10.1111/ijlh.12660 (as reported).
TOULON_2017 = [
    *limits("aptt fibrinogen d-dimer", BLOOD, ROOM, 8),
    *limits("factor-viii", BLOOD, ROOM, 6),
]
# Validation of pre-analytical stability of specimens requested for various routine coagulation
# tests, 2021 (Clin Exp Thromb Hemost): the spun tube at room temperature.
KIM_2021 = [
    *limits("aptt lupus-anticoagulant", SEPARATED, ROOM, 12),
    *limits("pt-inr", SEPARATED, ROOM, 24),
    *limits("factor-viii", SEPARATED, ROOM, 2),
    *limits("fibrinogen d-dimer vwf-antigen antithrombin", SEPARATED, ROOM, 48),
]
# Effect of storage temperature and time on erythrocyte sedimentation rate, 2022, PMC9148503.
HU_2022 = [*limits("esr", BLOOD, ROOM, 4), *limits("esr", BLOOD, FRIDGE, 8)]
# Effectiveness of a citrate buffer and fluoride mixture as an inhibitor of glycolysis, 2016,
# PMC4783092; without an inhibitor separate within 30 min.
BONETTI_2016 = [*limits("glucose", BLOOD, ROOM, 4), *limits("glucose-serum", BLOOD, ROOM, 0.5)]
# Effects of whole blood storage on hemoglobin A1c measurements with five current assay methods,
# 2012, PMID 22032202: ion exchange, at least 14 days at 4 °C and 4 days at -20 °C.
LITTLE_2012 = [*limits("hba1c", BLOOD, FRIDGE, 336), *limits("hba1c", BLOOD, FROZEN, 96)]
# Effects of storage temperature and time on stability of tacrolimus and cyclosporine A levels in
# whole blood, 2015, 10.1155/2015/956389: changed by 24 h at room temperature, ciclosporin at 4 °C.
KAPLAN_2015 = [
    *limits("tacrolimus", BLOOD, FRIDGE, 48),
    *limits("ciclosporin", BLOOD, FRIDGE, 0),
    *limits("tacrolimus ciclosporin", BLOOD, FROZEN, 744),
    *limits("tacrolimus ciclosporin", BLOOD, ROOM, 23),
]
# Expanding access to HIV viral load testing: a systematic review, 2014, PMC4249975; Stability of
# HIV RNA in plasma specimens stored at different temperatures, 2008, PMID 18754803.
HIV_RNA = [
    *limits("hiv-viral-load", BLOOD, ROOM, 72),
    *limits("hiv-viral-load", BLOOD, FRIDGE, 168),
    *limits("hiv-viral-load", SEPARATED, FRIDGE, 168),
    *limits("hiv-viral-load", SEPARATED, ROOM, 168),
]
# Stability of hepatitis C virus, HIV, and hepatitis B virus nucleic acids in plasma samples after
# long-term storage at -20 °C and -70 °C, 2011, PMC3165594: 1.2, 2.3 and 5 years at -20 °C.
BALERIOLA_2011 = [
    *limits("hcv-rna", SEPARATED, FROZEN, 1.2 * 8766),
    *limits("hiv-viral-load", SEPARATED, FROZEN, 2.3 * 8766),
    *limits("hbv-dna", SEPARATED, FROZEN, 5 * 8766),
]
# Pre-analytical stability of the CEA, CYFRA 21.1, NSE, CA125 and HE4 tumor markers, 2024,
# PMID 37302060.
TUMOUR_MARKERS_2024 = [
    *limits("cea ca-125", BLOOD, ROOM, 6),
    *limits("cea ca-125", SEPARATED, FRIDGE, 168),
]
# Stability of drug concentrations in plasma stored in serum separator blood collection tubes, 1988,
# PMID 3176115: 1 week refrigerated.
BAILEY_1988 = limits(
    "carbamazepine digoxin gentamicin lithium methotrexate phenobarbital phenytoin theophylline "
    "copper zinc",
    SEPARATED, FRIDGE, 168,
)  # fmt: skip
# Blood ammonia stability revisited, 2015, 10.29074/ascls.28.3.173; Short-term and long-term storage
# stability of heparin plasma ammonia, 2015, 10.1136/jclinpath-2014-202693: not kept cold or frozen.
AMMONIA = [
    *limits("ammonia", BLOOD, ROOM, 0.5),
    *limits("ammonia", SEPARATED, FRIDGE, 0),
    *limits("ammonia", SEPARATED, FROZEN, 0),
]
# Stability of pH, blood gas partial pressure, hemoglobin oxygen saturation fraction, and lactate
# concentration, 2020, 10.3343/alm.2020.40.6.448; Impact of storage temperature and time before
# analysis on electrolytes … COHb and MetHb results, 2023, 10.1515/cclm-2023-0162.
GASES = [
    *limits("blood-gas", BLOOD, ROOM, 0.5),
    *limits("calcium-ionised carboxyhaemoglobin methaemoglobin", BLOOD, ROOM, 1),
    *limits("lactate-gas", BLOOD, ROOM, 0.5),
    *limits("calcium-ionised carboxyhaemoglobin methaemoglobin lactate-gas", BLOOD, FRIDGE, 2),
]
# Effect of specimen storage on absolute CD4 counts, 1994, PMID 7496951: reliable to day 4.
CD4_1994 = limits("cd4", BLOOD, ROOM, 96)

PAPERS = [
    HENRIKSEN_2014, WILLIAMS_2024, DUPUY_2018, HEPARIN_GEL_6H, EVANS_2001, EVANS_2003, BLOOD_COUNT,
    H21_2024, TOULON_2017, KIM_2021, HU_2022, BONETTI_2016, LITTLE_2012, KAPLAN_2015, HIV_RNA,
    BALERIOLA_2011, TUMOUR_MARKERS_2024, BAILEY_1988, AMMONIA, GASES, CD4_1994,
]  # fmt: skip


def keeps_h(test: str, matrix: str, condition: str, **choices: str) -> float:
    """The shipped limit in hours."""
    chosen = {topic.replace("_", "-"): option for topic, option in choices.items()}
    for row in shipped().stability(test, chosen):
        if (row.matrix, row.condition) == (matrix, condition):
            return row.keeps_h
    raise AssertionError(f"{test} has no limit for {matrix} in {condition}")


@pytest.mark.parametrize(
    ("test", "matrix", "condition", "hours"), [row for paper in PAPERS for row in paper]
)
def test_no_limit_is_longer_than_a_paper_allows(
    test: str, matrix: str, condition: str, hours: float
):
    """Under the defaults; the papers are named above."""
    assert keeps_h(test, matrix, condition) <= hours


def test_the_papers_speak_of_many_analytes():
    """At least 80 tests have a limit that somebody read."""
    assert len({row[0] for paper in PAPERS for row in paper}) >= 80


# Topic, option, test, matrix, condition, hours: as the paper named beside it says.
OPTIONS = [
    ("potassium-whole-blood", "hours_10", "potassium", BLOOD, ROOM, 10),  # Henriksen 2014
    ("potassium-whole-blood", "hours_6", "potassium", BLOOD, ROOM, 6),  # heparin gel tubes, 6 h
    ("ldh-whole-blood", "hours_10", "ldh", BLOOD, ROOM, 10),  # Henriksen 2014
    ("ldh-whole-blood", "hours_7", "ldh", BLOOD, ROOM, 7),  # Williams 2024
    ("ldh-whole-blood", "hours_2", "ldh", BLOOD, ROOM, 2),  # heparin gel tubes: changed at 3 h
    ("phosphate-whole-blood", "hours_7", "phosphate", BLOOD, ROOM, 7),  # Williams 2024
    ("aptt-whole-blood", "hours_6", "aptt", BLOOD, ROOM, 6),  # CLSI H21, 2024
    ("aptt-whole-blood", "hours_8", "aptt", BLOOD, ROOM, 8),  # Toulon 2017
    ("esr-storage", "hours_6", "esr", BLOOD, ROOM, 6),  # PMC10930947, 2024
    ("esr-storage", "hours_6", "esr", BLOOD, FRIDGE, 36),  # PMC10930947, 2024
    ("esr-storage", "hours_8", "esr", BLOOD, ROOM, 8),  # 10.1080/00365513.2020.1786887
    ("esr-storage", "hours_8", "esr", BLOOD, FRIDGE, 24),  # 10.1080/00365513.2020.1786887
    ("hiv-rna-whole-blood", "hours_72", "hiv-viral-load", BLOOD, ROOM, 72),  # PMC4249975
    ("culture-delay", "hours_4", "culture-blood", BLOOD, ROOM, 4),  # J Infect 2025;91:106520
    ("culture-delay", "hours_24", "culture-blood", BLOOD, ROOM, 24),  # s12879-021-05872-8
    ("blood-gas-cooling", "ice_45", "blood-gas", BLOOD, FRIDGE, 0.75),  # Ann Lab Med 2020
]


@pytest.mark.parametrize(("topic", "option", "test", "matrix", "condition", "hours"), OPTIONS)
def test_where_papers_disagree_each_option_says_what_its_paper_says(
    topic: str, option: str, test: str, matrix: str, condition: str, hours: float
):
    """The disagreement is shown, and the laboratory chooses; the paper stands beside each row."""
    assert keeps_h(test, matrix, condition, **{topic: option}) == hours


def test_the_default_of_a_disagreement_is_the_shortest_limit():
    """Our own rule, no source: the cautious option is the one a laboratory starts with."""
    catalogue = shipped()
    limits_by: dict[tuple[str, str, str, str], dict[str, float]] = {}
    for row in catalogue.rows(Stability):
        if row.choice:
            topic, option = row.choice.split(":")
            key = (topic, row.test, row.matrix, row.condition)
            limits_by.setdefault(key, {})[option] = row.keeps_h
    assert len({key[0] for key in limits_by}) >= 8
    for (topic, *_), hours in limits_by.items():
        assert hours[catalogue.option(topic).option] == min(hours.values()), topic


def test_unseparated_blood_for_serum_or_plasma_is_never_frozen():
    """Common practice, no source: freezing bursts the cells."""
    catalogue = shipped()
    for code, test in catalogue.tests.items():
        if test.matrix in ("serum", "plasma", "serum_plasma"):
            assert keeps_h(code, BLOOD, FROZEN) == 0


def test_limits_and_spinning_agree():
    """Our own rule: no test must be spun later than unseparated blood keeps at room temperature."""
    catalogue = shipped()
    compared = 0
    for row in catalogue.rows(Handling):
        if row.need == "spin_within_min" and "ice_slurry" not in {
            need.need for need in catalogue.handling(row.test)
        }:
            chosen = dict([row.choice.split(":")]) if row.choice else {}
            kept = [
                limit.keeps_h
                for limit in catalogue.stability(row.test, chosen)
                if (limit.matrix, limit.condition) == (BLOOD, ROOM) and limit.keeps_h > 0
            ]
            assert all(row.value <= hours * 60 for hours in kept), row.test
            compared += len(kept)
    assert compared >= 5
