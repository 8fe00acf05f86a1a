"""The specimens on the page of a patient: their trees, and the question of one more test."""

from __future__ import annotations

from typing import Any

from cubital.desk.bench.added import form_context
from cubital.desk.bench.board import MAY_LOOK
from cubital.desk.bench.kin import patient_trees
from cubital.desk.bench.known import scene_at
from cubital.desk.people.request import DeskRequest

MOST_TREES = 20


def specimens_context(request: DeskRequest, number: str) -> dict[str, Any]:
    """What the page of a patient shows of their specimens; links for those who may follow them."""
    scene = scene_at(request.place)
    return {
        "trees": patient_trees(number, scene, most=MOST_TREES),
        "most_trees": MOST_TREES,
        "linked": request.user.role in MAY_LOOK,
        **form_context(scene, number),
    }
