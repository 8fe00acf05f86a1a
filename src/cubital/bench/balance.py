"""
How a rotor is loaded evenly: which counts balance, and which place takes what.

The places stand evenly on a circle, so a load balances if the unit vectors to its places add up
to zero.  For ``n`` places and ``k`` equal tubes that is possible if and only if ``k`` and ``n - k``
are both sums of prime factors of ``n`` (Sivek, On vanishing sums of distinct roots of unity, 2010).

Tubes of several classes (kind and fill) do not balance each other, so each class must add up to
zero by itself.  It is laid out in regular polygons: pairs, and triples where 3 divides ``n``; in
general ``p``-gons and ``q``-gons of the two smallest primes of ``n``.  The circle falls into
``n / pq`` sets of ``pq`` places.  Each takes either up to ``q`` ``p``-gons or up to ``p``
``q``-gons, because a ``p``-gon and a ``q``-gon of one set always share a place.  So ``a``
``p``-gons and ``b`` ``q``-gons fit if ``ceil(a / q) + ceil(b / p) <= n / pq``, whatever class they
are of.  For one class that reaches every count of the theorem (a test looks at all rotors of up to
72 places).

What a class lacks to its polygons is filled with balance tubes of that class.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cubital.errors import InputError


@dataclass(frozen=True, slots=True)
class Polygons:
    """
    What one class takes up.

    Args:
        small: number of polygons of the smallest prime (pairs).
        large: number of polygons of the second prime (triples).
        balance: balance tubes among them.
    """

    small: int
    large: int
    balance: int


def prime_factors(number: int) -> tuple[int, ...]:
    """Give the primes that divide a number, ascending, each once."""
    found, prime = [], 2
    while prime * prime <= number:
        if number % prime == 0:
            found.append(prime)
            while number % prime == 0:
                number //= prime
        prime += 1
    return (*found, number) if number > 1 else tuple(found)


def is_sum_of(total: int, parts: Sequence[int]) -> bool:
    """Whether a number is a sum of these parts, each as often as wanted; 0 is."""
    reach = [True] + [False] * total
    for at in range(1, total + 1):
        reach[at] = any(part <= at and reach[at - part] for part in parts)
    return reach[total]


def can_balance(tubes: int, places: int) -> bool:
    """Whether equal tubes balance in a rotor without a balance tube (Sivek 2010)."""
    primes = prime_factors(places)
    return 0 <= tubes <= places and is_sum_of(tubes, primes) and is_sum_of(places - tubes, primes)


def fits(counts: Sequence[int], places: int) -> bool:
    """Whether tubes of several classes, so many of each, go into one run with balance tubes."""
    return polygons(counts, places) is not None


def polygons(counts: Sequence[int], places: int) -> tuple[Polygons, ...] | None:
    """
    Lay classes out in polygons with the fewest balance tubes; None when they do not fit.

    Args:
        counts: tubes of each class, 0 or more.
        places: of the rotor, 2 or more.
    """
    primes = prime_factors(places)
    small = primes[0]
    if len(primes) == 1:
        return _of_one_prime(counts, places, small)
    large = primes[1]
    sets = places // (small * large)
    ways: dict[int, tuple[int, tuple[int, ...]]] = {0: (0, ())}
    for count in counts:
        ways = _with_class(ways, count, small, large)
    open_ = [
        (small * a + large * b, b, chosen)
        for b, (a, chosen) in ways.items()
        if -(-a // large) + -(-b // small) <= sets
    ]
    if not open_:
        return None
    _, _, chosen = min(open_)
    return tuple(_polygons(count, small, large, b) for count, b in zip(counts, chosen, strict=True))


def _of_one_prime(counts: Sequence[int], places: int, prime: int) -> tuple[Polygons, ...] | None:
    needed = [-(-count // prime) for count in counts]
    if sum(needed) * prime > places:
        return None
    return tuple(
        Polygons(number, 0, number * prime - count)
        for number, count in zip(needed, counts, strict=True)
    )


def _with_class(
    ways: dict[int, tuple[int, tuple[int, ...]]], count: int, small: int, large: int
) -> dict[int, tuple[int, tuple[int, ...]]]:
    """
    Add a class: for each number of large polygons, the fewest small ones and how they are shared.

    A class needs fewer than ``small`` large polygons: ``small`` of them hold as many tubes and as
    many sets as ``large`` small ones.
    """
    grown: dict[int, tuple[int, tuple[int, ...]]] = {}
    for b, (a, chosen) in ways.items():
        for more in range(small):
            rest = max(0, count - large * more)
            total = (a - (-rest // small), (*chosen, more))
            if b + more not in grown or total < grown[b + more]:
                grown[b + more] = total
            if rest == 0:
                break
    return grown


def _polygons(count: int, small: int, large: int, larges: int) -> Polygons:
    smalls = -(-max(0, count - large * larges) // small)
    return Polygons(smalls, larges, small * smalls + large * larges - count)


def seats(counts: Sequence[int], places: int) -> tuple[tuple[int, ...], ...]:
    """
    Choose the places of each class, balance tubes included, numbered from 1 around the rotor.

    Each class gets as many places as it has tubes and balance tubes; the unit vectors to them add
    up to zero.

    Raises:
        InputError: they do not fit.
    """
    laid = polygons(counts, places)
    if laid is None:
        raise InputError(
            f"{sum(counts)} tubes of {len(counts)} kinds do not balance in {places} places",
            mend="Take fewer.",
        )
    primes = prime_factors(places)
    smalls = _polygons_of(places, primes, sum(one.small for one in laid), largest=False)
    larges = _polygons_of(places, primes, sum(one.large for one in laid), largest=True)
    chosen = []
    for one in laid:
        mine = smalls[: one.small] + larges[: one.large]
        smalls, larges = smalls[one.small :], larges[one.large :]
        chosen.append(tuple(place + 1 for polygon in mine for place in polygon))
    return tuple(chosen)


def _polygons_of(
    places: int, primes: tuple[int, ...], number: int, *, largest: bool
) -> list[list[int]]:
    """Places of the first ``number`` small polygons, or of the last ``number`` large ones."""
    small = primes[0]
    if len(primes) == 1:
        step = places // small
        wanted = 0 if largest else number
        return [[first + step * t for t in range(small)] for first in range(wanted)]
    large = primes[1]
    sets = places // (small * large)
    sides, others = (large, small) if largest else (small, large)
    order = range(sets - 1, -1, -1) if largest else range(sets)
    found = [
        [(at + sets * (first + others * t)) for t in range(sides)]
        for at in order
        for first in range(others)
    ]
    return found[:number]


def is_even(places_used: Sequence[int], places: int) -> bool:
    """
    Whether equal tubes in these places (from 1) balance, exactly.

    The vectors add up to zero if and only if the polynomial with a term ``x ** place`` for each is
    divisible by the cyclotomic polynomial of ``places``, which needs no rounding.
    """
    value = [0] * places
    for place in places_used:
        value[(place - 1) % places] += 1
    for prime in prime_factors(places):
        value = _times_one_minus(value, places // prime)
    return not any(value)


def _times_one_minus(value: Sequence[int], step: int) -> list[int]:
    """Multiply by ``1 - x ** step`` modulo ``x ** n - 1``."""
    return [one - value[at - step] for at, one in enumerate(value)]
