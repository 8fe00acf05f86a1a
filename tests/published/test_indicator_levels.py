"""
Published levels of the indicators.

Kim S-M and others, J Lab Med Qual Assur 2024;46:145, Table 2 (read): the IFCC quality
specifications (working group of 2017, quoted there) and the quartiles of 42 Korean laboratories.
"""

import pytest

from cubital.catalogue import shipped
from cubital.catalogue.model_quality import Indicator, IndicatorLevel
from cubital.indicators.levels import HIGH, LOW, MEDIUM, level_of

TABLE_2 = {
    "Pre-MisS": (0, 0.04, 0.001, 0.002, 0.006),
    "Pre-HemV": (0.11, 1.105, 0.129, 0.309, 0.832),
    "Pre-HemI": (0.69, 3.23, 0.100, 0.546, 2.131),
    "Pre-HemR": (0.049, 0.882, 0.007, 0.197, 0.712),
    "Pre-InsV": (0.02, 0.14, 0.017, 0.043, 0.085),
    "Pre-SaAnt": (0.07, 0.77, 0.046, 0.292, 0.537),
    "Pre-Clot": (0.08, 0.402, 0.085, 0.299, 0.432),
    "Pre-WroCo": (0.01, 0.024, 0.004, 0.014, 0.022),
    "Out-RecLab": (None, None, 0.000, 0.003, 0.030),
}
"""High, low, 25th, 50th, 75th percentile, in percent."""
NAMES = ("high", "low", "p25", "p50", "p75")


def level(code: str, name: str) -> IndicatorLevel | None:
    """A row of the table."""
    rows = shipped().rows(IndicatorLevel)
    return next((r for r in rows if (r.indicator, r.level) == (code, name)), None)


@pytest.mark.parametrize("code", sorted(TABLE_2))
def test_the_table_is_that_of_the_paper(code: str):
    """Every value, with its year and a source that is published."""
    for name, percent in zip(NAMES, TABLE_2[code], strict=True):
        row = level(code, name)
        if percent is None:
            assert row is None
            continue
        assert row is not None
        assert row.percent == percent
        assert row.year == (2017 if name in ("high", "low") else 2024)
        assert shipped().sources[row.source].basis == "published"


def test_nothing_else_is_called_published():
    """The shipped table holds these values and no others."""
    values = sum(percent is not None for row in TABLE_2.values() for percent in row)
    assert len(shipped().rows(IndicatorLevel)) == values


def test_the_middle_laboratory_of_the_survey_reaches_medium_or_better():
    """By the specifications; of clotted samples the last quarter of the laboratories is low."""
    for code, (high, low, *quartiles) in TABLE_2.items():
        if high is None or low is None:
            continue
        best, middle, worst = (level_of(percent, high, low) for percent in quartiles)
        assert {best, middle} <= {HIGH, MEDIUM}, code
        assert (worst == LOW) == (code == "Pre-Clot")


def test_codes_of_the_harmonised_list():
    """As the working group names them, from memory where no page was read."""
    codes = {row.indicator for row in shipped().rows(Indicator)}
    assert {
        "Pre-MisR", "Pre-MisS", "Pre-WroTy", "Pre-WroCo", "Pre-InsV", "Pre-SaAnt", "Pre-HemV",
        "Pre-HemI", "Pre-HemR", "Pre-Clot", "Pre-NotRec", "Pre-DamS", "Pre-InTem", "Pre-ExcTim",
        "Pre-NotSt", "Pre-Cont", "Pre-RejS", "Out-RecLab",
    } <= codes  # fmt: skip
    assert shipped().number("indicator_haemolysis_mg_l") == 500  # 0.5 g/L, Table 1
