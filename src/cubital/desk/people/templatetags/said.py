"""Filters that say values as people do; see :mod:`cubital.desk.words`."""

from __future__ import annotations

from datetime import date

from django import template

from cubital.desk import words

register = template.Library()
register.filter("ml", words.ml)
register.filter("kg", words.kg)
register.filter("cm", words.cm)
register.filter("plain", words.plain)
register.filter("seconds", words.seconds)


@register.filter
def age_on(birth: date | None, on: date) -> str:
    """Age on a day."""
    return words.age(birth, on)


@register.filter
def counted(number: int, one_many: str) -> str:
    """``{{ n|counted:"tube" }}`` or ``{{ n|counted:"box,boxes" }}``."""
    one, _, many = one_many.partition(",")
    return words.counted(number, one, many)
