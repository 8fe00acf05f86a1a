"""
What a short specimen still serves, best by the requester's priority, exactly.

In each priority the tests that need least go first: so as many of that priority as can be are
served, and as much as can be is left for the next.  The dead volume counts once a station.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from cubital.draw.needs import ask, dead_blood_ul
from cubital.reception.found import Bench, Found


def _blood(bench: Bench, available_ul: int, still: Sequence[str]) -> tuple[str, ...]:
    """Codes of blood tests that do not fit into what is there."""
    if bench.container is None:
        return ()
    wanted = [test for test in bench.expected.tests if test.code in still]
    asked = sorted(
        ask(wanted, bench.scene), key=lambda one: (one.ordered.priority, one.volume_ul, one.index)
    )
    opened: set[tuple[str, str]] = set()
    left = available_ul
    short = []
    for one in asked:
        place = (one.station.code, one.state)
        dead = 0
        if place not in opened:
            dead = dead_blood_ul(one.station.code, bench.container.form, one.state, bench.scene)
        if one.volume_ul + dead <= left:
            left -= one.volume_ul + dead
            opened.add(place)
        else:
            short.append(one.ordered.code)
    return tuple(short)


def volume_rules(bench: Bench, still: Sequence[str]) -> Iterator[Found]:
    """
    Tests that what is there does not suffice for.

    Args:
        bench: what arrived.
        still: codes of tests that no other rule refuses: they alone compete for the volume.
    """
    available = bench.blood_ul
    blood = [test for test in still if bench.is_blood_test(test)]
    if available is not None and blood:
        for test in _blood(bench, available, blood):
            yield Found(
                "volume-short",
                f"{available / 1000:.1f} mL do not suffice for {bench.name(test)} beside what the"
                " requester wants more.",
                (test,),
                bench.catalogue.setting("plasma_recovery_percent").source,
            )
    there = bench.arrival.volume_ul
    if there is None:
        return
    left = there
    for ordered in sorted(bench.expected.tests, key=lambda each: each.priority):
        row = bench.examinations.get(ordered.code)
        if row is None or ordered.code not in still:
            continue
        if row.minimum_ul > left:
            yield Found(
                "volume-short",
                f"{left / 1000:.1f} mL are left and {row.name} wants {row.minimum_ul / 1000:g} mL.",
                (ordered.code,),
                row.source,
            )
        else:
            left -= row.minimum_ul
