"""
HL7 v2 tables 0490 (specimen reject reason) and 0493 (specimen condition).

The codes below are the published lists, as read in the FHIR cross-version value sets of both
tables; which of our rules maps to which is our proposal.
"""

from __future__ import annotations

from cubital.catalogue import shipped
from cubital.reception.found import rule_rows

TABLE_0490 = {
    "EX", "QS", "RA", "RB", "RC", "RD", "RE", "RH", "RI", "RM", "RN", "RP", "RR", "RS",
}  # fmt: skip
TABLE_0493 = {"AUT", "CFU", "CLOT", "CON", "COOL", "FROZ", "HEM", "LIVE", "ROOM", "SNR"}

MEANINGS = {
    "clotted": "RC",
    "haemolysed": "RH",
    "leaking": "RB",
    "tube-expired": "EX",
    "volume-short": "QS",
    "identity-disagrees": "RI",
    "label-none": "RM",
    "no-collection-time": "RD",
}


def test_every_code_is_one_of_the_published_ones() -> None:
    """No reject reason or condition of our own making."""
    for row in shipped().rows(type(next(iter(rule_rows(shipped()).values())))):
        assert row.hl7_0490 in TABLE_0490 | {""}
        assert row.hl7_0493 in TABLE_0493 | {""}


def test_the_plain_reasons_carry_the_plain_codes() -> None:
    """Clotted is RC, haemolysed RH, broken RB, expired EX, quantity QS, identity RI, label RM."""
    rules = rule_rows(shipped())
    assert {code: rules[code].hl7_0490 for code in MEANINGS} == MEANINGS
