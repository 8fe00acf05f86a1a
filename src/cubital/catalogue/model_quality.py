"""The rows that the indicators read: what is counted, published levels, run rules, age groups."""

from __future__ import annotations

from dataclasses import dataclass

from cubital.catalogue.row import Row


@dataclass(frozen=True, slots=True, kw_only=True)
class Indicator(Row):
    """A quality indicator, with its numerator and denominator in words."""

    FILE = "indicators.csv"
    KEY = ("indicator",)
    indicator: str  # Pre-HemR of the harmonised list; desk-… of this desk alone
    name: str
    numerator: str
    denominator: str
    kind: str  # share, rate, ratio, time
    unit: str = ""  # what one of the denominator is called; of a time: s or min


@dataclass(frozen=True, slots=True, kw_only=True)
class IndicatorReason(Row):
    """
    A reason of a refusal, remark or recollection, and an indicator in which it counts.

    Beside ``reception_rules.csv``, whose rules name their indicator themselves.
    """

    FILE = "indicator_reasons.csv"
    KEY = ("reason", "indicator")
    reason: str
    indicator: str


@dataclass(frozen=True, slots=True, kw_only=True)
class IndicatorLevel(Row):
    """
    A published level of performance, in percent.

    ``high``: at most so much is a high performance; ``low``: more than so much is a low one;
    ``p25``, ``p50``, ``p75``: quartiles of the laboratories of a survey.
    """

    FILE = "indicator_levels.csv"
    KEY = ("indicator", "survey", "level")
    indicator: str
    survey: str  # what it is called in a sentence
    level: str
    percent: float
    year: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RunRule(Row):
    """
    When points of a control chart are taken for a signal.

    ``beyond``: so many of so many points in a row lie more than so many standard deviations from
    the centre, on one side; ``side``: all lie on one side; ``trend``: all rise, or all fall.
    """

    FILE = "run_rules.csv"
    KEY = ("rule", "choice")
    rule: str
    choice: str = ""
    name: str
    kind: str  # beyond, side, trend
    points: int
    of_points: int
    beyond_sd: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AgeGroup(Row):
    """A group of ages in which the indicators are counted."""

    FILE = "age_groups.csv"
    KEY = ("code",)
    code: str
    name: str
    age_from_days: int
    age_to_days: int


QUALITY_ROWS: tuple[type[Row], ...] = (
    Indicator,
    IndicatorReason,
    IndicatorLevel,
    RunRule,
    AgeGroup,
)
