"""How values are said on a page: millilitres, ages, codes as words. Decides nothing about blood."""

from __future__ import annotations

from datetime import date

UL_PER_ML = 1000
G_PER_KG = 1000
MM_PER_CM = 10
SMALL_ML, LARGE_ML = 10, 100  # below: two decimals of a mL; from: none


def ml(volume_ul: int) -> str:
    """
    Microlitres as millilitres, as exact as a hand can pour: ``0.25``, ``2.7``, ``91.3``, ``5330``.
    """
    volume = volume_ul / UL_PER_ML
    decimals = 2 if volume < SMALL_ML else 1 if volume < LARGE_ML else 0
    text = f"{volume:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if decimals else text


def kg(weight_g: int) -> str:
    """Grams as kilograms."""
    return f"{weight_g / G_PER_KG:.3f}".rstrip("0").rstrip(".")


def cm(height_mm: int) -> str:
    """Millimetres as centimetres."""
    return f"{height_mm / MM_PER_CM:.1f}".removesuffix(".0")


def plain(code: str) -> str:
    """A code as words: ``infusion_running`` becomes ``infusion running``."""
    return code.replace("_", " ").replace("-", " ")


def counted(number: int, one: str, many: str = "") -> str:
    """``1 tube``, ``2 tubes``."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def age(birth: date | None, on: date) -> str:
    """An age as people say it: days to a month, months to two years, then years."""
    if birth is None:
        return "age unknown"
    days = (on - birth).days
    months = (on.year - birth.year) * 12 + on.month - birth.month - (on.day < birth.day)
    if days < 0:
        return "not born yet"
    if months < 1:
        return counted(days, "day")
    if months < 24:
        return counted(months, "month")
    return counted(months // 12, "year")


def hours(value: float) -> str:
    """How long something keeps: ``4 h``, ``36 h``, ``7 days``."""
    days, rest = divmod(value, 24)
    return counted(int(days), "day") if days >= 2 and not rest else f"{value:g} h"


def seconds(value: float) -> str:
    """A time estimate: ``35 s``, ``1 min 20 s``."""
    whole = round(value)
    minutes, rest = divmod(whole, 60)
    return f"{minutes} min {rest:02d} s" if minutes else f"{rest} s"


WASTE_SCHEMES = {
    "local": "the local custom",
    "who_2014": "the WHO's colours of 2014",
    "india_2016": "the Indian rules of 2016",
}


def waste_scheme(code: str) -> str:
    """By whose rules waste is sorted, in words; a laboratory's own scheme by its code."""
    return WASTE_SCHEMES.get(code, plain(code))
