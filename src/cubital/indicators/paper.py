"""
The report of a month as a PDF to be printed: A4, black and grey.

Headlines and remarks first, then one table of every figure, then each indicator with its sentences
and charts, at last the cautions and the edition of the tables.  The same report gives the same
bytes.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, field

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from cubital.indicators.letters import font_of, shown, wrapped
from cubital.indicators.plots import Picture, pictures
from cubital.indicators.report_values import RateLine, Report, ShareLine, TimeLine
from cubital.indicators.say import number, percent, percent_range

WIDTH, HEIGHT = 595.0, 842.0
MARGIN = 48.0
TITLE, HEAD, TEXT, SMALL = 17.0, 11.5, 9.0, 7.5
LEADING = 1.42
CHART_HEIGHT = 118.0
COLUMNS = (0.0, 150.0, 236.0, 284.0, 412.0)
"""Left edges of the table's columns: indicator, counted, figure, interval, month before."""
Line = ShareLine | RateLine | TimeLine


def report_pdf(report: Report) -> bytes:
    """The report as a PDF."""
    with mpl.rc_context({"pdf.fonttype": 42}):
        paper = _Paper(report.title)
        _front(paper, report)
        _table(paper, report)
        _indicators(paper, report)
        _end(paper, report)
        return paper.pdf()


@dataclass(slots=True)
class _Paper:
    """Pages that fill from top to bottom; ``y`` is where the next line goes, in points."""

    title: str
    pages: list[Figure] = field(default_factory=list)
    y: float = 0.0

    def page(self) -> Figure:
        """The page under way."""
        if not self.pages:
            self.turn()
        return self.pages[-1]

    def turn(self) -> None:
        """Begin a page."""
        figure = Figure(figsize=(WIDTH / 72, HEIGHT / 72))
        self.pages.append(figure)
        self.y = HEIGHT - MARGIN
        self.put(f"{self.title}, page {len(self.pages)}", MARGIN, MARGIN / 2, SMALL)

    def room(self, height: float) -> None:
        """Turn the page where so much does not fit any more."""
        if not self.pages or self.y - height < MARGIN:
            self.turn()

    def put(self, text: str, x: float, y: float, size: float) -> None:
        """One line of text with its left end at a point."""
        self.page().text(
            x / WIDTH, y / HEIGHT, shown(text), font=font_of(text, size), parse_math=False
        )

    def say(self, text: str, size: float = TEXT, indent: float = 0.0, after: float = 2.0) -> None:
        """A paragraph."""
        for line in wrapped(text, size, WIDTH - 2 * MARGIN - indent):
            self.room(size * LEADING)
            self.y -= size * LEADING
            self.put(line, MARGIN + indent, self.y, size)
        self.y -= after

    def row(self, cells: Sequence[str], size: float = SMALL) -> None:
        """A row of the table; long cells wrap."""
        edges = [*COLUMNS, WIDTH - 2 * MARGIN]
        columns = [
            list(wrapped(cell, size, edges[n + 1] - edges[n] - 6)) for n, cell in enumerate(cells)
        ]
        height = max(map(len, columns)) * size * LEADING
        self.room(height)
        for n, lines in enumerate(columns):
            for k, line in enumerate(lines):
                self.put(line, MARGIN + edges[n], self.y - (k + 1) * size * LEADING, size)
        self.y -= height + 2

    def rule(self) -> None:
        """A thin line across the page."""
        self.room(4)
        axes = self.axes(self.y - 2, 0.0, 0.0)
        axes.axhline(0, color="#aaaaaa", linewidth=0.6)
        axes.set_axis_off()
        self.y -= 5

    def axes(self, bottom: float, height: float, inset: float) -> Axes:
        """Axes across the page."""
        return self.page().add_axes(
            (
                (MARGIN + inset) / WIDTH,
                bottom / HEIGHT,
                (WIDTH - 2 * MARGIN - inset) / WIDTH,
                max(height, 0.5) / HEIGHT,
            )
        )

    def chart(self, picture: Picture) -> None:
        """A chart under the text so far."""
        self.room(CHART_HEIGHT + 46)
        self.y -= CHART_HEIGHT + 20
        axes = self.axes(self.y, CHART_HEIGHT, 28)
        place = axes.get_position()
        picture.draw(axes)
        if axes.get_position().bounds != place.bounds:  # it wants more room at the left
            axes.set_position((0.36, place.y0, 1 - MARGIN / WIDTH - 0.36, place.height))
        self.y -= 34

    def pdf(self) -> bytes:
        """All pages."""
        out = io.BytesIO()
        with PdfPages(out, metadata={"CreationDate": None, "Title": self.title}) as pages:
            for figure in self.pages:
                pages.savefig(figure)
        return out.getvalue()


