"""
Where each line and symbol of a label stands: computed first, drawn after.

Name at the top left, identifiers below it, then when and by whom it was drawn, then what it is.
Text sizes are common practice, no source: a name of 9 down to 6 points, the rest 7 down to 5.
A name that does not fit at its least size on two lines is shortened, and says so: ``…+7`` means
that seven more characters follow.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from cubital.catalogue.model import LabelSize
from cubital.errors import LabelError
from cubital.labels import script, symbols
from cubital.labels.values import Label

MARGIN_MM = 1.0
GAP_MM = 0.5
NAME_POINTS = (9.0, 6.0)
TEXT_POINTS = (7.0, 5.0)
LEADING = 1.18
POINT_MM = 25.4 / 72
BARS_LEAST_MM = 5.0
BARS_MOST_MM = 8.0
GOES_ON = "…+"

_WAYS = ((True, False, 2), (False, False, 2), (False, True, 2), (False, True, 1))
"""What is given up in turn: nothing, the tests, a line for each fact, the name's second line."""


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
    needed: bool = True


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


def _flow(pieces: list[_Text], room_mm: float, points: float) -> list[_Text]:
    """Put pieces side by side as far as they fit; a line with a bold piece is bold."""
    rows: list[_Text] = []
    for piece in pieces:
        if rows:
            weight = max(rows[-1].weight, piece.weight)
            joined = f"{rows[-1].text}  {piece.text}"
            if _fits(joined, room_mm, points, weight):
                rows[-1] = _Text(joined, rows[-1].part, weight)
                continue
        rows.append(piece)
    return rows


def _texts(label: Label, room_mm: float, points: float, *, tight: bool) -> list[_Text]:
    """What stands below the name; on a small label everything moves together."""
    drawn = label.collected or "drawn ____-__-__ __:__"
    by = f"by {label.collector}" if label.collector else "by ____"
    number = _Text(spoken(label.accession), "accession", script.BOLD)
    known = [_Text(f"{c} {v}", "identifier", script.BOLD) for c, v in label.identifiers]
    when = [_Text(text, "collected", script.REGULAR) for text in (drawn, by)]
    how = [_Text(" · ".join(label.handling), "handling", script.BOLD)] if label.handling else []
    what = _Text(label.container, "container", script.REGULAR)
    if tight:
        return _flow([number, *known, *when, what, *how], room_mm, points)
    texts = [
        number,
        *_flow(known, room_mm, points),
        *_flow(when, room_mm, points),
        *how,
        what,
    ]
    tests = ""
    for count in range(len(label.tests), 0, -1):
        more = f" +{len(label.tests) - count}" if count < len(label.tests) else ""
        tests = " ".join(label.tests[:count]) + more
        if _fits(tests, room_mm, points, script.REGULAR):
            break
    if tests:
        texts.append(_Text(tests, "tests", script.REGULAR, needed=False))
    return texts


def _sizes() -> Iterator[tuple[float, float]]:
    """Pairs of name and text size, from the largest to the smallest that may be printed."""
    steps = 8
    for step in range(steps + 1):
        share = step / steps
        yield (
            NAME_POINTS[0] + share * (NAME_POINTS[1] - NAME_POINTS[0]),
            TEXT_POINTS[0] + share * (TEXT_POINTS[1] - TEXT_POINTS[0]),
        )


def _place(
    texts: list[tuple[_Text, float]], x_mm: float, top_mm: float
) -> tuple[tuple[Line, ...], float]:
    lines = []
    y = top_mm
    for text, points in texts:
        y -= points * POINT_MM * LEADING
        lines.append(
            Line(text.text, x_mm, y + points * POINT_MM * 0.22, points, text.weight, text.part)
        )
    return tuple(lines), y


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
    inner = size.width_mm - 2 * MARGIN_MM
    bar_module = symbols.bar_module_mm(label.accession, size.width_mm)
    for with_bars in (True, False) if bar_module else (False,):
        for matrix_module in (symbols.MATRIX_MODULE_MM, symbols.MATRIX_MODULE_LEAST_MM):
            side = symbols.matrix_side_mm(label.accession, matrix_module)
            room = inner - side - 0.5
            if room <= 0:
                continue
            laid = _try(label, size, room, side, matrix_module, bar_module if with_bars else None)
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
    room_mm: float,
    side_mm: float,
    matrix_module_mm: float,
    bar_module_mm: float | None,
) -> Layout | None:
    top = size.height_mm - MARGIN_MM
    bars_mm = BARS_LEAST_MM if bar_module_mm else 0.0
    if side_mm + bars_mm + 2 * MARGIN_MM > size.height_mm:
        return None
    for full, tight, most in _WAYS:
        for name_points, text_points in _sizes():
            smallest = name_points == NAME_POINTS[1]
            names, goes_on = name_lines(label.name, room_mm, name_points, most)
            if goes_on and not smallest:
                continue
            below = _texts(label, room_mm, text_points, tight=tight)
            if not all(_fits(t.text, room_mm, text_points, t.weight) for t in below if t.needed):
                continue
            if not full:
                below = [t for t in below if t.needed]
            texts = [(_Text(n, "name", script.BOLD), name_points) for n in names]
            texts += [(t, text_points) for t in below]
            lines, bottom = _place(texts, MARGIN_MM, top)
            if bottom < MARGIN_MM + (bars_mm + GAP_MM if bars_mm else 0.0):
                continue
            return Layout(
                lines,
                _symbols(label, size, side_mm, matrix_module_mm, bar_module_mm, bottom),
                goes_on,
            )
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
