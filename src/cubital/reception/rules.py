"""
The rules of the reception, one function each.

A rule looks at what arrived and gives what it found; what that means (refuse, ask, remark) stands
in ``reception_rules.csv`` with the HL7 codes, where a laboratory may change it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from cubital.catalogue.model_reception import HaemolysisGrade, Interference
from cubital.catalogue.model_way import TemperatureBand
from cubital.reception.found import Bench, Found, materials
from cubital.requisition import IDENTIFIER_MISSING

ANTICOAGULATED = ("plasma", "whole_blood")


def label_rules(bench: Bench) -> Iterator[Found]:
    """No label, two labels, a label that does not say enough (ISO 15189:2022, 7.2.6)."""
    arrival = bench.arrival
    if arrival.labels == 0:
        yield Found("label-none", "There is no label on it: nobody knows whose it is.", bench.tests)
    elif arrival.labels > 1:
        yield Found("label-two", f"{arrival.labels} labels are on it: look at each.", bench.tests)
    elif not arrival.label_complete:
        yield Found("label-incomplete", "The label does not say enough.", bench.tests)


def identity_rule(bench: Bench) -> Iterator[Found]:
    """Label and requisition name different people."""
    if bench.arrival.identity_agrees is False:
        yield Found(
            "identity-disagrees",
            "Label and requisition name different people: no result from it is safe.",
            bench.tests,
        )


def duplicate_rule(bench: Bench) -> Iterator[Found]:
    """The same number was received before."""
    if bench.arrival.seen_before:
        yield Found("duplicate", "This number was received already.", bench.tests)


def material_rule(bench: Bench) -> Iterator[Found]:
    """Another material than was asked for."""
    if bench.arrival.material != bench.expected.material:
        names = materials(bench.catalogue)
        seen, asked = names.get(bench.arrival.material), names.get(bench.expected.material)
        yield Found(
            "wrong-material",
            f"{seen.name if seen else bench.arrival.material} came where"
            f" {asked.name if asked else bench.expected.material} was asked for.",
            bench.tests,
        )


def container_rule(bench: Bench) -> Iterator[Found]:
    """Tests that do not accept the additive in the container that came."""
    if bench.container is None:
        return
    harmed = [
        test
        for test in bench.tests
        if bench.is_blood_test(test)
        and bench.container.additive not in {a.additive for a in bench.catalogue.accepted(test)}
    ]
    if harmed:
        additive = bench.additive.name if bench.additive else ""
        names = ", ".join(bench.name(test) for test in harmed)
        yield Found("wrong-container", f"{additive} does not serve {names}.", tuple(harmed))


def vessel_rule(bench: Bench) -> Iterator[Found]:
    """Another vessel than the examination of a specimen other than blood wants."""
    seen = bench.arrival.vessel
    for test in bench.tests:
        row = bench.examinations.get(test)
        if seen and row is not None and row.container != seen:
            yield Found(
                "wrong-container",
                f"{row.name} wants a {row.container}, and it came in a {seen}.",
                (test,),
                row.source,
            )


def preservative_rule(bench: Bench) -> Iterator[Found]:
    """Another preservative than the examination wants."""
    for test in bench.tests:
        row = bench.examinations.get(test)
        if row is not None and row.preservative != bench.arrival.preservative:
            wanted = row.preservative or "no preservative"
            yield Found(
                "wrong-preservative",
                f"{row.name} wants {wanted}, and it came with"
                f" {bench.arrival.preservative or 'none'}.",
                (test,),
                row.source,
            )


def expiry_rule(bench: Bench) -> Iterator[Found]:
    """The tube's date had passed when it was drawn."""
    expires, drawn = bench.arrival.expires_on, bench.expected.collected_at
    day = (drawn or bench.arrival.received_at).date()
    if expires is not None and expires < day:
        yield Found("tube-expired", f"The tube expired on {expires}.", bench.tests)


def fill_rules(bench: Bench) -> Iterator[Found]:
    """Filled less or more than its additive bears."""
    percent, container = bench.arrival.fill_percent, bench.container
    if percent is None or container is None:
        return
    limit = bench.catalogue.fill_limit(container.additive, bench.scene.choices)
    if percent < limit.minimum_percent:
        yield Found(
            "underfilled",
            f"Filled to {percent} %; {container.name} wants at least {limit.minimum_percent} %.",
            bench.tests,
            limit.source,
        )
    elif percent > limit.maximum_percent:
        yield Found(
            "overfilled",
            f"Filled to {percent} %; {container.name} takes at most {limit.maximum_percent} %.",
            bench.tests,
            limit.source,
        )


def clot_rule(bench: Bench) -> Iterator[Found]:
    """A clot where none may be: an anticoagulated tube."""
    additive = bench.additive
    if bench.arrival.clot and additive is not None and additive.yields in ANTICOAGULATED:
        yield Found("clotted", f"There is a clot in {additive.name}.", bench.tests)


