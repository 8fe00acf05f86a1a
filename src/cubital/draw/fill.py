"""
Whether a container fills properly at the place of the draw, and what to do when it does not.

Volumes in µL of blood, altitudes in m.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from cubital.catalogue import Catalogue
from cubital.catalogue.model import Container, FillLimit
from cubital.draw.physics import after_tubing_ul, drawn_ul
from cubital.finding import Finding, Reason, Severity


@dataclass(frozen=True, slots=True)
class Fill:
    """
    How full a container gets by itself.

    Args:
        drawn_ul: what it takes here.
        minimum_ul, maximum_ul: between which it is accepted.
        verdict: ``kept``, ``under`` or ``over``.
        to_the_mark: the blood to additive ratio matters.
        reason: of the limits.
    """

    drawn_ul: int
    minimum_ul: int
    maximum_ul: int
    verdict: str
    to_the_mark: bool
    reason: Reason


@dataclass(frozen=True, slots=True)
class Remedy:
    """
    A way out of a fill outside its limits.

    Args:
        kind: ``other_size``, ``made_for_altitude`` or ``syringe_transfer``.
        container: the code of the container to use.
        sentence: what to do.
    """

    kind: str
    container: str
    sentence: str


def fill_bounds_ul(container: Container, limit: FillLimit) -> tuple[int, int]:
    """The accepted fill, (minimum, maximum): the minimum rounded up, the maximum down."""
    minimum = -(-container.nominal_ul * limit.minimum_percent // 100)
    return minimum, container.nominal_ul * limit.maximum_percent // 100


def fill_of(
    container: Container,
    altitude_m: int,
    catalogue: Catalogue,
    choices: Mapping[str, str],
    *,
    tubing_air_ul: int = 0,
) -> Fill:
    """
    What a container draws here, held against its fill limits.

    ``tubing_air_ul`` is the air that enters this container before blood: give it for the first
    tube drawn through a winged set, else 0.
    """
    limit = catalogue.fill_limit(container.additive, choices)
    drawn = drawn_ul(container, altitude_m)
    if container.form == "evacuated":
        drawn = after_tubing_ul(drawn, tubing_air_ul)
    minimum, maximum = fill_bounds_ul(container, limit)
    verdict = "under" if drawn < minimum else "over" if drawn > maximum else "kept"
    sentence = (
        f"{container.name}: accepted from {minimum / 1000:.2f} to {maximum / 1000:.2f} mL, "
        f"draws {drawn / 1000:.2f} mL at {altitude_m} m."
    )
    reason = catalogue.reason(limit, sentence)
    return Fill(drawn, minimum, maximum, verdict, limit.to_the_mark, reason)


def remedies(
    container: Container,
    altitude_m: int,
    catalogue: Catalogue,
    choices: Mapping[str, str],
    *,
    on_hand: Sequence[str] | None = None,
    devices: Sequence[str] | None = None,
) -> tuple[Remedy, ...]:
    """
    Ways to a proper fill of the same additive, the best first.

    Another size, then a tube made for an altitude, then a syringe transfer to the mark of the
    same tube (when it is no larger than the syringe and a syringe is on hand).

    ``on_hand`` are the container codes at the place, None for all in use and all those made for
    an altitude; ``devices`` the device codes at the place, None for all.
    """
    kept = [
        other
        for other in catalogue.containers.values()
        if other.code != container.code
        and other.additive == container.additive
        and other.form == "evacuated"
        and _offered(other, on_hand)
        and fill_of(other, altitude_m, catalogue, choices).verdict == "kept"
    ]
    kept.sort(key=lambda c: (abs(c.nominal_ul - container.nominal_ul), c.rank, c.code))
    sizes = tuple(_swap("other_size", c) for c in kept if c.made_for_altitude_m == 0)
    made = tuple(_swap("made_for_altitude", c) for c in kept if c.made_for_altitude_m != 0)
    return sizes + made + _by_syringe(container, catalogue, devices)


def _offered(container: Container, on_hand: Sequence[str] | None) -> bool:
    if on_hand is not None:
        return container.code in on_hand
    return container.in_use or container.made_for_altitude_m != 0


def _swap(kind: str, other: Container) -> Remedy:
    return Remedy(kind, other.code, f"Use {other.name}: it fills properly here.")


def _by_syringe(
    container: Container, catalogue: Catalogue, devices: Sequence[str] | None
) -> tuple[Remedy, ...]:
    plungers = {
        device.code
        for device in catalogue.devices.values()
        if device.draws_by == "plunger" and (devices is None or device.code in devices)
    }
    if not plungers or container.nominal_ul > catalogue.number("syringe_max_ul"):
        return ()
    sentence = (
        f"Draw with a syringe and bring {container.name} to its mark, "
        f"{container.nominal_ul / 1000:.2f} mL of blood, by the laboratory's own procedure."
    )
    return (Remedy("syringe_transfer", container.code, sentence),)


def fill_finding(
    container: Container,
    altitude_m: int,
    catalogue: Catalogue,
    choices: Mapping[str, str],
    *,
    tubing_air_ul: int = 0,
    on_hand: Sequence[str] | None = None,
    devices: Sequence[str] | None = None,
) -> Finding | None:
    """
    A finding when the container does not fill properly here, with the first remedy in it.

    ``fill-under`` or ``fill-over``: ask where the ratio matters (``to_the_mark``), else note.
    None when the fill is kept.  When only the air of the tubing is at fault, the mend is a
    discard tube before it.
    """
    fill = fill_of(container, altitude_m, catalogue, choices, tubing_air_ul=tubing_air_ul)
    if fill.verdict == "kept":
        return None
    without_air = fill_of(container, altitude_m, catalogue, choices)
    if fill.verdict == "under" and without_air.verdict == "kept":
        mend = "Draw a discard tube first: the air of the tubing goes into it."
    else:
        ways = remedies(container, altitude_m, catalogue, choices, on_hand=on_hand, devices=devices)
        mend = ways[0].sentence if ways else "Nothing on hand mends it: ask the laboratory."
    bound = fill.minimum_ul if fill.verdict == "under" else fill.maximum_ul
    side = "less than the minimum of" if fill.verdict == "under" else "more than the maximum of"
    sentence = (
        f"{container.name} draws {fill.drawn_ul / 1000:.2f} mL at {altitude_m} m, {side} "
        f"{bound / 1000:.2f} mL. {mend}"
    )
    severity = Severity.ASK if fill.to_the_mark else Severity.NOTE
    reason = fill.reason
    return Finding(
        f"fill-{fill.verdict}", severity, sentence, reason.source, container.code, reason.layer
    )
