"""
A draw plan on a terminal: the rack, the device, the sites, what was found, and why.
"""

from __future__ import annotations

from collections.abc import Iterator

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from cubital.catalogue import Catalogue
from cubital.draw import DrawPlan, Place, PlannedContainer
from cubital.finding import Finding, Reason, Severity
from cubital.requisition.values import Requisition

STYLES = {Severity.STOP: "bold red", Severity.ASK: "bold yellow", Severity.NOTE: "cyan"}
FIGURES = len("10.00–10.00")
NARROW = 72
"""Columns of a terminal under which the rack is a list, not a table."""
VERDICTS = {"allowed": "green", "by_order": "yellow", "excluded": "red", "never": "red"}


def millilitres(volume_ul: int) -> str:
    """A volume as it is read on a tube."""
    return f"{volume_ul / 1000:.2f}"


def need_words(need: str, minutes: int) -> str:
    """A demand of handling.csv in words: ``to lab within 15 min``."""
    return need.replace("_min", f" {minutes} min").replace("_", " ")


def show_plan(
    plan: DrawPlan, requisition: Requisition, catalogue: Catalogue, place: Place, *, why: bool
) -> None:
    """
    Print a plan.

    Args:
        plan: to be printed.
        requisition: it was made for.
        catalogue: it was made with, for names.
        place: it was made for.
        why: print the reason and source of each line too.
    """
    console = Console(highlight=False, markup=False, emoji=False)
    _head(console, plan, requisition, place)
    narrow = console.width < NARROW
    console.print(_list(plan, catalogue) if narrow else _rack(plan, catalogue))
    lines = Table.grid(padding=(0, 2))
    for label, text in (
        *_device_and_blood(plan, catalogue),
        *_sites(plan, catalogue),
        *_technique(plan),
        *_findings(plan),
        *_choices(plan),
    ):
        lines.add_row(label, text)
    console.print(lines)
    if why:
        _why(console, plan, catalogue)
    console.print()
    for caution in plan.cautions:
        console.print(caution, style="italic dim")
    console.print()


def _head(console: Console, plan: DrawPlan, requisition: Requisition, place: Place) -> None:
    patient = requisition.patient
    born = f"born {patient.birth_date}" if patient.birth_date else "birth date unknown"
    who = ", ".join(filter(None, (patient.family_name, patient.given_name))) or "name unknown"
    title = Text(f"Requisition {requisition.number}", style="bold")
    title.append(f"   {who}   {born}   No {patient.number or 'unknown'}", style="not bold")
    if requisition.urgent:
        title.append("   URGENT", style="bold red")
    console.print(title)
    console.print(
        f"for {requisition.collect_at:%Y-%m-%d %H:%M} at {place.altitude_m} m, {plan.route}, "
        f"order of draw {plan.order_profile}, aim {plan.aim.replace('_', ' ')}, tables "
        f"{plan.edition} ({', '.join(plan.layers)})",
        style="dim",
    )


def _rack(plan: DrawPlan, catalogue: Catalogue) -> Table:
    table = Table(box=SIMPLE_HEAD, pad_edge=False)
    for name in ("", "closure", "container", "mL", "turns", "tests", "mind"):
        figures = name in ("", "mL", "turns")  # on a narrow terminal words break, figures do not
        table.add_column(
            name,
            justify="right" if name in ("", "mL") else "left",
            no_wrap=figures,
            min_width=FIGURES if name == "mL" else None,
            overflow="fold",
        )
    for one in plan.containers:
        ends = f"\n{millilitres(one.fill_min_ul)}–{millilitres(one.fill_max_ul)}"
        colour = catalogue.colours[one.colour]
        tests = ", ".join(catalogue.tests[test.code].short for test in one.tests)
        table.add_row(
            str(one.position),
            Text.assemble(("██ ", colour.rgb), colour.name),
            Text(_container(one, catalogue)),
            Text.assemble(millilitres(one.fill_ul), (ends, "dim")),
            _turns(one),
            Text("thrown away" if one.purpose == "discard" else tests),
            Text(_mind(one)),
        )
    return table


def _list(plan: DrawPlan, catalogue: Catalogue) -> Table:
    """The rack where a table has no room: one container below the other."""
    rack = Table.grid(padding=(0, 2))
    for one in plan.containers:
        colour = catalogue.colours[one.colour]
        ends = f"{millilitres(one.fill_min_ul)}–{millilitres(one.fill_max_ul)}"
        tests = ", ".join(catalogue.tests[test.code].short for test in one.tests)
        lines = [
            f"{millilitres(one.fill_ul)} mL ({ends}), {_turns(one)} turns",
            "thrown away" if one.purpose == "discard" else tests,
            *filter(None, [_mind(one)]),
        ]
        head = Text.assemble(("██ ", colour.rgb), f"{colour.name}, {_container(one, catalogue)}")
        rack.add_row(str(one.position), Text("\n").join([head, *map(Text, lines)]))
    return rack


