"""
A draw plan as a page shows it: names instead of codes, millilitres, and the geometry of the rack.

Everything said here stands in the plan or the catalogue; the page works nothing out about blood.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from cubital.catalogue import Catalogue
from cubital.catalogue.model import OrderProfile
from cubital.desk import words
from cubital.desk.draw.rack import HUB_RGB, Bar, TubeDrawing, bar, drawing
from cubital.desk.record.overrides import Override
from cubital.draw.values import DrawPlan, PlannedContainer, PlannedSite
from cubital.finding import Finding, Reason, Severity

PURPOSES = {
    "discard": "discard tube: throw away, no label",
    "culture_aerobic": "blood culture, aerobic",
    "culture_anaerobic": "blood culture, anaerobic",
    "culture_paediatric": "blood culture, paediatric",
}
HANDLING = {
    "ice_slurry": "into ice slurry at once",
    "never_chilled": "never chill",
    "dark": "keep dark",
    "warm_37c": "keep at 37 °C",
    "no_tourniquet": "no tourniquet",
    "no_fist": "no fist",
    "filled_whole": "fill to the mark",
    "upright": "keep upright",
    "no_alcohol_swab": "no alcohol on the skin",
    "quarantine_air": "no air in it",
    "to_lab_within_min": "at the bench within {} min",
    "spin_within_min": "spin within {} min",
}
VERDICTS = {
    "allowed": ("open", "allowed"),
    "by_order": ("order", "only on a doctor’s order"),
    "excluded": ("shut", "not this time"),
    "never": ("shut", "never"),
}
SHUT_HERE = VERDICTS["excluded"][1]
NO_ANSWERS: Mapping[str, Override] = MappingProxyType({})
SEVERITY_WORDS = {"stop": "Stop.", "ask": "Ask.", "note": "Note."}


@dataclass(frozen=True, slots=True)
class Why:
    """A reason with its source in words; ``basis`` only where it is not published."""

    sentence: str
    source: str
    basis: str
    layer: str


@dataclass(frozen=True, slots=True)
class Said:
    """A finding with its word, and its source in words."""

    kind: str
    word: str
    sentence: str
    code: str
    why: Why
    answer: Override | None = None


@dataclass(frozen=True, slots=True)
class TestShown:
    """A test in a tube."""

    short: str
    name: str
    why: Why


@dataclass(frozen=True, slots=True)
class Tube:
    """A container at its place in the rack."""

    position: int
    container: str
    additive: str
    colour: str
    rgb: str
    ink: str
    purpose: str
    fill: str
    between: str
    turns: str
    lot: str
    tests: tuple[TestShown, ...]
    handling: tuple[str, ...]
    cautions: tuple[str, ...]
    whys: tuple[Why, ...]
    drawing: TubeDrawing

    @property
    def named(self) -> str:
        """For who cannot see which tube a fold belongs to."""
        return f"tube {self.position}, {self.container}"

    @property
    def all_whys(self) -> tuple[Why, ...]:
        """The reasons of the tube, then of each test, each once."""
        return tuple(dict.fromkeys((*self.whys, *(test.why for test in self.tests))))


@dataclass(frozen=True, slots=True)
class SiteShown:
    """A site with its mark."""

    mark: str
    kind: str
    where: str
    verdict: str
    caution: str
    why: Why


@dataclass(frozen=True, slots=True)
class PlanPage:
    """What the template of a plan reads."""

    plan: DrawPlan
    urgent: tuple[Said, ...]
    notes: tuple[Said, ...]
    tubes: tuple[Tube, ...]
    sites: tuple[SiteShown, ...]
    answered: tuple[Override, ...]
    rare_sites: tuple[SiteShown, ...]
    device: str
    gauge: str
    hub_colour: str
    hub_rgb: str
    draw_time: str
    device_whys: tuple[Why, ...]
    allowance_whys: tuple[Why, ...]
    bar: Bar | None
    not_drawn: tuple[tuple[str, Why], ...]
    choices: tuple[tuple[str, Why], ...]
    order_profile: str
    aim: str
    shut_here: tuple[tuple[str, Why], ...]
    technique: tuple[Why, ...]


def why(reason: Reason | Finding, catalogue: Catalogue) -> Why:
    """Say a reason's source in words."""
    source = catalogue.sources.get(reason.source)
    if source is None:
        return Why(reason.sentence, reason.source, "", reason.layer)
    year = f" ({source.year})" if source.year else ""
    part = f", {source.part}" if source.part else ""
    said_already = source.basis == "published" or source.basis in source.title.casefold()
    basis = "" if said_already else source.basis
    return Why(reason.sentence, f"{source.title}{year}{part}", basis, reason.layer)


def said(
    findings: Iterable[Finding],
    catalogue: Catalogue,
    answers: Mapping[str, Override] = NO_ANSWERS,
) -> tuple[Said, ...]:
    """Findings in words, the hardest first; those that ask with the answer given already."""
    order = list(SEVERITY_WORDS)
    ranked = sorted(findings, key=lambda each: order.index(each.severity))
    return tuple(
        Said(
            kind=str(each.severity),
            word=SEVERITY_WORDS[each.severity],
            sentence=each.sentence,
            code=each.code,
            why=why(each, catalogue),
            answer=answers.get(each.code) if each.severity == Severity.ASK else None,
        )
        for each in ranked
    )


