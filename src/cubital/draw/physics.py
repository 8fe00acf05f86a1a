"""
The physics of a draw: air pressure, what an evacuated tube draws, citrate, and time.

The constants here are those of the standard atmosphere; every number about blood comes from the
catalogue.  Volumes in µL, altitudes in m above sea level, pressures in hPa, times in s.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from cubital.catalogue import Catalogue
from cubital.catalogue.model import Container, NeedleBore
from cubital.errors import InputError
from cubital.finding import Finding, Reason, Severity

# ISO 2533:1975 and ICAO Doc 7488 (1993): sea level, the troposphere's lapse rate and its top.
SEA_LEVEL_HPA = 1013.25
SEA_LEVEL_K = 288.15
LAPSE_K_PER_M = 0.0065
TROPOSPHERE_TOP_M = 11_000
LOWEST_LAND_M = -500
GRAVITY_M_PER_S2 = 9.80665
GAS_CONSTANT_OF_AIR = 287.05287  # J/(kg K)
EXPONENT = GRAVITY_M_PER_S2 / (GAS_CONSTANT_OF_AIR * LAPSE_K_PER_M)  # 5.25588

REFERENCE_GAUGE = 21  # that of the setting reference_flow_ul_per_s_21g
POISEUILLE_POWER = 4  # flow through a pipe goes with the fourth power of its bore


def pressure_hpa(altitude_m: float) -> float:
    """
    Air pressure of the standard atmosphere (ISO 2533:1975, ICAO Doc 7488), in hPa.

    Args:
        altitude_m: geopotential altitude, from -500 m to 11 000 m.

    Raises:
        InputError: outside that range.
    """
    if not LOWEST_LAND_M <= altitude_m <= TROPOSPHERE_TOP_M:
        raise InputError(
            f"an altitude of {altitude_m:g} m cannot be used",
            "altitude",
            f"Give metres above sea level between {LOWEST_LAND_M} and {TROPOSPHERE_TOP_M}.",
        )
    share = 1.0 - LAPSE_K_PER_M * altitude_m / SEA_LEVEL_K
    return float(SEA_LEVEL_HPA * share**EXPONENT)


def drawn_ul(container: Container, altitude_m: int) -> int:
    """
    What a container takes by itself at an altitude, in µL of blood, rounded down.

    An evacuated tube holds a rest of gas.  It draws until that gas is pressed to the pressure
    outside (Boyle): ``Vf - (Vf - Vn) * P0 / P``, where ``Vf`` is the free volume, ``Vn`` the
    nominal draw, ``P0`` the pressure for which the tube was made and ``P`` the pressure here.
    The pressure in the vein and the warmth of the blood are left out.  Containers that are filled
    by hand to a mark (micro-tubes, bottles, syringes) take their nominal volume anywhere.
    """
    pressure = pressure_hpa(altitude_m)
    if container.form != "evacuated" or altitude_m == container.made_for_altitude_m:
        return container.nominal_ul
    free_ul = container.nominal_ul + container.headspace_ul
    ratio = pressure_hpa(container.made_for_altitude_m) / pressure
    return max(0, int(free_ul - container.headspace_ul * ratio))


def after_tubing_ul(drawn: int, tubing_air_ul: int) -> int:
    """What the first tube gets of ``drawn`` µL when the air of the tubing enters before blood."""
    return max(0, drawn - tubing_air_ul)


# ---------------------------------------------------------------- citrate at a high haematocrit


def citrate_h21_ul(blood_ul: float, haematocrit_percent: float, constant: float) -> float:
    """
    Citrate for ``blood_ul`` of BLOOD: ``C = V * (100 - Hct) / (constant - Hct)``.

    The constant is 595 in CLSI H21-Ed6 (2024); V is the blood alone, not blood and citrate.
    """
    return blood_ul * (100.0 - haematocrit_percent) / (constant - haematocrit_percent)


def citrate_decimal_ul(blood_ul: float, haematocrit_percent: float, factor: float) -> float:
    """Citrate for ``blood_ul`` of BLOOD: ``C = factor * (100 - Hct) * V``, factor 0.00185."""
    return factor * (100.0 - haematocrit_percent) * blood_ul


def citrate_ul(
    blood_ul: float, haematocrit_percent: float, catalogue: Catalogue, choices: Mapping[str, str]
) -> float:
    """
    Citrate (3.2 %) that ``blood_ul`` µL of blood wants, by the form of topic ``citrate-formula``.

    Raises:
        InputError: a haematocrit that is not between 0 and 100 percent, or a form not known here.
    """
    if not 0 < haematocrit_percent < 100:
        raise InputError(
            f"a haematocrit of {haematocrit_percent:g} % cannot be used",
            "haematocrit",
            "Give percent, between 0 and 100.",
        )
    form = catalogue.option("citrate-formula", choices).option
    if form == "h21_2024":
        constant = catalogue.decimal("citrate_h21_constant")
        return citrate_h21_ul(blood_ul, haematocrit_percent, constant)
    if form == "decimal_185":
        factor = catalogue.decimal("citrate_decimal_factor")
        return citrate_decimal_ul(blood_ul, haematocrit_percent, factor)
    raise InputError(
        f"no citrate formula is called {form}",
        "choices.csv, topic citrate-formula",
        "Write h21_2024 or decimal_185.",
    )


@dataclass(frozen=True, slots=True)
class CitrateAdvice:
    """
    What to do with a citrate tube at a high haematocrit.

    Args:
        blood_ul: the blood it will hold.
        holds_ul: citrate in it as delivered.
        keep_ul: citrate that the blood wants.
        remove_ul: what to take out before the draw.
        trap_ul: what the same form gives when V is wrongly read as blood and citrate together.
        finding: ask, ``citrate-haematocrit``, with the amounts and the trap in its sentence.
        reason: the form used and its source.
    """

    blood_ul: int
    holds_ul: float
    keep_ul: float
    remove_ul: float
    trap_ul: float
    finding: Finding
    reason: Reason


def citrate_advice(
    container: Container,
    haematocrit_percent: float | None,
    catalogue: Catalogue,
    choices: Mapping[str, str],
    *,
    blood_ul: int | None = None,
) -> CitrateAdvice | None:
    """
    The citrate to remove from a tube for coagulation at a haematocrit over the setting.

    None when the haematocrit is not known or not over it, and for every other container than one
    of order class ``citrate``.  ``blood_ul`` is what the tube will hold, its nominal volume when
    None.
    """
    limit = catalogue.setting("citrate_haematocrit_percent")
    if haematocrit_percent is None or haematocrit_percent <= float(limit.value):
        return None
    if catalogue.additives[container.additive].order_class != "citrate":
        return None
    blood = container.nominal_ul if blood_ul is None else blood_ul
    holds = _citrate_inside_ul(container, catalogue)
    keep = citrate_ul(blood, haematocrit_percent, catalogue, choices)
    trap = citrate_ul(blood + holds, haematocrit_percent, catalogue, choices)
    remove = max(0.0, holds - keep)
    option = catalogue.option("citrate-formula", choices)
    sentence = (
        f"{container.name}: at a haematocrit of {haematocrit_percent:g} % take "
        f"{remove / 1000:.3f} mL of the {holds / 1000:.3f} mL citrate out before the draw, so that "
        f"{keep / 1000:.3f} mL stay for {blood / 1000:.2f} mL of blood; the volume in the formula "
        f"is blood alone: read as blood and citrate together it would leave {trap / 1000:.3f} mL. "
        f"An opened tube has no vacuum: fill it from a syringe."
    )
    finding = Finding(
        "citrate-haematocrit", Severity.ASK, sentence, option.source, container.code, option.layer
    )
    reason = catalogue.reason(option, f"Citrate by {option.option}: {option.meaning}")
    return CitrateAdvice(blood, holds, keep, remove, trap, finding, reason)


def _citrate_inside_ul(container: Container, catalogue: Catalogue) -> float:
    ratio = catalogue.ratios.get(container.additive)
    if ratio is None:
        raise InputError(
            f"no blood to additive ratio is known for {container.additive}",
            "ratios.csv",
            "Add a row for it.",
        )
    return container.nominal_ul * ratio.additive_parts / ratio.blood_parts


# ---------------------------------------------------------------- how long it takes


def relative_flow(gauge: int, catalogue: Catalogue) -> float:
    """
    Flow through a gauge, that of 21 G being 1: bores to the fourth power (Poiseuille).

    The same length, pressure and wall are taken for both.

    Raises:
        InputError: no bore is known for the gauge.
    """
    wall = catalogue.word("draw_time_wall")
    bores = {row.gauge: row.inner_mm for row in catalogue.rows(NeedleBore) if row.wall == wall}
    for needed in (gauge, REFERENCE_GAUGE):
        if needed not in bores:
            raise InputError(
                f"no {wall} bore is known for {needed} G",
                "needle_bores.csv",
                "Add a row for it, or choose a gauge of the table.",
            )
    return float((bores[gauge] / bores[REFERENCE_GAUGE]) ** POISEUILLE_POWER)


def draw_time_s(gauge: int, volume_ul: int, containers: int, catalogue: Catalogue) -> float:
    """
    Estimated seconds from the first blood to the last, tube changes counted.

    ``gauge`` is 0 for a lancet, whose blood comes in drops; ``volume_ul`` is the blood of all
    containers together and ``containers`` their number.
    """
    changes_s = max(0, containers - 1) * catalogue.decimal("tube_change_s")
    if gauge == 0:
        return volume_ul / catalogue.decimal("capillary_flow_ul_per_s") + changes_s
    flow = catalogue.decimal("reference_flow_ul_per_s_21g") * relative_flow(gauge, catalogue)
    return volume_ul / flow + changes_s


def tourniquet_finding(time_s: float, catalogue: Catalogue) -> Finding | None:
    """A note when the draw outlasts the tourniquet minute, with the mend; None when it does not."""
    limit = catalogue.setting("tourniquet_max_s")
    if time_s <= float(limit.value):
        return None
    sentence = (
        f"The draw is estimated at {time_s:.0f} s, longer than the {limit.value} s a tourniquet "
        f"may stay: release it as soon as blood flows into the first tube."
    )
    return Finding("tourniquet-time", Severity.NOTE, sentence, limit.source, "", limit.layer)