def _turns(one: PlannedContainer) -> str:
    return "–".join(str(turns) for turns in dict.fromkeys(one.inversions))


def _container(one: PlannedContainer, catalogue: Catalogue) -> str:
    lot = f"\nlot {one.lot}" if one.lot else ""
    return f"{catalogue.containers[one.container].name}{lot}"


def _mind(one: PlannedContainer) -> str:
    needs = ", ".join(need_words(need, minutes) for need, minutes in one.handling)
    return "\n".join(filter(None, (needs, *one.cautions)))


Lines = Iterator[tuple[Text, Text]]


def _device_and_blood(plan: DrawPlan, catalogue: Catalogue) -> Lines:
    device = plan.device
    name = catalogue.devices[device.device].name if device.device else "none"
    gauge = f", {device.gauge} G ({device.hub_colour})" if device.gauge else ""
    yield Text("device", "bold"), Text(f"{name}{gauge}, about {device.draw_time_s:.0f} s")
    blood = plan.allowance
    limit = "" if blood.limit_ul is None else f", at most {millilitres(blood.limit_ul)} mL"
    taken = f", {millilitres(blood.taken_24h_ul)} mL taken in 24 h" if blood.taken_24h_ul else ""
    yield Text("blood", "bold"), Text(f"{millilitres(blood.planned_ul)} mL{limit}{taken}")


def _sites(plan: DrawPlan, catalogue: Catalogue) -> Lines:
    """Sites of the same verdict and caution share a line; what is never allowed has one."""
    groups: dict[tuple[str, str], list[str]] = {}
    for one in plan.sites:
        name = " ".join(filter(None, (one.side, catalogue.sites[one.site].name)))
        said = one.reason.sentence if one.verdict == "excluded" else one.caution
        groups.setdefault((one.verdict, said if one.verdict != "never" else ""), []).append(name)
    for (verdict, said), names in groups.items():
        label = Text(verdict.replace("_", " "), VERDICTS[verdict])
        yield label, Text.assemble(", ".join(names), (f"  {said}" if said else "", "dim"))


def _technique(plan: DrawPlan) -> Lines:
    for label, one in zip(("how", *[""] * len(plan.technique)), plan.technique, strict=False):
        yield Text(label, "bold"), Text.assemble(one.sentence, _source(one))


def _findings(plan: DrawPlan) -> Lines:
    told = {one.subject for one in plan.findings if one.code == "test-not-drawn"}
    for missing in plan.not_drawn:
        if missing.test in told:  # said once, below
            continue
        yield (
            Text("NOT DRAWN", "bold red"),
            Text.assemble(f"{missing.test}: {missing.reason.sentence}", _source(missing.reason)),
        )
    for one in plan.findings:
        label = Text(one.severity.upper(), STYLES[one.severity])
        if one.code == "test-not-drawn":
            label = Text("NOT DRAWN", "bold red")
        yield label, Text.assemble(one.sentence, _source(one))


def _choices(plan: DrawPlan) -> Lines:
    if plan.choices:
        chosen = ", ".join(f"{topic}={option}" for topic, option in plan.choices)
        yield Text("chosen", "dim"), Text(f"where sources disagree: {chosen}", "dim")


def _source(said: Reason | Finding) -> tuple[str, str]:
    return f" [{_cite(said.source, said.layer)}]", "dim"


def _cite(source: str, layer: str) -> str:
    return source if layer == "shipped" else f"{source}, {layer}"


def _reasons(plan: DrawPlan) -> Iterator[tuple[str, Reason]]:
    for one in plan.containers:
        for reason in one.reasons:
            yield f"{one.position} {one.container}", reason
        for test in one.tests:
            yield f"{one.position} {test.code}", test.reason
    for reason in plan.device.reasons:
        yield "device", reason
    for reason in plan.allowance.reasons:
        yield "blood", reason
    for site in plan.sites:
        yield f"{site.site} {site.side}".strip(), site.reason
    for reason in plan.technique:
        yield "how", reason
    for missing in plan.not_drawn:
        yield f"not drawn: {missing.test}", missing.reason


def _why(console: Console, plan: DrawPlan, catalogue: Catalogue) -> None:
    table = Table(box=SIMPLE_HEAD, pad_edge=False)
    for name in ("line", "why", "source"):
        table.add_column(name)
    cited: dict[str, None] = {}
    for line, reason in _reasons(plan):
        table.add_row(line, reason.sentence, _cite(reason.source, reason.layer))
        cited[reason.source] = None
    for found in plan.findings:
        cited[found.source] = None
    console.print(table)
    for key in cited:
        source = catalogue.sources[key]
        year = f", {source.year}" if source.year else ""
        part = f", {source.part}" if source.part else ""
        console.print(f"{key}: {source.title}{year}{part} ({source.basis})", style="dim")
