"""
Relative centrifugal force from radius and speed, and back.

``RCF = 4 π² r n² / g`` with standard gravity 980.665 cm/s², which is 1.118e-5 r n² with the radius
in cm and the speed in turns a minute (the constant of every nomogram).  The radius is that of the
bottom of the tube, buckets swung out.
"""

from __future__ import annotations

import math

from cubital.errors import InputError

STANDARD_GRAVITY_MM_PER_S2 = 9806.65
RCF_PER_MM = 4 * math.pi**2 / (60**2 * STANDARD_GRAVITY_MM_PER_S2)
"""RCF of 1 mm at 1 turn a minute: 1.11824e-6."""


def rcf_of(radius_mm: float, speed_rpm: float) -> float:
    """
    Give the force in multiples of gravity.

    Raises:
        InputError: a radius or speed that is not above 0.
    """
    _check(radius_mm, "radius")
    _check(speed_rpm, "speed")
    return RCF_PER_MM * radius_mm * speed_rpm**2


def speed_of(radius_mm: float, rcf_g: float) -> float:
    """
    Give the speed, in turns a minute, that makes a force.

    Raises:
        InputError: a radius or force that is not above 0.
    """
    _check(radius_mm, "radius")
    _check(rcf_g, "force")
    return math.sqrt(rcf_g / (RCF_PER_MM * radius_mm))


def _check(value: float, what: str) -> None:
    if not (value > 0 and math.isfinite(value)):
        raise InputError(f"A {what} of {value:g} cannot be", mend="Give a number above 0.")
