"""
Text of a chart or page in a font that has its letters.

The fonts are those of the labels.  A letter that none of them has is shown as a question mark.
"""

from __future__ import annotations

import functools
import importlib.resources
from collections.abc import Iterator, Sequence
from pathlib import Path

from matplotlib.font_manager import FontProperties
from matplotlib.ft2font import FT2Font
from matplotlib.textpath import text_to_path

FAMILIES = (
    ("fontpkg_noto_sans", "files/NotoSans[wdth,wght].ttf"),
    ("fontpkg_noto_sans_devanagari", "files/NotoSansDevanagari[wdth,wght].ttf"),
    ("fontpkg_noto_sans_tamil", "files/NotoSansTamil[wdth,wght].ttf"),
    ("fontpkg_noto_sans_arabic", "files/NotoSansArabic[wdth,wght].ttf"),
)
UNKNOWN = "?"


@functools.cache
def _path(family: int) -> Path:
    package, name = FAMILIES[family]
    return Path(str(importlib.resources.files(package).joinpath(name)))


@functools.cache
def _letters(family: int) -> frozenset[int]:
    return frozenset(FT2Font(str(_path(family))).get_charmap())


def family_of(text: str) -> int:
    """The first family that has every letter, else the one that lacks fewest."""
    wanted = {ord(letter) for letter in text if not letter.isspace()}
    return min(range(len(FAMILIES)), key=lambda family: len(wanted - _letters(family)))


def shown(text: str) -> str:
    """The text with a question mark for every letter that its family lacks."""
    have = _letters(family_of(text))
    return "".join(c if c in " \n" or ord(c) in have else UNKNOWN for c in text)


def font_of(text: str, size: float) -> FontProperties:
    """The font of a text, in points."""
    return FontProperties(fname=str(_path(family_of(text))), size=size)


@functools.lru_cache(maxsize=8192)
def width(text: str, size: float) -> float:
    """How wide a text is, in points."""
    measured = text_to_path.get_text_width_height_descent(
        shown(text), font_of(text, size), ismath=False
    )
    return float(measured[0])


def wrapped(text: str, size: float, room: float) -> Iterator[str]:
    """Lines about as wide as ``room`` points and no wider; a word that is wider is cut."""
    gap = width("a a", size) - 2 * width("a", size)
    line, reached = "", 0.0
    for word in _pieces(text.split(), size, room):
        wide = width(word, size)
        if line and reached + gap + wide > room:
            yield line
            line, reached = word, wide
        else:
            line = f"{line} {word}" if line else word
            reached += wide + (gap if reached else 0.0)
    if line:
        yield line


def _pieces(words: Sequence[str], size: float, room: float) -> Iterator[str]:
    for word in words:
        rest = word
        while width(rest, size) > room and len(rest) > 1:
            end = next(n for n in range(len(rest) - 1, 0, -1) if width(rest[:n], size) <= room)
            yield rest[:end]
            rest = rest[end:]
        yield rest
