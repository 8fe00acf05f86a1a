"""
The charts of a report as SVG: black and grey, so that a printer without colours loses nothing.

Every axis of counts begins at zero; a period with nothing is a gap; few specimens are hollow marks;
a signal is a diamond.  The same report gives the same bytes.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from cubital.indicators.control import Chart
from cubital.indicators.drivers import Drivers, Effect
from cubital.indicators.funnel import FEW, INSIDE, Funnel
from cubital.indicators.letters import font_of, shown, width, wrapped
from cubital.indicators.placing import placed
from cubital.indicators.report_values import RateLine, Report, ShareLine, TimeLine
from cubital.indicators.say import period_label

SIZE_IN = (7.2, 3.3)
INK, GREY, LIGHT = "#000000", "#666666", "#aaaaaa"
TEXT, SMALL = 9.0, 7.5
SALT = "cubital"
POINTS = 72
MOST_LABELS = 13
LABEL_ROOM = 150.0
"""For the labels of the effects, in points."""


@dataclass(frozen=True, slots=True)
class Picture:
    """
    A chart, not drawn yet.

    Args:
        name: for an address: lower-case letters, digits and hyphens.
        title: shown above it.
        alt: what it shows, in a sentence.
        draw: puts it on axes.
    """

    name: str
    title: str
    alt: str
    draw: Callable[[Axes], None]


def charts(report: Report) -> dict[str, bytes]:
    """Every chart of a report as SVG, by name."""
    return {picture.name: svg(picture) for picture in pictures(report)}


def alts(report: Report) -> dict[str, str]:
    """What each chart shows, by the same names, for whoever does not see it."""
    return {picture.name: picture.alt for picture in pictures(report)}


def svg(picture: Picture) -> bytes:
    """A chart as SVG."""
    with mpl.rc_context({"svg.hashsalt": SALT, "svg.fonttype": "path"}):
        figure = figure_of(picture)
        FigureCanvasSVG(figure)
        out = io.BytesIO()
        figure.savefig(out, format="svg", metadata={"Date": None, "Title": picture.title})
    return out.getvalue()


def figure_of(picture: Picture) -> Figure:
    """A chart on a figure of its own."""
    figure = Figure(figsize=SIZE_IN)
    axes = figure.add_axes((0.11, 0.17, 0.86, 0.7))
    picture.draw(axes)
    return figure


def pictures(report: Report) -> tuple[Picture, ...]:
    """The charts that a report has something for."""
    found = []
    for share in report.shares:
        found += _share_pictures(share, report.period)
    for rate in report.rates:
        if rate.chart is not None and rate.chart.centre is not None:
            found.append(_rate_picture(rate, report.period))
    for time in report.times:
        if any(each.median is not None for _, each in time.series):
            found.append(_time_picture(time, report.period))
    if report.drivers is not None and report.drivers.effects:
        found.append(_driver_picture(report.drivers))
    return tuple(found)


def _share_pictures(line: ShareLine, period: str) -> list[Picture]:
    found = []
    if line.chart.centre:
        found.append(
            Picture(
                f"{line.what.code.lower()}-chart",
                f"{line.what.name} ({line.what.code})",
                _alt(line, f"Control chart by {period}"),
                lambda axes: _control(axes, line.chart, line.marks, period, percent=True),
            )
        )
    if line.funnel is not None and line.funnel.centre:
        names = {site.code: site.name for site in line.sites}
        drawn = line.funnel
        found.append(
            Picture(
                f"{line.what.code.lower()}-funnel",
                f"{line.what.name} ({line.what.code}), places",
                _alt(line, "Funnel of the places"),
                lambda axes: _funnel(axes, drawn, names),
            )
        )
    return found


def _alt(line: ShareLine | RateLine | TimeLine, kind: str) -> str:
    signals = "" if isinstance(line, TimeLine) else " ".join(
        sentence for sentence in line.sentences if sentence.startswith("Signal")
    )  # fmt: skip
    return f"{kind}. {line.what.name}. {line.sentences[0]} {signals}".strip()


def _rate_picture(line: RateLine, period: str) -> Picture:
    drawn = line.chart
    assert drawn is not None
    return Picture(
        f"{line.what.code.lower()}-chart",
        line.what.name,
        _alt(line, f"Control chart by {period}"),
        lambda axes: _control(axes, drawn, line.marks, period, percent=False),
    )


def _time_picture(line: TimeLine, period: str) -> Picture:
    return Picture(
        f"{line.what.code.lower()}-times",
        line.what.name,
        _alt(line, f"Median and 90th percentile by {period}"),
        lambda axes: _times(axes, line, period),
    )


def _driver_picture(found: Drivers) -> Picture:
    said = " ".join(effect.sentence for effect in found.effects)
    return Picture(
        "haemolysis-drivers",
        "What goes with haemolysis here",
        f"Odds with intervals. {said}",
        lambda axes: _forest(axes, found.effects),
    )


# ------------------------------------------------------------------ drawing


def _control(
    axes: Axes, chart: Chart, marks: frozenset[int], period: str, *, percent: bool
) -> None:
    """Points, centre and limits of a control chart."""
    scale = 100.0 if percent else 1.0
    at = np.arange(len(chart.points))
    values = _scaled([point.value for point in chart.points], scale)
    highs = _scaled([point.high for point in chart.points], scale)
    lows = _scaled([point.low for point in chart.points], scale)
    axes.plot(at, values, color=INK, linewidth=0.9, zorder=3)
    told = np.array([point.period in marks for point in chart.points], dtype=bool)
    axes.plot(at[~told], values[~told], "o", color=INK, markersize=3.5, zorder=4)
    axes.plot(at[told], values[told], "D", color=INK, markersize=7, zorder=5)
    axes.step(at, highs, where="mid", color=GREY, linewidth=0.9, linestyle="--")
    axes.step(at, lows, where="mid", color=GREY, linewidth=0.9, linestyle="--")
    assert chart.centre is not None
    axes.axhline(chart.centre * scale, color=GREY, linewidth=0.8)
    top = np.nanmax(np.concatenate((values, highs, [chart.centre * scale])))
    axes.set_ylim(0, top * 1.12 if top > 0 else 1)
    _periods(axes, [point.period for point in chart.points], period)
    kinds = {"none": "no limits", "exact": "exact limits"}
    kind = kinds.get(chart.kind, f"{chart.kind} chart")
    if chart.kind.endswith("′"):
        kind += f", σz {chart.sigma_z:.2f}"
    _said(axes, "%" if percent else "per draw", kind + (", provisional" * chart.provisional))


def _funnel(axes: Axes, funnel: Funnel, names: dict[str, str]) -> None:
    """Places over their number of specimens, inside the limits of the funnel."""
    assert funnel.centre is not None
    most = max(place.of for place in funnel.places)
    grid = np.unique(np.linspace(1, most * 1.08, 200).astype(int))
    highest = max(place.share or 0.0 for place in funnel.places)
    for outer, style in ((False, ":"), (True, "--")):
        pairs = [funnel.limits(int(n), outer=outer) for n in grid]
        for side in (0, 1):
            axes.plot(
                grid, [100 * pair[side] for pair in pairs], color=GREY, linewidth=0.9,
                linestyle=style,
            )  # fmt: skip
    axes.axhline(100 * funnel.centre, color=GREY, linewidth=0.8)
    shares = [place for place in funnel.places if place.share is not None]
    for place in shares:
        face = "white" if place.zone == FEW else INK
        mark, size = ("o", 4.5) if place.zone in (INSIDE, FEW) else ("D", 7)
        axes.plot(place.of, 100 * (place.share or 0.0), mark, color=INK, markerfacecolor=face,
                  markersize=size, zorder=4, clip_on=False)  # fmt: skip
    usual = funnel.limits(max(1, most // 4), outer=True)[1]
    axes.set_ylim(0, 100 * min(1.0, max(highest, usual, funnel.centre) * 1.15))
    axes.set_xlim(0, most * 1.08)
    _names(axes, [(p.of, 100 * (p.share or 0.0), names.get(p.code, p.code)) for p in shares])
    axes.set_xlabel("specimens or draws", font=font_of("x", SMALL))
    spread = f", spread between places counted in (φ {funnel.phi:.2f})" if funnel.estimated else ""
    _said(axes, "%", f"limits of 95 % (dotted) and 99.8 % (dashed){spread}")


def _names(axes: Axes, marks: list[tuple[int, float, str]]) -> None:
    """Names beside their marks, none on another and none on the axis."""
    at = axes.get_position()
    room = (at.width * SIZE_IN[0] * POINTS, at.height * SIZE_IN[1] * POINTS)
    wide, tall = axes.get_xlim()[1], axes.get_ylim()[1]
    points = [(x / wide * room[0], y / tall * room[1]) for x, y, _ in marks]
    boxes = placed(points, [width(name, SMALL) for _, _, name in marks], SMALL * 1.2, room)
    for (x, y, name), (point_x, point_y), box in zip(marks, points, boxes, strict=True):
        axes.annotate(
            shown(name),
            (x, y),
            xytext=(box.left - point_x, box.low - point_y + SMALL * 0.25),
            textcoords="offset points",
            font=font_of(name, SMALL),
            parse_math=False,
        )


def _times(axes: Axes, line: TimeLine, period: str) -> None:
    """Medians with their intervals, and 90th percentiles."""
    at = np.arange(len(line.series))
    each = [one for _, one in line.series]
    medians = _scaled([one.median for one in each], 1)
    lows, highs = (_scaled([getattr(one, end) for one in each], 1) for end in ("low", "high"))
    p90 = _scaled([one.p90 for one in each], 1)
    axes.plot(at, medians, "-o", color=INK, linewidth=0.9, markersize=3.5, zorder=4)
    axes.vlines(at, lows, highs, color=INK, linewidth=1.2)
    axes.plot(at, p90, "--^", color=GREY, linewidth=0.9, markersize=3.5)
    axes.set_ylim(0, max(1.0, float(np.nanmax(np.concatenate((medians, p90)))) * 1.12))
    _periods(axes, [p for p, _ in line.series], period)
    _said(axes, line.what.unit, "median with its interval (dots), 90th percentile (triangles)")


def _forest(axes: Axes, effects: tuple[Effect, ...]) -> None:
    """Odds on a scale of doublings."""
    axes.set_position((0.42, 0.17, 0.55, 0.7))
    rows = np.arange(len(effects))[::-1]
    axes.hlines(rows, [e.low for e in effects], [e.high for e in effects], color=INK, linewidth=1.2)
    axes.plot([e.odds for e in effects], rows, "s", color=INK, markersize=4.5)
    axes.axvline(1, color=GREY, linewidth=0.8)
    axes.set_xscale("log", base=2)
    ends = [0.5, 2.0, *(e.low for e in effects), *(e.high for e in effects)]
    axes.set_xlim(min(ends) * 0.85, max(ends) * 1.15)
    axes.xaxis.set_major_formatter(lambda value, _: f"{value:g}")
    labels = [
        "\n".join(wrapped(effect.sentence.partition(":")[0], SMALL, LABEL_ROOM))
        for effect in effects
    ]
    font = font_of(" ".join(labels), SMALL)
    axes.set_yticks(rows, [shown(label) for label in labels], font=font)
    _said(axes, "", "times the odds of haemolysis, with intervals")


def _scaled(values: list[float | None] | list[int | None], scale: float) -> np.ndarray:
    return np.array([np.nan if value is None else value * scale for value in values])


def _periods(axes: Axes, periods: list[int], by: str) -> None:
    step = max(1, -(-len(periods) // MOST_LABELS))
    at = list(range(len(periods) - 1, -1, -step))[::-1]
    labels = [period_label(periods[n], by) for n in at]
    axes.set_xticks(at, labels, font=font_of("2026", SMALL), rotation=30, ha="right")
    axes.set_xlim(-0.6, len(periods) - 0.4)


def _said(axes: Axes, unit: str, what: str) -> None:
    """Unit and kind above the axes; plain spines."""
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.tick_params(labelsize=SMALL, color=LIGHT)
    for label in axes.get_yticklabels():
        label.set_fontproperties(font_of(label.get_text(), SMALL))
    axes.text(
        0, 1.04, f"{unit}   {what}".strip(), transform=axes.transAxes,
        font=font_of(what, SMALL), color=INK, parse_math=False,
    )  # fmt: skip
