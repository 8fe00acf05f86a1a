"""What fits into a short sample: one number in, the core's answer out."""

from __future__ import annotations

from dataclasses import dataclass

from cubital.desk import words
from cubital.desk.draw.page import Said, Tube, Why, said, tube, why
from cubital.desk.draw.planning import scene_at
from cubital.desk.record.models import Requisition
from cubital.desk.requisition.typed import scaled
from cubital.draw import what_fits
from cubital.errors import InputError


@dataclass(frozen=True, slots=True)
class ShortAnswer:
    """What a short sample still gives."""

    obtained: str
    used: str
    left: str
    tubes: tuple[Tube, ...]
    not_done: tuple[tuple[str, Why], ...]
    findings: tuple[Said, ...]


def short_answer(row: Requisition, typed: str) -> ShortAnswer:
    """
    Ask the core.

    Raises:
        InputError: no volume, or one that cannot be.
    """
    obtained = scaled(typed, "Blood obtained", "3.4, in mL", words.UL_PER_ML)
    if obtained is None:
        raise InputError("Nothing was written", "Blood obtained", "Write mL, for example 3.4.")
    scene = scene_at(row.place)
    answer = what_fits(row.to_domain(), obtained, scene.catalogue, scene.place, now=scene.now)
    # what is left out stands in its own list already
    others = [each for each in answer.findings if each.code != "short-sample"]
    return ShortAnswer(
        obtained=words.ml(answer.obtained_ul),
        used=words.ml(answer.used_ul),
        left=words.ml(answer.left_ul),
        tubes=tuple(tube(each, scene.catalogue) for each in answer.containers),
        not_done=tuple(
            (scene.catalogue.tests[each.test].name, why(each.reason, scene.catalogue))
            for each in answer.not_done
        ),
        findings=said(others, scene.catalogue),
    )
