"""
Published levels of performance beside a figure, each with its year.
"""

from __future__ import annotations

from dataclasses import dataclass

from cubital.catalogue import Catalogue
from cubital.catalogue.model_quality import IndicatorLevel
from cubital.indicators.intervals import Interval

HIGH, MEDIUM, LOW = "high", "medium", "low"
QUARTILES = ("p25", "p50", "p75")


@dataclass(frozen=True, slots=True)
class Beside:
    """
    A published level beside a share.

    Args:
        survey: what it is called.
        year: of it.
        sentence: what it says of the share.
        levels: the levels that the interval of the share reaches, best first; () for a survey.
        source: key of the source.
    """

    survey: str
    year: int
    sentence: str
    levels: tuple[str, ...]
    source: str


def beside(
    indicator: str, share: float | None, interval: Interval, catalogue: Catalogue
) -> tuple[Beside, ...]:
    """
    What published levels say of a share.

    Args:
        indicator: its code.
        share: None where nothing was counted; the levels are shown all the same.
        interval: of the share.
        catalogue: with the levels.
    """
    surveys: dict[str, dict[str, IndicatorLevel]] = {}
    for row in catalogue.rows(IndicatorLevel):
        if row.indicator == indicator:
            surveys.setdefault(row.survey, {})[row.level] = row
    found = []
    for survey, rows in surveys.items():
        if HIGH in rows and LOW in rows:
            found.append(_specification(survey, rows, share, interval))
        elif all(name in rows for name in QUARTILES):
            found.append(_survey(survey, rows, share))
    return tuple(found)


def level_of(share: float, high: float, low: float) -> str:
    """High at most ``high``, low above ``low``, medium between; shares and limits alike."""
    if share <= high:
        return HIGH
    return LOW if share > low else MEDIUM


def _specification(
    survey: str, rows: dict[str, IndicatorLevel], share: float | None, interval: Interval
) -> Beside:
    high, low = rows[HIGH], rows[LOW]
    text = (
        f"{survey} of {high.year}: high performance up to {high.percent:g} %, low above "
        f"{low.percent:g} %."
    )
    if share is None:
        return Beside(survey, high.year, text, (), high.source)
    ends = [
        level_of(end, high.percent / 100, low.percent / 100)
        for end in (interval.low, share, interval.high)
    ]
    reached = _span(tuple(name for name in (HIGH, MEDIUM, LOW) if name in ends))
    here = ends[1]
    others = [name for name in reached if name != here]
    text += f" This is {here} performance"
    text += f", though the interval reaches {' and '.join(others)}." if others else "."
    return Beside(survey, high.year, text, reached, high.source)


def _span(reached: tuple[str, ...]) -> tuple[str, ...]:
    """From the best to the worst, with what lies between."""
    return (HIGH, MEDIUM, LOW) if HIGH in reached and LOW in reached else reached


def _survey(survey: str, rows: dict[str, IndicatorLevel], share: float | None) -> Beside:
    quarter, half, most = (rows[name] for name in QUARTILES)
    text = (
        f"{survey}, published {half.year}: half of the laboratories had at most {half.percent:g} %"
        f" (quartiles {quarter.percent:g} % and {most.percent:g} %)."
    )
    if share is not None:
        text += f" This lies {_among(share * 100, quarter.percent, half.percent, most.percent)}."
    return Beside(survey, half.year, text, (), half.source)


def _among(percent: float, quarter: float, half: float, most: float) -> str:
    if percent <= quarter:
        return "within the best quarter"
    if percent <= half:
        return "within the better half"
    return "in the third quarter" if percent <= most else "in the last quarter"
