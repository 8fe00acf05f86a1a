"""
Where blood may be taken, in order, and where not, with the reason.

Sites are rows of sites.csv; what a condition of the patient does to them is a row of
site_conditions.csv.  Ages in days.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from cubital.catalogue import Catalogue
from cubital.catalogue.model import Row, Site, SiteCondition
from cubital.draw.values import PlannedSite
from cubital.finding import Finding, Severity
from cubital.requisition.values import Condition, Patient

VERDICTS = ("allowed", "by_order", "excluded", "never")
SIDES = ("left", "right")
DEPTH_TOPIC = "heel-depth"
HEEL = "heel"
HAND = "hand_back"
HAND_VEINS = "hand"
"""Noted of veins: the elbow gives none, the back of the hand does."""


@dataclass(frozen=True, slots=True)
class SiteChoice:
    """The sites: allowed ones first in order of preference, then by order, excluded, never."""

    sites: tuple[PlannedSite, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class _Place:
    """A site on a side, with what the patient's conditions did to it."""

    site: Site
    side: str
    shut_by: SiteCondition | None = None
    after: SiteCondition | None = None  # allowed, but another limb comes first


def choose_sites(
    patient: Patient,
    catalogue: Catalogue,
    choices: Mapping[str, str],
    *,
    route: str,
    age: int | None,
    asked_site: str = "",
    asked_side: str = "",
) -> SiteChoice:
    """
    The sites for a draw and the findings about them.

    ``age`` is in days, None when unknown (an adult's sites hold then).  ``asked_site`` and
    ``asked_side`` are what somebody wants: a finding says when it is refused.

    A condition of severity stop shuts what it covers.  One of severity ask shuts it too while
    another site of the route stays allowed; when none does, its sites are listed as ``by_order``
    and a finding asks for that order.
    """
    years = catalogue.number("adult_from_days") if age is None else age
    places = [
        _place(site, side, patient, catalogue)
        for site in catalogue.sites.values()
        if site.route in (route, "never") and site.age_from_days <= years < site.age_to_days
        for side in (SIDES if site.sided and site.verdict != "never" else ("",))
    ]
    free = any(_verdict(place, True) == "allowed" for place in places)
    hand = patient.veins == HAND_VEINS
    ordered = sorted(places, key=lambda place: _order(place, free, hand=hand))
    planned = tuple(_planned(place, free, catalogue, choices) for place in ordered)
    findings = _unclear(patient, catalogue) + _none_free(ordered, free, catalogue)
    if asked_site:
        findings += _asked(asked_site, asked_side, planned, catalogue)
    return SiteChoice(planned, findings)


# ---------------------------------------------------------------- what conditions do


def _place(site: Site, side: str, patient: Patient, catalogue: Catalogue) -> _Place:
    """A site on a side with the hardest condition that shuts it, and one that puts it last."""
    rules = _rules(catalogue)
    shut = after = None
    for condition in patient.conditions:
        rule = rules.get(condition.code)
        if rule is None or (condition.side in SIDES and side and condition.side != side):
            continue
        effect = _effect(rule, condition, site, catalogue)
        if effect == "shut" and (shut is None or rule.severity == "stop"):
            shut = rule
        elif effect == "after" and after is None:
            after = rule
    return _Place(site, side, shut, after)


def _rules(catalogue: Catalogue) -> dict[str, SiteCondition]:
    return {row.condition: row for row in catalogue.rows(SiteCondition)}


def _effect(rule: SiteCondition, condition: Condition, site: Site, catalogue: Catalogue) -> str:
    """``shut``, ``after`` (below the place of the condition) or "" for a site of its side."""
    where = catalogue.sites.get(condition.site)
    if rule.scope == "site":
        return "shut" if condition.site == site.code else ""
    if site.limb != (where.limb or "arm" if where is not None else "arm"):
        return ""
    # Where the condition sits is not always written down: then the whole limb is shut.
    if rule.scope == "below" and where is not None and site.level > where.level:
        return "after"
    return "shut"


def _verdict(place: _Place, free: bool) -> str:
    if place.site.verdict == "never" or place.site.route == "never":
        return "never"
    if place.shut_by is None:
        return place.site.verdict
    return "by_order" if place.shut_by.severity == "ask" and not free else "excluded"


def _order(place: _Place, free: bool, *, hand: bool) -> tuple[int, bool, bool, int, str, str]:
    """By verdict and rank; the hand comes first where it is noted that the elbow gives none."""
    site = place.site
    number = VERDICTS.index(_verdict(place, free))
    elbow = hand and site.code != HAND
    return number, place.after is not None, elbow, site.rank, site.code, place.side


