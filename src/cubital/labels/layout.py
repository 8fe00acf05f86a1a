"""
Where each line and symbol of a label stands: computed first, drawn after.

Name at the top left, identifiers below it, then when and by whom it was drawn, then what it is.
Text sizes are common practice, no source: a name of 9 down to 6 points, the rest 7 down to 5, and
4.6 on the labels of micro-tubes.  Lines that stand lower than the Data Matrix have the whole width.
A name that does not fit at its least size on two lines is shortened, and says so: ``…+7`` means
that seven more characters follow.
"""

from __future__ import annotations

from dataclasses import dataclass

from cubital.catalogue.model import LabelSize
from cubital.errors import LabelError
from cubital.labels import script, symbols
from cubital.labels.values import Label

MARGIN_MM = 1.0
GAP_MM = 0.5
NAME_POINTS = (9.0, 6.0)
TEXT_POINTS = (7.0, 5.0)
NAME_LEADING = 1.25
"""Room for the marks under Devanagari and Tamil letters."""
SMALL_TEXT_POINTS = (5.0, 4.6)
POINT_MM = 25.4 / 72
BARS_LEAST_MM = 5.0
BARS_MOST_MM = 8.0
GOES_ON = "…+"


@dataclass(frozen=True, slots=True)
class Line:
    """A line of text: baseline's left end in mm from the label's lower left corner."""

    text: str
    x_mm: float
    y_mm: float
    points: float
    weight: int
    part: str  # name, identifier, collected, container, tests, handling, accession


@dataclass(frozen=True, slots=True)
class Symbol:
    """A bar code or Data Matrix: lower left corner, module and outer measures in mm."""

    kind: str  # bars, matrix
    x_mm: float
    y_mm: float
    module_mm: float
    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class Layout:
    """A label, laid out."""

    lines: tuple[Line, ...]
    symbols: tuple[Symbol, ...]
    name_goes_on: bool


@dataclass(frozen=True, slots=True)
class _Text:
    text: str
    part: str
    weight: int


@dataclass(frozen=True, slots=True)
class _Way:
    """How hard the text is pressed together."""

    tests: bool  # the tests stand on the label
    flows: bool  # facts share lines
    name_lines: int
    leading: float
    points: tuple[float, float]


_WAYS = (
    _Way(tests=True, flows=False, name_lines=2, leading=1.18, points=TEXT_POINTS),
    _Way(tests=False, flows=False, name_lines=2, leading=1.18, points=TEXT_POINTS),
    _Way(tests=False, flows=True, name_lines=2, leading=1.1, points=TEXT_POINTS),
    _Way(tests=False, flows=True, name_lines=1, leading=1.05, points=SMALL_TEXT_POINTS),
)
"""What is given up in turn: nothing, the tests, a line for each fact, the name's second line."""

_STEPS = 8


def spoken(accession: str) -> str:
    """Group an accession number for the eye: ``OL 261125 0041 S``."""
    return f"{accession[:2]} {accession[2:8]} {accession[8:12]} {accession[12:]}"


def _fits(text: str, room_mm: float, points: float, weight: int) -> bool:
    return script.width(text, points, weight) * POINT_MM <= room_mm


def _break(text: str, room_mm: float, points: float) -> tuple[str, str]:
    """Cut at the last blank whose first part fits, else within the word."""
    cut = 0
    for position in range(1, len(text) + 1):
        if not _fits(text[:position].rstrip(), room_mm, points, script.BOLD):
            break
        cut = position
    blank = text.rfind(" ", 0, cut + 1)
    cut = blank if blank > 0 else cut
    return text[:cut].rstrip(), text[cut:].lstrip()


def name_lines(name: str, room_mm: float, points: float, most: int) -> tuple[tuple[str, ...], bool]:
    """Lay a name on at most ``most`` lines; the flag says that it goes on beyond them."""
    lines: list[str] = []
    rest = name
    while rest and len(lines) < most - 1:
        if _fits(rest, room_mm, points, script.BOLD):
            return (*lines, rest), False
        first, rest = _break(rest, room_mm, points)
        if not first:
            break
        lines.append(first)
    if _fits(rest, room_mm, points, script.BOLD):
        return (*lines, rest), False
    for kept in range(len(rest) - 1, -1, -1):
        short = f"{rest[:kept].rstrip()}{GOES_ON}{len(rest) - kept}"
        if _fits(short, room_mm, points, script.BOLD):
            return (*lines, short), True
    return (*lines, f"{GOES_ON}{len(rest)}"), True


def _pieces(label: Label, way: _Way) -> list[list[_Text]]:
    """What stands below the name: groups of pieces that may share a line."""
    number = _Text(spoken(label.accession), "accession", script.BOLD)
    known = [_Text(f"{c} {v}", "identifier", script.BOLD) for c, v in label.identifiers]
    when = [
        _Text(label.collected or "drawn ____-__-__ __:__", "collected", script.REGULAR),
        _Text(f"by {label.collector or '____'}", "collected", script.REGULAR),
    ]
    how = [_Text(" · ".join(label.handling), "handling", script.BOLD)] if label.handling else []
    what = _Text(label.container, "container", script.REGULAR)
    if way.flows:
        return [[number, *known, *when, what, *how]]
    groups = [[number], known, when, how, [what]]
    return [group for group in groups if group]


