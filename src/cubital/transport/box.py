"""What is missing from a box, or in it without being listed."""

from __future__ import annotations

from collections.abc import Iterable

from cubital.catalogue import Catalogue
from cubital.catalogue.model_way import Cooling
from cubital.errors import InputError
from cubital.finding import Finding, Severity

RULE = "chair-common-practice"
WAYS = {"ice_slurry": "on ice", "warm_37c": "at 37 °C"}


def compare_box(listed: Iterable[str], found: Iterable[str]) -> tuple[Finding, ...]:
    """Tell at the opening what is missing and what nobody listed."""
    listed, found = list(dict.fromkeys(listed)), list(dict.fromkeys(found))
    missing = [
        Finding(
            "box-missing", Severity.ASK, f"{each} is on the list and not in the box.", RULE, each
        )
        for each in listed
        if each not in set(found)
    ]
    extra = [
        Finding(
            "box-unlisted", Severity.ASK, f"{each} is in the box and not on the list.", RULE, each
        )
        for each in found
        if each not in set(listed)
    ]
    return (*missing, *extra)


def cooling_of(catalogue: Catalogue, code: str) -> Cooling:
    """
    Give a kind of cooling.

    Raises:
        InputError: no such kind.
    """
    for row in catalogue.rows(Cooling):
        if row.code == code:
            return row
    known = ", ".join(row.code for row in catalogue.rows(Cooling))
    raise InputError(f"There is no cooling {code!r}", mend=f"Choose one of {known}.")


def may_travel(
    catalogue: Catalogue, specimen: str, tests: Iterable[str], cooling: str, *, spun: bool = False
) -> tuple[Finding, ...]:
    """
    Tell what a specimen's tests say against a box's cooling.

    Args:
        catalogue: whose demands count.
        specimen: its number.
        tests: asked from it; those that are none of blood demand nothing here.
        cooling: of the box.
        spun: separated already, so that it may be chilled.

    Raises:
        InputError: no such kind of cooling.
    """
    box = cooling_of(catalogue, cooling)
    meets = set(box.meets.split(";"))
    found = []
    for test in tests:
        if test not in catalogue.tests:
            continue
        for row in catalogue.handling(test):
            name = catalogue.tests[test].name
            cold = box.condition in ("fridge", "frozen")
            if row.need in WAYS and row.need not in meets:
                found.append(
                    Finding(
                        f"box-not-{row.need.replace('_', '-')}",
                        Severity.ASK,
                        f"{name} must travel {WAYS[row.need]}, and this is {box.name}.",
                        row.source,
                        specimen,
                        row.layer,
                    )
                )
            elif row.need == "never_chilled" and cold and not spun:
                found.append(
                    Finding(
                        "box-too-cold",
                        Severity.STOP,
                        f"{name} must never be chilled before it is separated, and this is"
                        f" {box.name}.",
                        row.source,
                        specimen,
                        row.layer,
                    )
                )
    return tuple(found)
