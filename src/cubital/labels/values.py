"""What stands on a label."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Label:
    """
    One label of one container, in words as they are printed.

    Args:
        accession: thirteen characters with their check character, see :mod:`cubital.accession`.
        name: the patient's whole name as registered, family name first, any script.
        identifiers: (caption, value) pairs besides the name, e.g. ("born", "1961-04-12").
        collected: date and time of the draw with its offset from UTC left out, or "" while it is
            still to be written by hand.
        collector: code or initials, "" while unknown.
        container: additive and closure colour in words, e.g. "K2-EDTA · lavender".
        tests: short names, joined by the printer as far as they fit.
        handling: short words such as "ON ICE", "DARK".
    """

    accession: str
    name: str
    identifiers: tuple[tuple[str, str], ...]
    collected: str
    collector: str
    container: str
    tests: tuple[str, ...] = ()
    handling: tuple[str, ...] = ()
