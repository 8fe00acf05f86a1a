"""Add-on tests: specimens of the bench as the draw room wants them, and its answer."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime

from cubital.bench.programmes import NO_CHOICES
from cubital.bench.values import BenchSpecimen
from cubital.catalogue import Catalogue
from cubital.draw import AddOn, OnHand, Place, add_on
from cubital.requisition.values import Requisition


def on_hand(specimen: BenchSpecimen, left_ul: int, *, cooling: str = "ambient") -> OnHand:
    """
    Give a blood specimen as it stands to the question of add-on tests.

    Args:
        specimen: of blood, with its container.
        left_ul: what is left: blood while unseparated, serum or plasma once spun.
        cooling: how it travelled: ``ambient``, ``ice`` or ``warm``.
    """
    return OnHand(
        accession=specimen.code,
        container=specimen.container,
        collected_at=specimen.collected_at,
        volume_left_ul=left_ul,
        spun_at=specimen.spun_at,
        condition=specimen.condition,
        cooling=cooling,
        tests=specimen.tests,
        received_at=specimen.here_from,
    )


def add_from_hand(
    requisition: Requisition,
    specimens: Iterable[tuple[BenchSpecimen, int]],
    catalogue: Catalogue,
    choices: Mapping[str, str] = NO_CHOICES,
    *,
    now: datetime,
) -> AddOn:
    """
    Answer which new tests need no new needle stick, from what is left and how old it is.

    Args:
        requisition: the new tests and the patient, whose specimens these must be.
        specimens: each with what is left of it; those still on their way are left out.
        catalogue: whose rules hold.
        choices: topic -> option.
        now: when the tests would be added.

    Raises:
        InputError: as :func:`cubital.draw.add_on`.
    """
    here = [
        on_hand(one, left)
        for one, left in specimens
        if one.material == "blood" and one.here_from <= now
    ]
    return add_on(requisition, here, catalogue, Place(choices=choices), now=now)