def _planned(
    place: _Place, free: bool, catalogue: Catalogue, choices: Mapping[str, str]
) -> PlannedSite:
    site, verdict = place.site, _verdict(place, free)
    if place.shut_by is not None and verdict != "never":
        reason = catalogue.reason(place.shut_by, place.shut_by.sentence)
    elif verdict == "never":
        reason = catalogue.reason(site, site.caution or f"{site.name}: never for blood.")
    elif place.after is not None:
        reason = catalogue.reason(place.after, place.after.sentence)
    else:
        by = "by order only, " if verdict == "by_order" else ""
        reason = catalogue.reason(site, f"{site.name}: {by}preference {site.rank}.")
    cautions = [site.caution]
    if site.code == HEEL:
        cautions.append(catalogue.option(DEPTH_TOPIC, choices).meaning)
        preterm_mm = catalogue.number("heel_depth_preterm_um") / 1000
        cautions.append(f"In a preterm infant no deeper than {preterm_mm:g} mm.")
    if place.after is not None and verdict in ("allowed", "by_order"):
        cautions.append(place.after.sentence)
    caution = " ".join(text for text in cautions if text)
    return PlannedSite(site.code, place.side, verdict, caution, reason)


# ---------------------------------------------------------------- findings


def _finding(code: str, severity: Severity, sentence: str, row: Row, subject: str) -> Finding:
    return Finding(code, severity, sentence, row.source, subject, row.layer)


def _unclear(patient: Patient, catalogue: Catalogue) -> tuple[Finding, ...]:
    """Conditions whose side or place is not written down, or whose site is not in the tables."""
    found = []
    rules = _rules(catalogue)
    for condition in patient.conditions:
        rule = rules.get(condition.code)
        if rule is None:
            continue
        name = condition.code.replace("_", " ")
        if condition.site and condition.site not in catalogue.sites:
            sentence = (
                f"The site {condition.site} noted with {name} is not in the tables: write one of "
                f"the sites of the plan."
            )
            found.append(_finding("condition-site", Severity.ASK, sentence, rule, condition.code))
        elif rule.scope == "site" and not condition.site:
            sentence = f"It is not noted where the {name} is: look, and keep away from it."
            found.append(_finding("condition-site", Severity.ASK, sentence, rule, condition.code))
        elif rule.scope != "site" and condition.side not in (*SIDES, "both"):
            sentence = (
                f"It is not noted on which side the {name} is, so both sides are shut: ask, and "
                f"write the side down."
            )
            found.append(_finding("condition-side", Severity.ASK, sentence, rule, condition.code))
    return tuple(found)


def _none_free(places: list[_Place], free: bool, catalogue: Catalogue) -> tuple[Finding, ...]:
    """When no site is allowed: what an order could open, or that nothing can."""
    if free or not places:
        return ()
    shut = next((place.shut_by for place in places if place.shut_by is not None), None)
    row: Row = shut if shut is not None else places[0].site
    if any(_verdict(place, free) == "by_order" for place in places):
        sentence = (
            "No site is free: draw only where the responsible doctor orders it, and write down who."
        )
        return (_finding("site-by-order", Severity.ASK, sentence, row, ""),)
    sentence = "Every site is shut for this patient: do not draw, ask the responsible doctor."
    return (_finding("site-none", Severity.STOP, sentence, row, ""),)


def _asked(
    code: str, side: str, planned: tuple[PlannedSite, ...], catalogue: Catalogue
) -> tuple[Finding, ...]:
    """What is wrong with the site that somebody wants."""
    site = catalogue.sites.get(code)
    same = [p for p in planned if p.site == code and (not side or p.side in (side, ""))]
    if site is None or not same:
        name = code if site is None else site.name
        sentence = f"{name} is no site for this draw: choose one of the sites of the plan."
        row: Row = site if site is not None else next(iter(catalogue.sites.values()))
        return (_finding("site-refused", Severity.STOP, sentence, row, code),)
    best = min(same, key=lambda p: VERDICTS.index(p.verdict))
    if best.verdict == "allowed":
        return ()
    name = f"{best.side} {site.name}".strip()
    code_, severity = ("site-refused", Severity.STOP)
    start = f"Blood is not taken from the {name}."
    if best.verdict == "by_order":
        code_, severity = "site-by-order", Severity.ASK
        start = f"Blood is taken from the {name} only by a doctor's order."
    return (
        Finding(
            code_,
            severity,
            f"{start} {best.reason.sentence}",
            best.reason.source,
            code,
            best.reason.layer,
        ),
    )
