"""
``cubital plan``: from a requisition to what the collector needs.
"""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path

import click

from cubital.catalogue import Catalogue
from cubital.cli import common
from cubital.draw import Place, plan_draw
from cubital.draw.shape import plan_to
from cubital.errors import InputError


@click.command()
@click.argument("requisition", type=click.Path(path_type=Path), required=False)
@click.option("--json", "as_json", is_flag=True, help="Print the shape cubital.plan/1.")
@click.option("--why", is_flag=True, help="Print the reason and source of each line.")
@click.option(
    "--batch",
    type=click.Path(path_type=Path),
    metavar="FILE.csv",
    help="Plan every row of a long CSV on all cores, one line of JSON each.",
)
@click.option(
    "--out", type=click.Path(path_type=Path), metavar="FILE.jsonl", help="Where --batch writes."
)
@click.option(
    "--jobs", type=click.IntRange(1, 256), help="Processes of --batch; as many as cores if none."
)
@common.with_catalogue
@common.with_choices
@common.with_clock
@common.with_place
def plan(
    requisition: Path | None,
    as_json: bool,
    why: bool,
    batch: Path | None,
    out: Path | None,
    jobs: int | None,
    folders: tuple[Path, ...],
    chosen: tuple[str, ...],
    moment: str | None,
    zone: str | None,
    altitude_m: int,
    profile: str,
    route: str | None,
) -> None:
    """
    Plan the draw of the requisitions in a JSON or CSV file.

    The rack in its order with fills, mixing and tests, the device, the sites, and what must be
    known before the needle.  Exit code 2 when something given cannot be used.
    """
    if (requisition is None) == (batch is None):
        raise InputError(
            "no requisition is given" if batch is None else "two files are given",
            mend="Give one file, or --batch with a CSV file.",
        )
    if batch is None and (out is not None or jobs is not None):
        raise InputError(
            "--out and --jobs belong to --batch",
            mend="Leave them out, or send the plan to a file: cubital plan … --json > FILE.",
        )
    catalogue = common.catalogue_of(folders)
    place = Place(
        altitude_m=altitude_m,
        order_profile=profile,
        choices=common.choices_of(chosen, catalogue),
        route=route or "",
    )
    now = common.now_of(moment, zone)
    if batch is not None:
        from cubital.cli.batch import run_batch
        from cubital.cli.batch_rows import Batch

        wanted = Batch(folders=folders, place=place, now=now, whole=as_json)
        if run_batch(batch, out, wanted, jobs):
            raise SystemExit(2)
    elif requisition is not None:
        _plan_file(requisition, catalogue, place, now, as_json=as_json, why=why)


def _plan_file(
    path: Path, catalogue: Catalogue, place: Place, now: datetime, *, as_json: bool, why: bool
) -> None:
    requisitions = common.requisitions_in(path, catalogue, now)
    plans = [plan_draw(one, catalogue, place, now=now) for one in requisitions]
    if as_json:
        documents = [plan_to(one, catalogue) for one in plans]
        document = documents[0] if len(documents) == 1 else documents
        click.echo(json.dumps(document, ensure_ascii=False, indent=2))
        return
    from cubital.cli.show_plan import show_plan

    for one, planned in zip(requisitions, plans, strict=True):
        show_plan(planned, one, catalogue, place, why=why)
