"""Which new tests the blood already drawn can serve: the form, and the core's answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.utils import timezone

from cubital.desk import words
from cubital.desk.draw.page import Said, Why, said, tube, why
from cubital.desk.draw.planning import Planned, scene_at
from cubital.desk.record import selectors
from cubital.desk.record.models import Requisition
from cubital.desk.requisition.typed import moment, scaled
from cubital.draw import OnHand, add_on
from cubital.draw.drawn import drawn_specimens
from cubital.errors import InputError
from cubital.requisition.expand import Asked, expand

CONDITIONS = (("room", "at room temperature"), ("fridge", "in the fridge"), ("frozen", "frozen"))


@dataclass(frozen=True, slots=True)
class AddOnAnswer:
    """Which new tests need no new needle stick."""

    added: tuple[tuple[str, str, datetime, tuple[Why, ...]], ...]
    needs_draw: tuple[tuple[str, Why], ...]
    findings: tuple[Said, ...]


def add_on_form(row: Requisition, planned: Planned, data: Mapping[str, str]) -> dict[str, Any]:
    """What the form of the add-on question shows: the tubes as planned, and what was typed."""
    catalogue = planned.catalogue
    names = {each.position: tube(each, catalogue) for each in planned.plan.containers}
    at = min(timezone.localtime(row.collect_at), timezone.localtime())
    return {
        "add_tubes": [
            {
                "position": position,
                "name": f"{names[position].container}, {names[position].colour}",
                "planned": words.ml(each.volume_left_ul),
                "left": data.get(f"left-{position}", ""),
                "spun": data.get(f"spun-{position}") == "on",
            }
            for position, each in specimens_of(row, planned, at)
        ],
        "add_test": data.get("add_test", ""),
        "drawn_date": data.get("drawn_date", f"{at:%Y-%m-%d}"),
        "drawn_time": data.get("drawn_time", f"{at:%H:%M}"),
        "arrived_time": data.get("arrived_time", ""),
        "spun_time": data.get("spun_time", ""),
        "condition": data.get("condition", "room"),
        "conditions": CONDITIONS,
        "all_tests": [
            *(panel.name for panel in catalogue.panels.values()),
            *(test.name for test in catalogue.tests.values()),
        ],
    }


def specimens_of(
    row: Requisition, planned: Planned, collected_at: datetime
) -> list[tuple[int, OnHand]]:
    """The specimens of the plan with their places in the rack."""
    numbers = selectors.accessions(row)
    found = drawn_specimens(planned.plan, collected_at, numbers)
    places = [c.position for c in planned.plan.containers if c.purpose == "specimen"]
    return list(zip(places, found, strict=True))


def add_on_answer(row: Requisition, planned: Planned, data: Mapping[str, str]) -> AddOnAnswer:
    """
    Ask the core.

    Raises:
        InputError: no test of that name, a volume or time that cannot be read.
    """
    catalogue = planned.catalogue
    zone = ZoneInfo(row.place.time_zone)
    name = data.get("add_test", "").strip()
    if not name:
        raise InputError("Nothing was written", "Test to add", "Write or choose a test.")
    drawn = moment(data.get("drawn_date", ""), data.get("drawn_time", ""), zone, "drawn at")
    specimens = [
        as_typed(position, each, data, zone) for position, each in specimens_of(row, planned, drawn)
    ]
    asked = replace(
        planned.requisition,
        tests=expand([Asked(name, where="Test to add")], catalogue),
    )
    scene = scene_at(row.place)
    answer = add_on(asked, specimens, catalogue, scene.place, now=scene.now)
    others = [each for each in answer.findings if each.code != "add-on-draw"]
    return AddOnAnswer(
        added=tuple(
            (
                catalogue.tests[each.test].name,
                f"{each.accession} ({catalogue.containers[each.container].name})",
                each.use_by.astimezone(zone),
                tuple(why(reason, catalogue) for reason in each.reasons),
            )
            for each in answer.added
        ),
        needs_draw=tuple(
            (catalogue.tests[each.test].name, why(each.reason, catalogue))
            for each in answer.needs_draw
        ),
        findings=said(others, catalogue),
    )


def as_typed(position: int, planned: OnHand, data: Mapping[str, str], zone: ZoneInfo) -> OnHand:
    """
    A specimen as somebody at the bench says it is; what they leave empty is as planned.

    Raises:
        InputError: a volume or time that cannot be read, or a spun tube of unknown volume.
    """
    what = f"mL left in tube {position}"
    left = scaled(data.get(f"left-{position}", ""), what, "1.2, in mL", words.UL_PER_ML)
    day = data.get("drawn_date", "")
    spun_at = None
    if data.get(f"spun-{position}") == "on":
        if left is None:
            raise InputError(
                f"Tube {position} is spun", what, "Write how many mL of serum or plasma it holds."
            )
        spun_at = moment(day, data.get("spun_time", ""), zone, "spun at")
    arrived = data.get("arrived_time", "").strip()
    return replace(
        planned,
        volume_left_ul=planned.volume_left_ul if left is None else left,
        condition=data.get("condition", "room"),
        received_at=moment(day, arrived, zone, "arrived at") if arrived else None,
        spun_at=spun_at,
    )
