"""The lines of a report as a page shows them: figures in words, and a table behind every chart."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from cubital.catalogue import Catalogue
from cubital.desk.draw.page import Why, why
from cubital.finding import Reason
from cubital.indicators.ask import Quantiles
from cubital.indicators.control import Chart
from cubital.indicators.funnel import BEYOND, FEW, INSIDE, OUTER
from cubital.indicators.intervals import Interval
from cubital.indicators.report_values import Described, RateLine, Report, ShareLine, TimeLine
from cubital.indicators.say import number, percent, percent_range, period_label

ZONES = {
    INSIDE: "as the others, within chance",
    OUTER: "between the inner and outer limits",
    BEYOND: "beyond the outer limits",
    FEW: "too few to be compared",
}
CHANGES = {"more": "went up", "less": "went down"}
NOTHING = "nothing counted"
Cells = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table in words: its heads and its rows."""

    name: str
    heads: Cells
    rows: tuple[Cells, ...]


@dataclass(frozen=True, slots=True)
class Shown:
    """
    One indicator of the month.

    Args:
        what: in words.
        counted: ``3 of 412``.
        figure: the value, or why there is none.
        interval: in words, "" for none.
        few: too few for a share.
        nothing: nothing was counted.
        none_found: a share of which none was found, with nothing else to say.
        beside: published levels, each a sentence with its year.
        change: ``went up``, ``went down`` or "".
        signal: whether its control chart gives a signal this month.
        sentences: all that is to be said.
        charts: name and what it shows, with the table of the same figures.
        why: source in words.
    """

    what: Described
    counted: str
    figure: str
    interval: str
    few: bool
    nothing: bool
    none_found: bool
    beside: tuple[str, ...]
    change: str
    signal: bool
    sentences: tuple[str, ...]
    charts: tuple[tuple[str, str, tuple[Table, ...]], ...]
    why: Why


def shown(report: Report, alts: Mapping[str, str], catalogue: Catalogue) -> list[Shown]:
    """Every indicator of a report, the harmonised ones first."""
    found = [
        *(_share(line, report, alts, catalogue) for line in report.shares),
        *(_rate(line, report, alts, catalogue) for line in report.rates),
        *(_time(line, report, alts, catalogue) for line in report.times),
    ]
    return sorted(found, key=lambda each: not each.what.harmonised)


def source(what: Described, catalogue: Catalogue) -> Why:
    """An indicator's source in words."""
    return why(Reason("", what.source), catalogue)


def _share(line: ShareLine, report: Report, alts: Mapping[str, str], catalogue: Catalogue) -> Shown:
    code = line.what.code.lower()
    control = _control_table(line.chart, line.marks, report.period, share=True)
    tables = {f"{code}-chart": control, f"{code}-funnel": _places(line)}
    return Shown(
        what=line.what,
        counted=f"{line.bad:,} of {line.of:,}",
        figure=share_words(line.share, few=line.few),
        interval=interval_words(line.interval, few=line.few, of=line.of),
        few=line.few and line.of > 0,
        nothing=line.of == 0,
        none_found=line.of > 0 and line.bad == 0 and not (line.changed or line.signals),
        beside=tuple(each.sentence for each in line.beside) if line.of else (),
        change=CHANGES.get(line.changed or "", ""),
        signal=bool(line.signals),
        sentences=line.sentences,
        charts=_charts(tables, alts),
        why=source(line.what, catalogue),
    )


def _rate(line: RateLine, report: Report, alts: Mapping[str, str], catalogue: Catalogue) -> Shown:
    code = line.what.code.lower()
    tables = {}
    if line.chart is not None:
        control = _control_table(line.chart, line.marks, report.period, share=False)
        tables[f"{code}-chart"] = control
    return Shown(
        what=line.what,
        counted=f"{line.top:,} for {line.bottom:,}",
        figure=NOTHING if line.value is None else number(line.value),
        interval=_plain(line.interval),
        few=False,
        nothing=line.value is None,
        none_found=False,
        beside=(),
        change=CHANGES.get(line.changed or "", ""),
        signal=bool(line.signals),
        sentences=line.sentences,
        charts=_charts(tables, alts),
        why=source(line.what, catalogue),
    )


def _time(line: TimeLine, report: Report, alts: Mapping[str, str], catalogue: Catalogue) -> Shown:
    unit = line.what.unit
    tables = {f"{line.what.code.lower()}-times": _times_table(line, report.period)}
    return Shown(
        what=line.what,
        counted=f"{line.now.count:,}",
        figure=NOTHING if line.now.median is None else f"{line.now.median} {unit}",
        interval=_between(line.now, unit),
        few=False,
        nothing=line.now.median is None,
        none_found=False,
        beside=(),
        change=CHANGES.get(line.changed or "", ""),
        signal=False,
        sentences=line.sentences,
        charts=_charts(tables, alts),
        why=source(line.what, catalogue),
    )


def share_words(share: float | None, *, few: bool) -> str:
    """A share in percent, or why there is none."""
    if share is None:
        return NOTHING
    return "too few for a share" if few else percent(share)


def interval_words(interval: Interval, *, few: bool, of: int) -> str:
    """An interval of shares, "" where no share is told."""
    return "" if few or of == 0 else percent_range(interval)


def _plain(interval: Interval | None) -> str:
    return "" if interval is None else f"{number(interval.low)} to {number(interval.high)}"


def _between(each: Quantiles, unit: str) -> str:
    if each.low is None or each.high is None:
        return ""
    return f"{each.low} to {each.high} {unit}"


def _charts(
    tables: Mapping[str, Table], alts: Mapping[str, str]
) -> tuple[tuple[str, str, tuple[Table, ...]], ...]:
    return tuple((name, alts[name], (table,)) for name, table in tables.items() if name in alts)


def _control_table(chart: Chart, marks: frozenset[int], period: str, *, share: bool) -> Table:
    """The points of a control chart."""

    def words(value: float | None) -> str:
        if value is None:
            return "–"
        return percent(value) if share else number(value)

    rows = tuple(
        (
            period_label(point.period, period),
            f"{point.top:,} of {point.bottom:,}",
            words(point.value),
            words(point.low),
            words(point.high),
            "signal" if point.period in marks else "",
        )
        for point in chart.points
    )
    heads = (period.capitalize(), "Counted", "Value", "Lower limit", "Upper limit", "Signal")
    return Table(f"Centre {words(chart.centre)}", heads, rows)


def _places(line: ShareLine) -> Table:
    """The places of a funnel, in the order of their codes."""
    rows = tuple(
        (
            site.name,
            f"{site.bad:,} of {site.of:,}",
            share_words(site.share, few=site.few),
            interval_words(site.interval, few=site.few, of=site.of),
            ZONES.get(site.zone, ""),
        )
        for site in line.sites
    )
    return Table("Places", ("Place", "Counted", "Share", "Interval", "Beside the others"), rows)


def _times_table(line: TimeLine, period: str) -> Table:
    """The series of a time."""
    unit = line.what.unit

    def words(value: int | None) -> str:
        return "–" if value is None else f"{value} {unit}"

    rows = tuple(
        (
            period_label(at, period),
            f"{each.count:,}",
            words(each.median),
            _between(each, unit) or "–",
            words(each.p90),
        )
        for at, each in line.series
    )
    heads = (period.capitalize(), "Counted", "Median", "Its interval", "90th percentile")
    return Table("Times", heads, rows)