def free_haemoglobin(bench: Bench) -> float | None:
    """Measured index in g/L, or the most that the visual grade means; None when not looked at."""
    if bench.arrival.haemolysis_g_per_l is not None:
        return bench.arrival.haemolysis_g_per_l
    grade = bench.arrival.haemolysis_grade
    if grade is None:
        return None
    for row in bench.catalogue.rows(HaemolysisGrade):
        if row.grade == grade:
            return row.up_to_g_per_l
    return None


def haemolysis_rules(bench: Bench) -> Iterator[Found]:
    """Test by test: free haemoglobin against what the test bears (Sonntag 1986 and others)."""
    free = free_haemoglobin(bench)
    if free is None:
        return
    rows = {row.test: row for row in bench.catalogue.rows(Interference)}
    for test in bench.tests:
        row = rows.get(test)
        if row is None or free < row.remark_from_g_per_l:
            continue
        refused = row.refuse_from_g_per_l > 0 and free >= row.refuse_from_g_per_l
        ways = {"high": "falsely high", "low": "falsely low", "either": "changed"}
        yield Found(
            "haemolysed" if refused else "haemolysed-remark",
            f"{bench.name(test)} may be {ways[row.direction]}: {free:g} g/L free haemoglobin,"
            f" limit {row.refuse_from_g_per_l if refused else row.remark_from_g_per_l:g}.",
            (test,),
            row.source,
        )


def leak_rule(bench: Bench) -> Iterator[Found]:
    """Leaking, cracked or open."""
    if bench.arrival.leaking:
        yield Found(
            "leaking", "It leaks or is broken: gloves, and wipe down the rest.", bench.tests
        )


def temperature_rules(bench: Bench) -> Iterator[Found]:
    """Warmer or colder at the opening than its tests bear."""
    celsius = bench.arrival.temperature_c
    if celsius is None:
        return
    bands = {band.condition: band for band in bench.catalogue.rows(TemperatureBand)}
    if celsius < 0 and not bench.expected.spun and bench.container is not None:
        yield Found("frozen-whole", f"It arrived at {celsius:g} °C and unseparated.", bench.tests)
        return
    for test in bench.tests:
        if not bench.is_blood_test(test):
            continue
        needs = {row.need: row for row in bench.catalogue.handling(test, bench.scene.choices)}
        if "ice_slurry" in needs and celsius > bands["fridge"].high_c:
            yield Found(
                "too-warm",
                f"{bench.name(test)} wants ice, and it arrived at {celsius:g} °C.",
                (test,),
                needs["ice_slurry"].source,
            )
        elif "warm_37c" in needs and celsius < bands["warm"].low_c:
            yield Found(
                "too-cold",
                f"{bench.name(test)} wants 37 °C, and it arrived at {celsius:g} °C.",
                (test,),
                needs["warm_37c"].source,
            )
        elif (
            "never_chilled" in needs
            and celsius <= bands["fridge"].high_c
            and not bench.expected.spun
        ):
            yield Found(
                "too-cold",
                f"{bench.name(test)} must not be chilled unseparated: {celsius:g} °C.",
                (test,),
                needs["never_chilled"].source,
            )


def collection_time_rule(bench: Bench) -> Iterator[Found]:
    """Nobody wrote down when it was collected."""
    if bench.expected.collected_at is None:
        yield Found("no-collection-time", "When was it collected? Ask.", bench.tests)


def requisition_rule(bench: Bench) -> Iterator[Found]:
    """Something is missing on the requisition, unless the chair said why identifiers are fewer."""
    lacking, said = bench.expected.incomplete, bench.expected.said_at_chair
    lacks = f"The requisition lacks {', '.join(lacking)}."
    if lacking and (said is None or said.finding != IDENTIFIER_MISSING):
        yield Found("requisition-incomplete", lacks, bench.tests)
    elif said is not None:
        read = "The identifiers were read at the chair, not said."
        if said.finding == IDENTIFIER_MISSING:
            read = lacks if lacking else "It was drawn with fewer identifiers than are asked."
        yield Found("identifiers-answered", f"{read} {said.who}: {said.why}.", bench.tests)


def timed_rule(bench: Bench) -> Iterator[Found]:
    """A timed collection without its volume or period cannot be computed."""
    row = materials(bench.catalogue).get(bench.expected.material)
    if row is None or not row.timed:
        return
    if bench.arrival.timed_minutes is None or bench.arrival.timed_volume_ml is None:
        yield Found("timed-volume-missing", "Ask for the whole volume and the period.", bench.tests)


RULES: tuple[Callable[[Bench], Iterator[Found]], ...] = (
    label_rules,
    identity_rule,
    duplicate_rule,
    material_rule,
    container_rule,
    vessel_rule,
    preservative_rule,
    expiry_rule,
    leak_rule,
    fill_rules,
    clot_rule,
    haemolysis_rules,
    temperature_rules,
    collection_time_rule,
    requisition_rule,
    timed_rule,
)
"""In the order in which they are looked at; age (``age.py``) and volume (``volume.py``) follow."""
