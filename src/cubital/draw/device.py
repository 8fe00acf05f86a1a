"""
Which route, which device and which gauge.

Ages in days, volumes in µL of blood, times in s.  The candidates are rows of device_rules.csv
under the option of topic ``device-table``.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from cubital.catalogue import Catalogue
from cubital.catalogue.model import Container, Device, DeviceRule, PatientCaution, Row
from cubital.draw.physics import draw_time_s, tourniquet_finding
from cubital.draw.values import PlannedDevice
from cubital.finding import Finding, Reason, Severity
from cubital.requisition.values import Patient

CAPILLARY_FORMS = ("micro",)
"""Containers that take blood in drops from a skin prick."""
POOR_VEINS = ("thin", "fragile", "hand")
"""Veins for which a rule was written on purpose: no rule for others takes its place for speed."""
THIN = "thin"


@dataclass(frozen=True, slots=True)
class RouteChoice:
    """``venous`` or ``capillary``, why, and what is wrong with it."""

    route: str
    reasons: tuple[Reason, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class DeviceChoice:
    """A device (code "" and gauge 0 when none fits, then a finding says so) and the findings."""

    device: PlannedDevice
    findings: tuple[Finding, ...]


# ---------------------------------------------------------------- venous or capillary


def capillary_possible(test: str, catalogue: Catalogue) -> bool:
    """
    Whether a test can be done on blood from a prick of the skin.

    It can when one of its accepted additives comes in a micro-tube and is of no order class that
    the setting ``capillary_never_classes`` names, and ``capillary_never_tests`` does not name it.
    """
    if test in catalogue.word("capillary_never_tests").split(";"):
        return False
    never = set(catalogue.word("capillary_never_classes").split(";"))
    small = {c.additive for c in catalogue.containers.values() if c.form in CAPILLARY_FORMS}
    return any(
        row.additive in small and catalogue.additives[row.additive].order_class not in never
        for row in catalogue.accepted(test)
    )


def choose_route(
    patient: Patient,
    catalogue: Catalogue,
    choices: Mapping[str, str],
    *,
    age: int | None,
    tests: Sequence[str],
    volume_ul: int,
    asked: str = "",
    devices: Sequence[str] | None = None,
) -> RouteChoice:
    """
    The route of a draw: what was asked for, else a proposal by topic ``infant-route``.

    ``age`` is in days, None when unknown (never capillary by itself then); ``volume_ul`` is what
    the draw takes from a skin prick, in the smallest containers; ``asked`` is ``venous``,
    ``capillary`` or "" for a proposal; ``devices`` are the codes on hand, None for all.

    A capillary route that was asked for and cannot serve carries stop findings.
    """
    option = catalogue.option("infant-route", choices)
    until = catalogue.setting("capillary_to_days")
    if asked == "venous":
        reason = catalogue.reason(until, "A venous draw was asked for.")
        return RouteChoice("venous", (reason,), ())
    against = _against_capillary(catalogue, tests, volume_ul, devices)
    if asked == "capillary":
        reason = catalogue.reason(until, "A capillary draw was asked for.")
        return RouteChoice("capillary", (reason,), against)
    if age is None or age >= int(until.value):
        sentence = "Beyond infancy blood is taken from a vein unless a skin prick is asked for."
        return RouteChoice("venous", (catalogue.reason(until, sentence),), ())
    if against:
        first = against[0]
        return RouteChoice("venous", (Reason(first.sentence, first.source, first.layer),), ())
    if patient.veins in catalogue.word("capillary_veins").split(";"):
        sentence = f"The veins are noted as {patient.veins}: a skin prick gives what is needed."
        reason = catalogue.reason(catalogue.setting("capillary_veins"), sentence)
        return RouteChoice("capillary", (reason,), ())
    return RouteChoice(option.option, (catalogue.reason(option, option.meaning),), ())


def _against_capillary(
    catalogue: Catalogue, tests: Sequence[str], volume_ul: int, devices: Sequence[str] | None
) -> tuple[Finding, ...]:
    classes = catalogue.setting("capillary_never_classes")
    most = catalogue.setting("capillary_max_ul")
    found = [
        _stop(
            "capillary-test",
            f"{catalogue.tests[test].name} cannot be done on blood from a skin prick: draw it "
            f"from a vein.",
            classes,
            test,
        )
        for test in tests
        if not capillary_possible(test, catalogue)
    ]
    if volume_ul > int(most.value):
        sentence = (
            f"{volume_ul / 1000:.1f} mL is more than the {int(most.value) / 1000:.1f} mL a skin "
            f"prick can give: draw from a vein, or ask for fewer tests."
        )
        found.append(_stop("capillary-volume", sentence, most))
    if not any(device.route == "capillary" for device in _on_hand(catalogue, devices)):
        sentence = "No lancet is on hand: draw from a vein, or fetch one."
        found.append(_stop("capillary-device", sentence, most))
    return tuple(found)


def _stop(code: str, sentence: str, row: Row, subject: str = "") -> Finding:
    return Finding(code, Severity.STOP, sentence, row.source, subject, row.layer)


def _on_hand(catalogue: Catalogue, devices: Sequence[str] | None) -> tuple[Device, ...]:
    return tuple(
        device for device in catalogue.devices.values() if devices is None or device.code in devices
    )


# ---------------------------------------------------------------- device and gauge


def choose_device(
    patient: Patient,
    catalogue: Catalogue,
    choices: Mapping[str, str],
    *,
    route: str,
    age: int | None,
    volume_ul: int,
    containers: int,
    order_classes: Collection[str],
    devices: Sequence[str] | None = None,
    open_one: Container | None = None,
) -> DeviceChoice:
    """
    The device and gauge: the lowest rank that matches, harms no test, and is quick enough.

    ``age`` is in days, None when unknown (an adult's rules hold then); ``volume_ul`` and
    ``containers`` are those of the whole rack; ``order_classes`` those of the additives in it:
    the classes of the setting ``fine_gauge_harms_classes`` forbid gauges finer than
    ``finest_gauge_coagulation``; ``devices`` are the codes on hand, None for all;
    ``open_one`` is a container without a vacuum for which they are only those that can fill it.
    """
    rules = matching_rules(patient, catalogue, choices, route=route, age=age, devices=devices)
    if not rules:
        return _none_fits(route, catalogue, open_one)
    harmed = _harmed(order_classes, catalogue)
    kept, findings = _without_harm(rules, harmed, catalogue)
    rule, slow = _quick_enough(kept, volume_ul, containers, catalogue)
    time_s = draw_time_s(rule.gauge, volume_ul, containers, catalogue)
    reasons = [catalogue.reason(rule, rule.sentence), *_for_bleeding(patient, rule, catalogue)]
    if rule is not rules[0]:
        reasons.append(_passed_over(rules[0], rule, kept, catalogue))
    if open_one is not None:
        sentence = (
            f"The {open_one.name} fills without a vacuum: it takes a syringe, or the open tubing "
            f"of a winged set."
        )
        reasons.append(Reason(sentence, "common_practice"))
    device = catalogue.devices[rule.device]
    findings += slow + _device_findings(device, volume_ul, time_s, harmed, catalogue)
    hub = catalogue.needles[rule.gauge].hub_colour if rule.gauge else ""
    planned = PlannedDevice(rule.device, rule.gauge, hub, time_s, tuple(reasons))
    return DeviceChoice(planned, findings)


def matching_rules(
    patient: Patient,
    catalogue: Catalogue,
    choices: Mapping[str, str],
    *,
    route: str,
    age: int | None,
    devices: Sequence[str] | None = None,
) -> tuple[DeviceRule, ...]:
    """
    The rules of the chosen table that fit the age, the veins, the route and what is on hand.

    The first is proposed.  Where the veins are not known, rules for good veins come after those
    for any.
    """
    held = ("", f"device-table:{catalogue.option('device-table', choices).option}")
    years = catalogue.number("adult_from_days") if age is None else age
    unknown = patient.veins == "unknown"
    veins = ("any", "good" if unknown else patient.veins)
    if _bleeds(patient, catalogue) and patient.veins not in POOR_VEINS:
        veins = ("any", THIN)
    usable = {d.code for d in _on_hand(catalogue, devices) if d.route == route}
    rules = [
        rule
        for rule in catalogue.rows(DeviceRule)
        if rule.choice in held
        and rule.device in usable
        and rule.age_from_days <= years < rule.age_to_days
        and rule.veins in veins
    ]
    return tuple(
        sorted(rules, key=lambda rule: (unknown and rule.veins == "good", rule.rank, rule.gauge))
    )


def _bleeds(patient: Patient, catalogue: Catalogue) -> str:
    """The condition for which good veins get the small needle of thin ones, "" for none."""
    named = catalogue.word("small_needle_conditions").split(";")
    return next((one.code for one in patient.conditions if one.code in named), "")


def _for_bleeding(patient: Patient, rule: DeviceRule, catalogue: Catalogue) -> tuple[Reason, ...]:
    """Why good veins get the needle of thin ones."""
    code = _bleeds(patient, catalogue)
    cautions = {row.condition: row for row in catalogue.rows(PatientCaution)}
    if rule.veins != THIN or patient.veins == THIN or code not in cautions:
        return ()
    sentence = f"Noted: {code.replace('_', ' ')}. So the small needle of a thin vein is taken."
    return (catalogue.reason(cautions[code], sentence),)


def _none_fits(route: str, catalogue: Catalogue, open_one: Container | None) -> DeviceChoice:
    sentence = (
        f"No device on hand fits this patient for a {route} draw: fetch one that the device table "
        f"names, or ask a senior collector."
    )
    if open_one is not None:
        sentence = (
            f"The {open_one.name} fills without a vacuum, and no device on hand can do that: fetch "
            f"a syringe or a winged set, or ask a senior collector."
        )
    table = catalogue.option("device-table")
    finding = Finding("device-none", Severity.ASK, sentence, table.source, "", table.layer)
    return DeviceChoice(PlannedDevice("", 0, "", 0.0, ()), (finding,))


def _harmed(order_classes: Collection[str], catalogue: Catalogue) -> bool:
    """Whether the rack holds an additive whose tests a fine bore or a slow syringe harms."""
    return not set(order_classes).isdisjoint(catalogue.word("fine_gauge_harms_classes").split(";"))


def _without_harm(
    rules: tuple[DeviceRule, ...], harmed: bool, catalogue: Catalogue
) -> tuple[tuple[DeviceRule, ...], tuple[Finding, ...]]:
    """
    The rules that harm no test; all of them, with an ask, when every one does.

    Where a poor vein is noted, the finest of the harmless gauges comes first.
    """
    finest = catalogue.setting("finest_gauge_coagulation")
    kept = tuple(rule for rule in rules if rule.gauge <= int(finest.value))
    if not harmed or kept == rules:
        return rules, ()
    poor = rules[0].veins
    if kept and poor in POOR_VEINS:
        return tuple(sorted(kept, key=lambda r: (r.veins != poor, -r.gauge, r.rank))), ()
    if kept:
        return kept, ()
    sentence = (
        f"Every device that fits is finer than {finest.value} G, which harms coagulation tests: "
        f"use a wider gauge if the vein allows it, or ask the laboratory."
    )
    finding = Finding("gauge-coagulation", Severity.ASK, sentence, finest.source, "", finest.layer)
    return rules, (finding,)


def _quick_enough(
    rules: tuple[DeviceRule, ...], volume_ul: int, containers: int, catalogue: Catalogue
) -> tuple[DeviceRule, tuple[Finding, ...]]:
    """
    The first rule, or the first alike that is quick enough; else the quickest alike, with a note.

    Alike is what draws in the same way (never a syringe for speed) and is meant for such veins.
    """
    long = catalogue.setting("draw_time_long_s")
    first = rules[0]

    def time_s(rule: DeviceRule) -> float:
        return draw_time_s(rule.gauge, volume_ul, containers, catalogue)

    def alike(rule: DeviceRule) -> bool:
        draws_by = catalogue.devices[rule.device].draws_by
        return draws_by == catalogue.devices[first.device].draws_by and (
            rule.veins == first.veins if first.veins in POOR_VEINS else True
        )

    if first.gauge == 0:  # a lancet has no other bore
        return first, ()
    others = [rule for rule in rules if alike(rule)]
    for rule in others:
        if time_s(rule) <= float(long.value):
            return rule, ()
    best = min(others, key=time_s)
    sentence = (
        f"The draw is estimated at {time_s(best):.0f} s with {best.gauge} G, longer than "
        f"{long.value} s: watch for clotting and haemolysis, or draw fewer containers."
    )
    return best, (Finding("draw-long", Severity.NOTE, sentence, long.source, "", long.layer),)


def _passed_over(
    first: DeviceRule, taken: DeviceRule, kept: tuple[DeviceRule, ...], catalogue: Catalogue
) -> Reason:
    if first not in kept:
        finest = catalogue.setting("finest_gauge_coagulation")
        return catalogue.reason(
            finest,
            f"{first.gauge} G was passed over: coagulation tests want no finer a bore "
            f"than {finest.value} G.",
        )
    long = catalogue.setting("draw_time_long_s")
    return catalogue.reason(
        long,
        f"{first.gauge} G was passed over for {taken.gauge} G: so much blood would take "
        f"longer than {long.value} s.",
    )


def _device_findings(
    device: Device, volume_ul: int, time_s: float, harmed: bool, catalogue: Catalogue
) -> tuple[Finding, ...]:
    if device.route == "capillary":
        return ()
    tourniquet = tourniquet_finding(time_s, catalogue)
    found = () if tourniquet is None else (tourniquet,)
    if device.draws_by != "plunger":
        return found
    return found + _syringe_findings(volume_ul, harmed, catalogue)


def _syringe_findings(volume_ul: int, harmed: bool, catalogue: Catalogue) -> tuple[Finding, ...]:
    found = []
    most = catalogue.setting("syringe_max_ul")
    if volume_ul > int(most.value):
        sentence = (
            f"{volume_ul / 1000:.1f} mL does not go into one syringe of "
            f"{int(most.value) / 1000:.0f} mL: have another one ready."
        )
        found.append(Finding("syringe-size", Severity.NOTE, sentence, most.source, "", most.layer))
    if harmed:
        within = catalogue.setting("syringe_transfer_max_s")
        sentence = (
            f"Blood in a syringe begins to clot: bring it into the citrate tube within "
            f"{within.value} s, and mix at once."
        )
        found.append(
            Finding("syringe-clot", Severity.NOTE, sentence, within.source, "", within.layer)
        )
    return tuple(found)
