"""
Comparing places without a league table: a funnel (Spiegelhalter 2005).

Each place's share stands over its number of specimens, inside limits that narrow as the number
grows.  Places are never ranked.  A place with only a few expected events is shown and not judged.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from cubital.catalogue import Catalogue

INSIDE, OUTER, BEYOND, FEW = "inside", "between", "beyond", "few"


@dataclass(frozen=True, slots=True)
class FunnelPolicy:
    """Limits and the handling of overdispersion, from the settings."""

    inner_z: float
    outer_z: float
    winsorise: float
    dispersion_sites: int
    few_expected: float

    @classmethod
    def of(cls, catalogue: Catalogue) -> FunnelPolicy:
        """Look it up."""
        return cls(
            inner_z=catalogue.decimal("funnel_inner_z"),
            outer_z=catalogue.decimal("funnel_outer_z"),
            winsorise=catalogue.decimal("funnel_winsorise_percent") / 100,
            dispersion_sites=catalogue.number("funnel_dispersion_sites"),
            few_expected=catalogue.decimal("indicator_few_expected"),
        )


@dataclass(frozen=True, slots=True)
class Place:
    """
    One place.

    Args:
        code: of the place.
        share: bad over of, None where it has nothing.
        zone: ``inside`` the inner limits, ``between`` inner and outer, ``beyond`` the outer,
            or ``few``: not judged.
        above: whether it lies above the centre.
    """

    code: str
    bad: int
    of: int
    share: float | None
    zone: str
    above: bool


@dataclass(frozen=True, slots=True)
class Funnel:
    """
    A funnel.

    Args:
        centre: share of all places together, None where there is nothing.
        phi: overdispersion by which the variance is multiplied, 1 where none is used.
        estimated: whether there were places enough to estimate it.
        places: in the order of their codes.
    """

    centre: float | None
    phi: float
    estimated: bool
    places: tuple[Place, ...]
    policy: FunnelPolicy

    def limits(self, of: int, *, outer: bool) -> tuple[float, float]:
        """Limits at a number of specimens; none where there is no centre: 0 to 1."""
        z = self.policy.outer_z if outer else self.policy.inner_z
        if self.centre is None or of == 0:
            return 0.0, 1.0
        return funnel_limits(self.centre, of, z, self.phi)


def funnel_limits(centre: float, of: int, z: float, phi: float = 1.0) -> tuple[float, float]:
    """θ ± z·√(φ·θ·(1-θ)/n), never outside 0 to 1."""
    reach = z * sqrt(phi * centre * (1 - centre) / of)
    return max(0.0, centre - reach), min(1.0, centre + reach)


def funnel(places: Sequence[tuple[str, int, int]], policy: FunnelPolicy) -> Funnel:
    """
    Compare places.

    Args:
        places: code, bad, of.
        policy: of the laboratory.
    """
    tops, bottoms = sum(bad for _, bad, _ in places), sum(of for _, _, of in places)
    if bottoms == 0:
        empty = tuple(Place(code, bad, of, None, FEW, above=False) for code, bad, of in places)
        return Funnel(None, 1.0, False, tuple(sorted(empty, key=_code)), policy)
    centre = tops / bottoms
    zs = [z_value(bad, of, centre) for _, bad, of in places if of and 0 < centre < 1]
    estimated = len(zs) >= policy.dispersion_sites
    phi = max(1.0, overdispersion(zs, policy.winsorise)) if estimated else 1.0
    judged = tuple(_place(code, bad, of, centre, phi, policy) for code, bad, of in places)
    return Funnel(centre, phi, estimated, tuple(sorted(judged, key=_code)), policy)


def z_value(bad: int, of: int, centre: float) -> float:
    """How many standard deviations a place lies from the centre."""
    return (bad / of - centre) / sqrt(centre * (1 - centre) / of)


def overdispersion(zs: Sequence[float], winsorise: float) -> float:
    """
    φ = Σz²/I of z-values whose outer share at each end is pulled in to the next.

    1 where there are none.
    """
    if not zs:
        return 1.0
    ordered = sorted(zs)
    cut = int(winsorise * len(ordered))
    low, high = ordered[cut], ordered[len(ordered) - 1 - cut]
    return sum(min(max(z, low), high) ** 2 for z in ordered) / len(ordered)


def _code(place: Place) -> str:
    return place.code


def _place(code: str, bad: int, of: int, centre: float, phi: float, policy: FunnelPolicy) -> Place:
    if of == 0:
        return Place(code, bad, of, None, FEW, above=False)
    share = bad / of
    expected = of * min(centre, 1 - centre)
    if expected < policy.few_expected:
        return Place(code, bad, of, share, FEW, above=share > centre)
    zone = BEYOND
    for name, z in ((INSIDE, policy.inner_z), (OUTER, policy.outer_z)):
        low, high = funnel_limits(centre, of, z, phi)
        if low <= share <= high:
            zone = name
            break
    return Place(code, bad, of, share, zone, above=share > centre)