def handling_words(needs: Iterable[tuple[str, int]]) -> tuple[str, ...]:
    """Demands on a specimen, said in full."""
    return tuple(HANDLING.get(need, words.plain(need)).format(value) for need, value in needs)


def turns(low: int, high: int) -> str:
    """Mixing in words."""
    if not high:
        return "do not mix"
    return f"turn over {low}–{high} times" if low != high else f"turn over {low} times"


def tube(planned: PlannedContainer, catalogue: Catalogue) -> Tube:
    """One container of the rack."""
    row = catalogue.containers[planned.container]
    colour = catalogue.colours[planned.colour]
    additive = catalogue.additives[planned.additive]
    low, high = words.ml(planned.fill_min_ul), words.ml(planned.fill_max_ul)
    return Tube(
        position=planned.position,
        container=row.name,
        additive=additive.name,
        colour=colour.name,
        rgb=colour.rgb,
        ink=colour.ink,
        purpose=PURPOSES.get(planned.purpose, ""),
        fill=words.ml(planned.fill_ul),
        between=f"{low} to {high}" if low != high else low,
        turns=turns(*planned.inversions),
        lot=planned.lot,
        tests=tuple(
            TestShown(
                catalogue.tests[each.code].short,
                catalogue.tests[each.code].name,
                why(each.reason, catalogue),
            )
            for each in planned.tests
        ),
        handling=handling_words(planned.handling),
        cautions=planned.cautions,
        whys=tuple(why(each, catalogue) for each in planned.reasons),
        drawing=drawing(planned, row),
    )


def sites(planned: Iterable[PlannedSite], catalogue: Catalogue) -> tuple[SiteShown, ...]:
    """
    Sites in the plan's order, both sides of one site on one line where the same is said of both.

    Open sites are numbered; the others carry a mark.
    """
    lines: dict[tuple[str, str, str, Why], list[str]] = {}
    for each in planned:
        key = (each.site, each.verdict, each.caution, why(each.reason, catalogue))
        lines.setdefault(key, []).append(each.side)
    shown, number = [], 0
    for (code, verdict, caution, reason), sides in lines.items():
        kind, said_verdict = VERDICTS.get(verdict, ("open", words.plain(verdict)))
        number += kind == "open"
        row = catalogue.sites.get(code)
        name = row.name if row else words.plain(code)
        side = " or ".join(filter(None, sides))
        shown.append(
            SiteShown(
                mark={"shut": "✕", "order": "?"}.get(kind, str(number)),
                kind=kind,
                where=f"{name}, {side}" if side else name,
                verdict=said_verdict,
                caution=caution,
                why=reason,
            )
        )
    return tuple(shown)


def together(shown: Iterable[SiteShown]) -> tuple[tuple[str, Why], ...]:
    """Sites that are shut for one and the same reason, on one line."""
    lines: dict[Why, list[str]] = {}
    for each in shown:
        lines.setdefault(each.why, []).append(each.where)
    return tuple(("; ".join(where), reason) for reason, where in lines.items())


def chosen(topic: str, option: str, catalogue: Catalogue) -> Why:
    """What was chosen where published sources disagree, in the catalogue's words."""
    row = catalogue.option(topic, {topic: option})
    return why(catalogue.reason(row, row.meaning), catalogue)


def plan_page(
    plan: DrawPlan,
    findings: Iterable[Finding],
    catalogue: Catalogue,
    answers: Mapping[str, Override] = NO_ANSWERS,
) -> PlanPage:
    """Everything the plan page shows."""
    shown = sites(plan.sites, catalogue)
    found = said(findings, catalogue, answers)
    shown_codes = {each.code for each in found if each.answer}
    device = catalogue.devices.get(plan.device.device)
    profiles = {row.code: row.name for row in catalogue.rows(OrderProfile)}
    return PlanPage(
        plan=plan,
        urgent=tuple(each for each in found if each.kind != "note"),
        notes=tuple(each for each in found if each.kind == "note"),
        tubes=tuple(tube(each, catalogue) for each in plan.containers),
        sites=tuple(each for each in shown if each.kind == "open"),
        answered=tuple(a for code, a in answers.items() if code not in shown_codes),
        rare_sites=tuple(
            each for each in shown if each.kind != "open" and each.verdict != SHUT_HERE
        ),
        device=device.name if device else words.plain(plan.device.device),
        gauge=f"{plan.device.gauge} G" if plan.device.gauge else "",
        hub_colour=plan.device.hub_colour,
        hub_rgb=HUB_RGB.get(plan.device.hub_colour, "#ffffff"),
        draw_time=words.seconds(plan.device.draw_time_s) if plan.device.draw_time_s else "",
        device_whys=tuple(why(each, catalogue) for each in plan.device.reasons),
        allowance_whys=tuple(why(each, catalogue) for each in plan.allowance.reasons),
        bar=bar(plan),
        not_drawn=tuple(
            (catalogue.tests[each.test].name, why(each.reason, catalogue))
            for each in plan.not_drawn
        ),
        choices=tuple(
            (words.plain(topic), chosen(topic, option, catalogue)) for topic, option in plan.choices
        ),
        order_profile=profiles.get(plan.order_profile, plan.order_profile),
        aim=words.plain(plan.aim),
        shut_here=together(each for each in shown if each.verdict == SHUT_HERE),
        technique=tuple(why(each, catalogue) for each in plan.technique),
    )
