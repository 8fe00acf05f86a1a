"""The places, the people and the stock of the invented clinic."""

from __future__ import annotations

from dataclasses import dataclass

PASSWORD = "ostrel-valley"  # noqa: S105 - the demo's own, shown on its front page
PEOPLE = (
    ("mira", "Mira", "Tolvan", "collector", "ostrel-valley"),
    ("joren", "Joren", "Askel", "bench", "ostrel-valley"),
    ("sade", "Sade", "Ellun", "quality", "ostrel-valley"),
    ("ilko", "Ilko", "Brandov", "manager", "ostrel-valley"),
)
"""Sign-in name, given name, family name, role, place."""


@dataclass(frozen=True, slots=True)
class DemoPlace:
    """A place of the demo."""

    code: str
    letters: str
    name: str
    altitude_m: int
    order_profile: str
    stock: tuple[str, ...] | None


PLACES = (
    DemoPlace("ostrel-valley", "OL", "Ostrel valley laboratory", 1900, "", None),
    DemoPlace(
        "ostrel-pass",
        "OP",
        "Ostrel pass post",
        3400,
        "local",
        (
            "citrate-2.7",
            "citrate-2.7-alt3500",
            "gel-3.5",
            "gel-5",
            "edta-3",
            "edta-2",
            "fluoride-2",
            "esr-1.6",
            "activator-4",
            "plain-4",
            "plain-6",
        ),
    ),
)
"""The laboratory has every container in use; the post only what is named."""

MADE_FOR_THE_VALLEY = ("citrate-2.7-alt2000", "citrate-1.8-alt2000")
EXPIRED = "esr-2.4"
RECALLED = "fluoride-2"
PER_LOT = 200
