"""
``cubital labels``: the labels of a requisition's containers as a PDF.
"""

from __future__ import annotations

from pathlib import Path

import click

from cubital.accession import accession_number
from cubital.catalogue import Catalogue
from cubital.catalogue.model import LabelSize
from cubital.catalogue.table import nearest
from cubital.cli import common
from cubital.draw import Place, plan_draw
from cubital.errors import InputError
from cubital.labels import Label, labels_for, print_labels


@click.command()
@click.argument("requisition", type=click.Path(path_type=Path))
@click.option("--size", default="50x25", show_default=True, help="Paper, of label_sizes.csv.")
@click.option("--out", type=click.Path(path_type=Path), required=True, metavar="FILE.pdf")
@click.option("--site", required=True, help="Two characters that begin every accession number.")
@click.option(
    "--serial",
    type=click.IntRange(1, 9999),
    default=1,
    show_default=True,
    help="Number of the day of the first container; keep them apart by hand, or use the desk.",
)
@click.option("--first", default=0, help="Places to leave empty on a sheet already begun.")
@click.option("--collector", default="", help="Code or initials.")
@click.option("--drawn", "collected", metavar="TIME", help="When the blood was drawn.")
@common.with_catalogue
@common.with_choices
@common.with_clock
@common.with_place
def labels(
    requisition: Path,
    size: str,
    out: Path,
    site: str,
    serial: int,
    first: int,
    collector: str,
    collected: str | None,
    folders: tuple[Path, ...],
    chosen: tuple[str, ...],
    moment: str | None,
    zone: str | None,
    altitude_m: int,
    profile: str,
    route: str | None,
) -> None:
    """
    Print the labels of the containers that the draw plan wants.

    One label a container, in the order of draw, with accession numbers of the site and the day.
    """
    catalogue = common.catalogue_of(folders)
    paper = _paper(size, catalogue)
    place = Place(
        altitude_m=altitude_m,
        order_profile=profile,
        choices=common.choices_of(chosen, catalogue),
        route=route or "",
    )
    now = common.now_of(moment, zone)
    drawn = None if collected is None else common.now_of(collected, zone, "--drawn")
    wanted: list[Label] = []
    for one in common.requisitions_in(requisition, catalogue, now):
        plan = plan_draw(one, catalogue, place, now=now)
        count = sum(container.label_wanted for container in plan.containers)
        start = serial + len(wanted)
        numbers = [accession_number(site, now.date(), start + at) for at in range(count)]
        wanted += labels_for(plan, one, catalogue, numbers, collected_at=drawn, collector=collector)
    common.write_file(out, print_labels(wanted, paper, first=first))
    click.echo(f"{len(wanted)} labels of {paper.name} in {out}")


def _paper(size: str, catalogue: Catalogue) -> LabelSize:
    paper = catalogue.label_sizes.get(size)
    if paper is None:
        close = nearest(size, catalogue.label_sizes)
        mend = f"Write {close}." if close else f"Write one of {', '.join(catalogue.label_sizes)}."
        raise InputError(f"no label size is called “{size}”", "--size", mend)
    return paper
