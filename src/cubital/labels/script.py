"""
Text in any script as outlines on a page.

A patient's name decides whose blood it is, so it is shaped properly (HarfBuzz), whatever the
script, and drawn as outlines: no printer has to own a font.  Fonts are the Noto families from
their packages; the first family that has a character draws it.
"""

from __future__ import annotations

import functools
import importlib.resources
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass

import uharfbuzz as hb
from reportlab.pdfgen.canvas import Canvas

FAMILIES: tuple[tuple[str, str], ...] = (
    ("fontpkg_noto_sans", "files/NotoSans[wdth,wght].ttf"),
    ("fontpkg_noto_sans_devanagari", "files/NotoSansDevanagari[wdth,wght].ttf"),
    ("fontpkg_noto_sans_tamil", "files/NotoSansTamil[wdth,wght].ttf"),
    ("fontpkg_noto_sans_arabic", "files/NotoSansArabic[wdth,wght].ttf"),
    ("justmytype_intl_cjk", "fonts/ofl/notosanssc/NotoSansSC[wght].ttf"),
    ("justmytype_intl_cjk", "fonts/ofl/notosanstc/NotoSansTC[wght].ttf"),
    ("justmytype_intl_cjk", "fonts/ofl/notosansjp/NotoSansJP[wght].ttf"),
    ("justmytype_intl_cjk", "fonts/ofl/notosanskr/NotoSansKR[wght].ttf"),
)

REGULAR, BOLD = 450, 700
"""Weights; a little over regular, since thermal printers thin their strokes."""

_RIGHT_TO_LEFT = ("R", "AL")
_STICKS = ("Mn", "Me", "Mc", "Cf")
"""General categories that belong to the character before them."""


@functools.cache
def _face(family: int) -> hb.Face:
    package, path = FAMILIES[family]
    file = importlib.resources.files(package).joinpath(path)
    return hb.Face(hb.Blob(file.read_bytes()))


@functools.cache
def _font(family: int, weight: int) -> hb.Font:
    font = hb.Font(_face(family))
    font.set_variations({"wght": weight})
    return font


@functools.cache
def _family_of(character: str) -> int | None:
    for family in range(len(FAMILIES)):
        if _font(family, REGULAR).get_nominal_glyph(ord(character)):
            return family
    return None


@dataclass(frozen=True, slots=True)
class _Run:
    text: str
    family: int
    backwards: bool


def unprintable(text: str) -> tuple[str, ...]:
    """Give the characters that no family has, each once, in order."""
    seen = dict.fromkeys(c for c in text if not c.isspace() and _family_of(c) is None)
    return tuple(c for c in seen if unicodedata.category(c) != "Cf")


def _runs(text: str) -> Iterator[_Run]:
    """Cut a line where the family or the direction changes; marks stay with their letter."""
    start, family, backwards = 0, 0, False
    for position, character in enumerate(text):
        kind = unicodedata.bidirectional(character)
        if unicodedata.category(character) in _STICKS and position:
            continue
        if character.isspace() or kind in ("WS", "ON", "CS", "ES"):
            here, back = (family, backwards) if position else (0, False)
            if _font(here, REGULAR).get_nominal_glyph(ord(character)) is None:
                here, back = _family_of(character) or 0, backwards
        else:
            here, back = _family_of(character) or 0, kind in _RIGHT_TO_LEFT
        if (here, back) != (family, backwards):
            if position > start:
                yield _Run(text[start:position], family, backwards)
            start, family, backwards = position, here, back
    if start < len(text):
        yield _Run(text[start:], family, backwards)


def _visual(text: str) -> list[_Run]:
    """Order the runs as they stand on paper: the first strong character decides the line."""
    runs = list(_runs(text))
    strong = next(
        (k for k in map(unicodedata.bidirectional, text) if k in ("L", *_RIGHT_TO_LEFT)), "L"
    )
    return runs[::-1] if strong in _RIGHT_TO_LEFT else runs


def _shape(run: _Run, weight: int) -> tuple[hb.Font, hb.Buffer]:
    font = _font(run.family, weight)
    buffer = hb.Buffer()
    buffer.add_str(run.text)
    buffer.guess_segment_properties()
    buffer.direction = "rtl" if run.backwards else "ltr"
    hb.shape(font, buffer)
    return font, buffer


@functools.lru_cache(maxsize=4096)
def width(text: str, size: float, weight: int = REGULAR) -> float:
    """Width of a line in points at ``size`` points."""
    total = 0.0
    for run in _visual(text):
        font, buffer = _shape(run, weight)
        total += sum(p.x_advance for p in buffer.glyph_positions) * size / font.face.upem
    return total


class _Outline:
    """The pen that HarfBuzz draws a glyph with, onto a reportlab path."""

    def __init__(self, canvas: Canvas, x: float, y: float, scale: float) -> None:
        self.path = canvas.beginPath()
        self._x, self._y, self._scale = x, y, scale
        self._at = (0.0, 0.0)

    def _on_page(self, point: tuple[float, float]) -> tuple[float, float]:
        return self._x + point[0] * self._scale, self._y + point[1] * self._scale

    def moveTo(self, point: tuple[float, float]) -> None:  # noqa: N802 - the pen protocol's names
        self._at = point
        self.path.moveTo(*self._on_page(point))

    def lineTo(self, point: tuple[float, float]) -> None:  # noqa: N802
        self._at = point
        self.path.lineTo(*self._on_page(point))

    def curveTo(self, *points: tuple[float, float]) -> None:  # noqa: N802
        one, two, end = points
        self._at = end
        self.path.curveTo(*self._on_page(one), *self._on_page(two), *self._on_page(end))

    def qCurveTo(self, *points: tuple[float, float]) -> None:  # noqa: N802
        """One off-curve point at a time: a quadratic is a cubic with its arms at two thirds."""
        control, end = points
        start = self._at
        one = tuple(s + 2 / 3 * (c - s) for s, c in zip(start, control, strict=True))
        two = tuple(e + 2 / 3 * (c - e) for e, c in zip(end, control, strict=True))
        self.curveTo((one[0], one[1]), (two[0], two[1]), end)

    def closePath(self) -> None:  # noqa: N802
        self.path.close()

    def endPath(self) -> None:  # noqa: N802
        """Nothing is left open in a font."""


def draw(
    canvas: Canvas, x: float, y: float, text: str, size: float, weight: int = REGULAR
) -> float:
    """Draw a line with its baseline's left end at (x, y) points; give its width."""
    at = x
    for run in _visual(text):
        font, buffer = _shape(run, weight)
        scale = size / font.face.upem
        for glyph, place in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
            pen = _Outline(canvas, at + place.x_offset * scale, y + place.y_offset * scale, scale)
            font.draw_glyph_with_pen(glyph.codepoint, pen)
            canvas.drawPath(pen.path, stroke=0, fill=1, fillMode=1)
            at += place.x_advance * scale
    return at - x