def _front(paper: _Paper, report: Report) -> None:
    paper.turn()
    paper.say(report.title, TITLE, after=6)
    paper.say(", ".join(name for _, name in report.sites) or "No place has anything on record.")
    paper.rule()
    for sentence in report.headlines:
        paper.say(sentence, HEAD, after=3)
    if report.findings:
        paper.rule()
        paper.say("To be known of the figures", HEAD)
        for finding in report.findings:
            paper.say(f"– {finding.sentence}", indent=8)


def _table(paper: _Paper, report: Report) -> None:
    paper.rule()
    paper.room(80)
    paper.row(("Indicator", "Counted", "Figure", "Interval", "Month before"), TEXT)
    paper.rule()
    for share in report.shares:
        paper.row(_share_cells(share))
    for rate in report.rates:
        paper.row(_rate_cells(rate))
    for time in report.times:
        paper.row(_time_cells(time))


def _share_cells(line: ShareLine) -> tuple[str, ...]:
    name = f"{line.what.name} ({line.what.code})" if line.what.harmonised else line.what.name
    bad, of = line.before
    before = (
        f"{percent(bad / of)} ({bad:,} of {of:,})" if of and not line.few else f"{bad:,} of {of:,}"
    )
    if line.few or line.share is None:
        return name, f"{line.bad:,} of {line.of:,}", "too few" if line.of else "–", "–", before
    return (
        name,
        f"{line.bad:,} of {line.of:,}",
        percent(line.share),
        f"{percent_range(line.interval)}, {line.sigma_words}",
        before,
    )


def _rate_cells(line: RateLine) -> tuple[str, ...]:
    span = line.interval
    return (
        line.what.name,
        f"{line.top:,} / {line.bottom:,}",
        "–" if line.value is None else number(line.value),
        "–" if span is None else f"{number(span.low)} to {number(span.high)}",
        "–" if line.before is None else number(line.before),
    )


def _time_cells(line: TimeLine) -> tuple[str, ...]:
    now, before, unit = line.now, line.before, line.what.unit
    return (
        line.what.name,
        f"{now.count:,}",
        "–" if now.median is None else f"{now.median:,} {unit}",
        "–" if now.low is None else f"{now.low:,} to {now.high:,} {unit}",
        "–" if before.median is None else f"{before.median:,} {unit}",
    )


def _indicators(paper: _Paper, report: Report) -> None:
    drawn: dict[str, list[Picture]] = {}
    for picture in pictures(report):
        drawn.setdefault(picture.name.rpartition("-")[0], []).append(picture)
    for line in report.lines:
        charts = drawn.get(line.what.code.lower(), [])
        if charts or _found(line):
            paper.rule()
            paper.room(60 + CHART_HEIGHT * bool(charts))
            paper.say(f"{line.what.name} ({line.what.code})", HEAD)
            for sentence in line.sentences:
                paper.say(sentence)
            for picture in charts:
                paper.chart(picture)
    if report.drivers is not None:
        paper.rule()
        paper.room(60)
        paper.say("What goes with haemolysis here, over twelve months", HEAD)
        for effect in report.drivers.effects:
            paper.say(effect.sentence)
        for sentence in (report.drivers.refused, *report.drivers.sentences):
            if sentence:
                paper.say(sentence)
        for picture in drawn.get("haemolysis", []):
            paper.chart(picture)


def _found(line: Line) -> bool:
    """Whether there is more to say than its row in the table does."""
    return isinstance(line, ShareLine) and line.bad > 0


def _end(paper: _Paper, report: Report) -> None:
    paper.rule()
    for sentence in report.cautions:
        paper.say(sentence)
    paper.say(
        f"Counted by {report.engine} under the tables of edition {report.edition}."
        " Numerators, denominators, levels and rules with their sources: docs/indicators.md and"
        " cubital indicators list.",
        SMALL,
    )