class _Page:
    """Lines going down a label: each knows how much room it has beside the Data Matrix."""

    def __init__(self, size: LabelSize, side_mm: float, leading: float) -> None:
        self.y = size.height_mm - MARGIN_MM
        self.lines: list[Line] = []
        self._inner = size.width_mm - 2 * MARGIN_MM
        self._side = side_mm
        self._matrix_bottom = size.height_mm - MARGIN_MM - side_mm
        self._leading = leading

    def room(self) -> float:
        """Width of the next line."""
        beside = self.y > self._matrix_bottom - GAP_MM
        return self._inner - self._side - GAP_MM if beside else self._inner

    def add(self, text: _Text, points: float) -> None:
        """Put a line below the others."""
        leading = max(self._leading, NAME_LEADING) if text.part == "name" else self._leading
        self.y -= points * POINT_MM * leading
        base = self.y + points * POINT_MM * (0.3 if text.part == "name" else 0.22)
        self.lines.append(Line(text.text, MARGIN_MM, base, points, text.weight, text.part))

    def flow(self, pieces: list[_Text], points: float) -> bool:
        """Put pieces side by side as far as they fit; False when one alone does not."""
        row: _Text | None = None
        for piece in pieces:
            if row is not None:
                weight = max(row.weight, piece.weight)
                joined = f"{row.text}  {piece.text}"
                if _fits(joined, self.room(), points, weight):
                    row = _Text(joined, row.part, weight)
                    continue
                self.add(row, points)
            if not _fits(piece.text, self.room(), points, piece.weight):
                return False
            row = piece
        if row is not None:
            self.add(row, points)
        return True

    def add_tests(self, tests: tuple[str, ...], points: float) -> None:
        """Name the tests as far as they fit, and how many more there are."""
        for count in range(len(tests), 0, -1):
            more = f" +{len(tests) - count}" if count < len(tests) else ""
            line = " ".join(tests[:count]) + more
            if _fits(line, self.room(), points, script.REGULAR):
                self.add(_Text(line, "tests", script.REGULAR), points)
                return


def lay_out(label: Label, size: LabelSize) -> Layout:
    """
    Lay a label out on its paper.

    Raises:
        LabelError: a character that no font has, or a paper too small for what a label must say.
    """
    strange = script.unprintable(label.name)
    if strange:
        raise LabelError(
            f"The name holds {' '.join(map(repr, strange))}, which no font here can print",
            label.accession,
            "Write the name as it stands in another script of the patient's papers.",
        )
    bar_module = symbols.bar_module_mm(label.accession, size.width_mm)
    for module, ways in ((bar_module, _WAYS[:-1]), (None, _WAYS)):
        for way in ways:
            for matrix in (symbols.MATRIX_MODULE_MM, symbols.MATRIX_MODULE_LEAST_MM):
                laid = _try(label, size, way, matrix, module)
                if laid is not None:
                    return laid
    raise LabelError(
        f"A label of {size.width_mm:g} × {size.height_mm:g} mm is too small for what it must say",
        label.accession,
        "Choose a larger label size.",
    )


def _try(
    label: Label,
    size: LabelSize,
    way: _Way,
    matrix_module_mm: float,
    bar_module_mm: float | None,
) -> Layout | None:
    side = symbols.matrix_side_mm(label.accession, matrix_module_mm)
    floor = MARGIN_MM + (BARS_LEAST_MM + GAP_MM if bar_module_mm else 0.0)
    if size.height_mm - MARGIN_MM - side < floor or size.width_mm < side + 3 * MARGIN_MM:
        return None
    for step in range(_STEPS + 1):
        share = step / _STEPS
        name_points = NAME_POINTS[0] + share * (NAME_POINTS[1] - NAME_POINTS[0])
        points = way.points[0] + share * (way.points[1] - way.points[0])
        page = _Page(size, side, way.leading)
        names, goes_on = name_lines(label.name, page.room(), name_points, way.name_lines)
        if goes_on and step < _STEPS:
            continue
        for name in names:
            page.add(_Text(name, "name", script.BOLD), name_points)
        if not all(page.flow(group, points) for group in _pieces(label, way)):
            continue
        if way.tests:
            page.add_tests(label.tests, points)
        if page.y >= floor:
            symbol = _symbols(label, size, side, matrix_module_mm, bar_module_mm, page.y)
            return Layout(tuple(page.lines), symbol, goes_on)
    return None


def _symbols(
    label: Label,
    size: LabelSize,
    side_mm: float,
    matrix_module_mm: float,
    bar_module_mm: float | None,
    text_bottom_mm: float,
) -> tuple[Symbol, ...]:
    corner = size.width_mm - MARGIN_MM - side_mm
    matrix_y = size.height_mm - MARGIN_MM - side_mm
    matrix = Symbol("matrix", corner, matrix_y, matrix_module_mm, side_mm, side_mm)
    if bar_module_mm is None:
        return (matrix,)
    height = min(BARS_MOST_MM, min(text_bottom_mm, matrix_y) - GAP_MM - MARGIN_MM)
    width = symbols.bars_width_mm(label.accession, bar_module_mm)
    x = (size.width_mm - width) / 2
    return matrix, Symbol("bars", x, MARGIN_MM, bar_module_mm, width, height)
