"""From a requisition on record to its draw plan: load, call the core, hand on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.utils import timezone

from cubital.catalogue import Catalogue
from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.record import selectors
from cubital.desk.record.answers import Answered, answers_of
from cubital.desk.record.models import Place, Requisition
from cubital.desk.record.overrides import Override, overrides_of
from cubital.draw import plan_draw
from cubital.draw.values import DrawPlan
from cubital.draw.values import Place as DomainPlace
from cubital.errors import CatalogueError, InputError
from cubital.finding import Finding, Severity
from cubital.requisition import missing
from cubital.requisition.values import Requisition as DomainRequisition

LIMIT_CONFIRM = "blood-limit-confirm"
"""The finding that asks whether more blood may be drawn than the limit that asks leaves."""


@dataclass(frozen=True, slots=True)
class Planned:
    """A requisition with its plan, everything that was found, and what was answered already."""

    requisition: DomainRequisition
    plan: DrawPlan
    findings: tuple[Finding, ...]
    catalogue: Catalogue
    overrides: Mapping[str, Override] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Counted:
    """How many findings of each severity nobody has answered, or why there is no plan."""

    stop: int = 0
    ask: int = 0
    note: int = 0
    refused: str = ""


@dataclass(frozen=True, slots=True)
class Scene:
    """Where and when a plan is made: a place as the draw room takes it, its catalogue, now."""

    place: DomainPlace
    catalogue: Catalogue
    now: datetime


def scene_at(place: Place) -> Scene:
    """
    Take a place's policy, stock and catalogue.

    Raises:
        CatalogueError: the place's own tables cannot be used.
    """
    lots = selectors.lots(place) if place.keeps_stock else ()
    zone = ZoneInfo(place.time_zone)
    return Scene(
        place.to_domain(lots), catalogue_at(place.catalogue_folder), timezone.now().astimezone(zone)
    )


def plan_for(row: Requisition, scene: Scene | None = None) -> Planned:
    """
    Plan the draw of one requisition at its own place.

    Raises:
        InputError: it cannot be planned at all; the sentence says why.
        CatalogueError: the place's own tables cannot be used.
    """
    scene = scene or scene_at(row.place)
    others = selectors.others_near([row], twice_within(scene.catalogue))
    overrides = overrides_of([row]).get(row.number, {})
    answered = answers_of([row]).get(row.number)
    return planned(row, scene, others.get(row.patient_id, []), overrides, answered)


def planned(
    row: Requisition,
    scene: Scene,
    others: Iterable[Requisition],
    overrides: Mapping[str, Override],
    answered: Answered | None = None,
) -> Planned:
    """
    Call the core for one requisition whose neighbours are known.

    Args:
        row: as entered.
        scene: where and when.
        others: near it in time.
        overrides: what somebody went past, with a reason.
        answered: the preparation as it was changed later; None when it stands as entered.
    """
    requisition = row.to_domain()
    if answered is not None:
        requisition = replace(requisition, answers=answered.answers)
    plan = plan_draw(
        requisition,
        scene.catalogue,
        scene.place,
        now=scene.now,
        limit_confirmed=LIMIT_CONFIRM in overrides,
    )
    earlier = [other.to_domain() for other in others if other.pk != row.pk]
    more = missing(requisition, scene.catalogue, earlier=earlier)
    found = dict.fromkeys((*plan.findings, *more))
    return Planned(requisition, plan, tuple(found), scene.catalogue, overrides)


def twice_within(catalogue: Catalogue) -> timedelta:
    """Within which time the same test of the same patient counts as asked for twice."""
    return timedelta(hours=catalogue.decimal("duplicate_window_h"))


def counts(rows: Collection[Requisition], place: Place) -> dict[str, Counted]:
    """Count the findings of many requisitions of one place, by requisition number."""
    scene = scene_at(place)
    others = selectors.others_near(rows, twice_within(scene.catalogue))
    overrides, said = overrides_of(rows), answers_of(rows)
    found: dict[str, Counted] = {}
    for row in rows:
        answered = overrides.get(row.number, {})
        try:
            near = others.get(row.patient_id, [])
            made = planned(row, scene, near, answered, said.get(row.number))
        except CatalogueError:
            raise
        except InputError as refused:
            found[row.number] = Counted(refused=str(refused))
            continue
        still = (f for f in made.findings if f.severity != Severity.ASK or f.code not in answered)
        tally = Counter(str(each.severity) for each in still)
        found[row.number] = Counted(stop=tally["stop"], ask=tally["ask"], note=tally["note"])
    return found
