"""Who worked and who was pricked in the invented clinic's past weeks; nobody is real."""

from __future__ import annotations

from datetime import date
from random import Random
from typing import Any

MORE_PEOPLE = (
    ("tove", "Tove", "Arnvik", "collector", "ostrel-valley"),
    ("bero", "Bero", "Malin", "collector", "ostrel-pass"),
)
"""As ``valley.PEOPLE``: collectors besides Mira."""

FAMILY = (
    "Askvold", "Bremmer", "Corvin", "Dravik", "Elvane", "Fenmark", "Gorlan", "Hestrin", "Ivarne",
    "Jolvik", "Kestral", "Lomvar", "Marn", "Nesk", "Ostrand", "Pelvin", "Rosk", "Sorren", "Tavik",
    "Ulmer",
)  # fmt: skip
GIVEN = {
    "female": ("Ada", "Brita", "Celi", "Dorte", "Esme", "Frida", "Gerda", "Helin", "Ilse", "Jorun"),
    "male": ("Aron", "Birk", "Casper", "Dag", "Eskil", "Finn", "Gorm", "Henrik", "Ivar", "Jon"),
}
WARDS = {
    "ostrel-valley": ("Walk-in", "Surgery 2", "Emergency", "Children", "Lung clinic"),
    "ostrel-pass": ("Pass post", "Home visit"),
}
COUNT = 40


BORN_BEFORE = 2026
"""Ages are counted back from this year."""


def patient_number(nth: int) -> str:
    """The number of one of the patients."""
    return f"OV-2{nth:04d}"


def patient(nth: int) -> dict[str, Any]:
    """One of the patients, the same each time, in the requisition's JSON shape."""
    random = Random(nth)  # noqa: S311 - invented, and the same each time
    sex = ("female", "male")[nth % 2]
    years = random.choice((3, 9, 24, 31, 38, 45, 52, 58, 63, 69, 74, 81, 88))
    born = date(BORN_BEFORE - years, random.randint(1, 12), random.randint(1, 28))
    return {
        "number": patient_number(nth),
        "family_name": FAMILY[nth % len(FAMILY)],
        "given_name": GIVEN[sex][nth // 2 % 10],
        "sex": sex,
        "birth_date": born.isoformat(),
        "weight_g": (14_000 + 3_000 * years) if years < 12 else random.randint(48, 95) * 1000,
    }
